"""What a steward sends: whom to invite, and what came of looking at a report."""

from typing import Annotated, Literal

from pydantic import Field

from mendpool.core.record.fields import Record, ShortText, Text

REASON_MOST = 500


class Inviting(Record):
    """Whom to invite: what they will be called here, and whether they are vouched for."""

    name: Annotated[ShortText, Field(min_length=1)]
    vouched: Annotated[bool, Field(strict=True)] = False


class Verdict(Record):
    """What a steward does with a report that was looked at, and why."""

    verdict: Literal["withdraw", "keep"]
    reason: Annotated[Text, Field(min_length=1, max_length=REASON_MOST)]
