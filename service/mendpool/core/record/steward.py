"""What a steward sends: whom to invite, and what came of looking at a report."""

from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from mendpool.core.record.fields import SHORT_MAX, Record, ShortText, Text

REASON_MOST = 500


def _a_name(text: str) -> str:
    """Return a name that can be read, as long as it may be once it is cleaned.

    Raises:
        ValueError: it grew too long in NFC, or holds no letter and no figure.
    """
    if len(text) > SHORT_MAX:
        raise ValueError(f"at most {SHORT_MAX} characters")
    if not any(letter.isalnum() for letter in text):
        raise ValueError("a name has a letter or a figure in it")
    return text


class Inviting(Record):
    """Whom to invite: what they will be called here, and whether they are vouched for."""

    name: Annotated[ShortText, AfterValidator(_a_name)]
    vouched: Annotated[bool, Field(strict=True)] = False


class Verdict(Record):
    """What a steward does with a report that was looked at, and why."""

    verdict: Literal["withdraw", "keep"]
    reason: Annotated[Text, Field(min_length=1, max_length=REASON_MOST)]
