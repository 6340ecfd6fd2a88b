"""File a report: understand it, take out what names anyone, keep it, learn from it."""

import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from mendpool.core.catalogue.codes import check_report
from mendpool.core.diagnosis.derive import Derived, derive, derived_version
from mendpool.core.diagnosis.shown import bare
from mendpool.core.errors import Complaint, RefusedInput
from mendpool.core.evidence.case import case_to_text
from mendpool.core.record.report import Report
from mendpool.store.values import Facets, Member, NewReport
from mendpool.usecases.photographs import photos_told
from mendpool.usecases.workplace import GIVEN, Body, Workplace, sameness, view

AHEAD = timedelta(hours=14)
"""The earliest month anywhere on earth is this far ahead of UTC."""


@dataclass(frozen=True, slots=True)
class Filed:
    """A report as kept; `created` is False when the very same was there already."""

    created: bool
    report: dict[str, Any]


def file_report(
    place: Workplace, member: Member, report_id: UUID, body: Body, report: Report, now: datetime
) -> Filed:
    """Keep a report that a member sends.

    Args:
        body: as received, for knowing the same again.
        report: the same, checked for shape.

    Raises:
        RefusedInput: unknown codes, readings not understood, a month in the future.
        Conflict, Withdrawn: see the store.
    """
    put = place.store.put_report(new_report(place, member, report_id, body, report, now), now)
    if put.created:
        place.learned.filed(now)
    photos = {} if put.created else photos_told(place, report_id)
    return Filed(put.created, {**view(put.record, member), **photos})


def new_report(
    place: Workplace, member: Member, report_id: UUID, body: Body, report: Report, now: datetime
) -> NewReport:
    """Return a report ready to be kept with others in one transaction; see `file_report`.

    Raises:
        RefusedInput: unknown codes, readings not understood, a month in the future.
    """
    prepared, derived = _prepared(place, report_id, report, now)
    return NewReport(
        report_id,
        member.id,
        sameness(place, body),
        json.dumps(prepared, ensure_ascii=False, separators=(",", ":")),
        case_to_text(derived.case),
        derived_version(place.catalogue),
        _facets(report, derived),
    )


def preview_report(place: Workplace, report: Report, now: datetime) -> dict[str, Any]:
    """Return what would be kept of a report, and what would be removed; keeps nothing."""
    prepared, _ = _prepared(place, UUID(int=0), report, now)
    shown = {name: value for name, value in prepared.items() if name != GIVEN}
    return {"report": shown, "removed": prepared["removed"]}


def check_month(at: str, month: str | None, now: datetime) -> None:
    """Refuse a month that has not begun anywhere yet.

    Raises:
        RefusedInput: at `at`.
    """
    if month is not None and month > (now + AHEAD).isoformat()[:7]:
        raise RefusedInput(
            [Complaint(at, "this month is still to come; give the month it happened")]
        )


def _prepared(
    place: Workplace, report_id: UUID, report: Report, now: datetime
) -> tuple[dict[str, Any], Derived]:
    check_report(report, place.catalogue)
    check_month("/happened", report.happened, now)
    raw = report.model_dump(mode="json", by_alias=True, exclude_unset=True, exclude_none=True)
    clean, removed = place.scrub(raw)
    # What was left as it is was checked already; a text that grew too long is cut as well.
    scrubbed = report if clean == raw else Report.model_validate(clean)
    engine = place.learned.engine
    derived = derive(str(report_id), scrubbed, engine.plain_reader, engine.knowledge)
    prepared = {
        **clean,
        "symptoms": list(derived.symptoms),
        "readings": [
            bare(j).model_dump(mode="json", exclude_unset=True) for j in derived.readings
        ],
        "cautions": [caution.model_dump(exclude_unset=True) for caution in derived.cautions],
        **({"advice": list(derived.advice)} if derived.advice else {}),
        "removed": removed,
        GIVEN: {name: clean[name] for name in ("symptoms", "readings") if name in clean},
    }
    return prepared, derived


def _facets(report: Report, derived: Derived) -> Facets:
    return Facets(
        fuel=str(report.machine.fuel),
        excitation=report.machine.excitation,
        outcome=report.outcome,
        happened=report.happened,
        symptoms=derived.symptoms,
        components=derived.components,
    )
