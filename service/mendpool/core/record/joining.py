"""What somebody sends who was invited."""

from typing import Annotated

from pydantic import Field

from mendpool.core.record.fields import Record

ATTEMPT = r"^[A-Za-z0-9_-]{22,64}$"
"""128 random bits or more, in letters that go into a URL (RFC 4648 section 5)."""


class Joining(Record):
    """An invitation's code, which makes a member once."""

    code: Annotated[str, Field(strict=True, min_length=1, max_length=200)]


class SigningIn(Joining):
    """A code for a browser's session; said again with the same `attempt`, it is the same one.

    Args:
        attempt: letters the browser drew by chance for this sign-in, 128 bits or more, and told
            nobody else; without it a code whose answer was lost on the way is used up.
    """

    attempt: Annotated[str, Field(strict=True, pattern=ATTEMPT)] | None = None
