"""What somebody sends who was invited."""

from typing import Annotated

from pydantic import Field

from mendpool.core.record.fields import Record


class Joining(Record):
    """An invitation's code, which makes a member once."""

    code: Annotated[str, Field(strict=True, min_length=1, max_length=200)]
