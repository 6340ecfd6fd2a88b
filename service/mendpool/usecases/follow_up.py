"""Follow up: say months later whether a repair held. And take a report back."""

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from mendpool.core.catalogue.caution_texts import advice_shown
from mendpool.core.catalogue.codes import check_followup
from mendpool.core.diagnosis.derive import advice_in_texts
from mendpool.core.record.machine import Machine
from mendpool.core.record.report import Followup
from mendpool.store.values import Member
from mendpool.usecases.file_report import check_month
from mendpool.usecases.workplace import Body, Workplace, sameness


@dataclass(frozen=True, slots=True)
class Followed:
    """A follow-up as kept; `created` is False when the very same was there already."""

    created: bool
    followup: dict[str, Any]


def follow_up(  # noqa: PLR0913, PLR0917 - one argument for each part of the sentence
    place: Workplace,
    member: Member,
    report_id: UUID,
    followup_id: UUID,
    body: Body,
    followup: Followup,
    now: datetime,
) -> Followed:
    """Keep a follow-up from the report's contributor or a steward.

    Raises:
        RefusedInput: an unknown state, a month still to come.
        NotFound, NotAllowed, Withdrawn, Conflict: see the store.
    """
    kept_body = prepared_followup(place, followup, now)
    put = place.store.put_followup(
        report_id,
        followup_id,
        member.id,
        member.role == "steward",
        sameness(place, body),
        kept_body,
        now,
    )
    kept = {"id": str(followup_id), "report": str(report_id), **json.loads(put.record.body)}
    return Followed(put.created, kept)


def prepared_followup(place: Workplace, followup: Followup, now: datetime) -> str:
    """Return a follow-up as it is kept, checked and scrubbed.

    Raises:
        RefusedInput: an unknown state, a month still to come.
    """
    check_followup(followup, place.catalogue)
    check_month("/happened", followup.happened, now)
    raw = followup.model_dump(mode="json", exclude_unset=True, exclude_none=True)
    clean, removed = place.scrub(raw)
    reader = place.learned.engine.plain_reader
    advice = advice_in_texts([clean.get("note")], Machine(), reader)
    made: dict[str, list[Any]] = {
        name: [caution.model_dump() for caution in cautions]
        for name, cautions in advice_shown(place.catalogue, sorted(advice)).items()
    }
    if advice:
        made["advice"] = sorted(advice)
    return json.dumps(
        {**clean, **made, "removed": removed}, ensure_ascii=False, separators=(",", ":")
    )


def forget_member(place: Workplace, name: str, now: datetime) -> int:
    """Erase all that a member filed, and who it was; the next fit is made at once.

    Returns:
        How many reports were erased.

    Raises:
        NotFound: there is no member of that name.
    """
    erased = place.store.forget_member(name, now)
    if erased:
        place.learned.fit_if_due(now, at_once=True, then=place.store.erase_remnants)
    else:
        place.store.erase_remnants()
    return erased


def withdraw(
    place: Workplace,
    member: Member,
    report_id: UUID,
    now: datetime,
    reason: str | None = None,
) -> None:
    """Erase a report for its contributor or a steward; the next fit is made at once.

    `reason` is a steward's, and stays in the trail.

    The database is rewritten without it, so that its bytes are gone and not only its rows.

    Raises:
        NotFound, NotAllowed: see the store.
    """
    if place.store.withdraw(report_id, member.id, member.role == "steward", now, reason):
        place.learned.fit_if_due(now, at_once=True, then=place.store.erase_remnants)
