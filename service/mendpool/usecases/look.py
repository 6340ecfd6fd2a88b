"""Look around: read one report, list them newest first, or find them by likeness."""

import base64
import binascii
import hashlib
import hmac
import json
from itertools import islice
from typing import TYPE_CHECKING, Any
from uuid import UUID

from pydantic import ValidationError

from mendpool.core.catalogue.codes import check_filters, check_question
from mendpool.core.diagnosis.likeness import Liker
from mendpool.core.errors import Complaint, RefusedInput
from mendpool.core.evidence.case import Case
from mendpool.core.record.machine import Machine
from mendpool.core.record.report import Question
from mendpool.store.values import Member, ReportFilters, StoredReport
from mendpool.usecases.photographs import photos_told, photos_told_of
from mendpool.usecases.workplace import Workplace, view

if TYPE_CHECKING:
    from collections.abc import Mapping

LIMIT, LIMIT_MOST, FOUND_MOST = 25, 100, 300
_NARROWED_MOST = 3000
"""Where a search by words is narrowed, so many of the most alike are looked through."""


class BadCursor(RefusedInput):
    """A cursor that this service did not make for these filters."""


def read_report(place: Workplace, member: Member, report_id: UUID) -> dict[str, Any]:
    """Return one report with its follow-ups and what there is of photographs.

    Raises:
        NotFound, Withdrawn: see the store.
    """
    return {**view(place.store.get_report(report_id), member), **photos_told(place, report_id)}


def list_reports(
    place: Workplace,
    member: Member | None,
    filters: ReportFilters,
    limit: int,
    cursor: str | None,
) -> dict[str, Any]:
    """Return a page of reports, newest first; a member's own with their photographs told.

    Raises:
        RefusedInput: a filter with an unknown code.
        BadCursor: a cursor of other filters, or one tampered with.
    """
    _check_filters(place, filters)
    before = None if cursor is None else _opened(place, cursor, filters)
    limit = min(limit, LIMIT_MOST)
    page = place.store.list_reports(filters, before, limit + 1)
    shown, more = page[:limit], len(page) > limit
    items = [view(report, member) for report in shown]
    if filters.member_id is not None:
        # Only of one's own: a list of others' is to be read, not to be gone on with.
        photos = photos_told_of(place, [report.id for report in shown])
        items = [
            {**item, **photos(report.id)} for item, report in zip(items, shown, strict=True)
        ]
    return {
        "items": items,
        "next": _sealed(place, shown[-1].seq, filters) if more else None,
    }


def find_reports(
    place: Workplace, member: Member | None, words: str, filters: ReportFilters, limit: int
) -> dict[str, Any]:
    """Return the reports most like some words, best first; no cursor."""
    _check_filters(place, filters)
    machine = Machine(fuel=filters.fuel, excitation=filters.excitation)
    try:
        question = Question(machine=machine, complaint=words)
    except ValidationError:
        raise RefusedInput([Complaint("/q", "no words that can be looked for")]) from None
    check_question(question, place.catalogue)
    engine = place.learned.engine
    understood = engine.understand(question)
    narrowed = filters != ReportFilters()
    most = _NARROWED_MOST if narrowed else FOUND_MOST
    found = place.learned.search(engine.search_terms(understood), most)
    liker = Liker(understood.facts, engine.weights)

    def may_fit(case: Case) -> bool:
        """Tell by what the index knows of it; a report says the last word."""
        return (
            filters.outcome in (None, case.outcome)
            and filters.fuel in (None, case.kind.get("fuel"))
            and filters.excitation in (None, case.kind.get("excitation"))
        )

    scored = zip(liker.scores(found.cases), found.cases, strict=True)
    ranked = sorted((-score, case.id) for score, case in scored if score and may_fit(case))
    items: list[dict[str, Any]] = []
    # Mostly the first few hundred hold enough; only a narrow search reads on.
    for some in (ranked[:FOUND_MOST], ranked[FOUND_MOST:]):
        wanted = min(limit, FOUND_MOST) - len(items)
        if wanted and some:
            held = {str(r.id): r for r in place.store.get_reports(UUID(n) for _, n in some)}
            kept = ((held.get(name), -less) for less, name in some)
            fitting = (
                {"similarity": score, **view(report, member)}
                for report, score in kept
                if report is not None and _fits(report, filters)
            )
            items += islice(fitting, wanted)
    return {"items": items, "next": None}


def _fits(report: StoredReport, filters: ReportFilters) -> bool:
    body = json.loads(report.body)
    machine = body.get("machine", {})
    touched = {a["component"] for a in body.get("attempts", ())}
    touched |= {c["component"] for c in [body.get("cause"), *body.get("causes", ())] if c}
    return (
        (filters.symptom is None or filters.symptom in body.get("symptoms", ()))
        and (filters.component is None or filters.component in touched)
        and (filters.fuel is None or machine.get("fuel") == filters.fuel)
        and (filters.excitation is None or machine.get("excitation") == filters.excitation)
        and (filters.outcome is None or body.get("outcome") == filters.outcome)
    )


def _check_filters(place: Workplace, filters: ReportFilters) -> None:
    v = place.catalogue.vocabulary
    known: Mapping[str, tuple[str | None, Mapping[str, Any]]] = {
        "symptom": (filters.symptom, v.symptoms),
        "component": (filters.component, v.components),
        "fuel": (filters.fuel, v.machine["fuel"]),
        "excitation": (filters.excitation, v.machine["excitation"]),
        "outcome": (filters.outcome, v.outcomes),
    }
    check_filters(known)


def _sealed(place: Workplace, seq: int, filters: ReportFilters) -> str:
    body = f"{seq}|{filters!r}".encode()
    seal = hmac.new(place.key, b"cursor|" + body, hashlib.sha256).digest()[:16]
    return base64.urlsafe_b64encode(str(seq).encode() + b"." + seal).decode().rstrip("=")


def _opened(place: Workplace, cursor: str, filters: ReportFilters) -> int:
    refused = BadCursor([Complaint("/cursor", "not a cursor of this list; start without one")])
    try:
        raw = base64.urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4))
        seq = int(raw.split(b".", 1)[0])
    except (ValueError, binascii.Error):
        raise refused from None
    if not hmac.compare_digest(_sealed(place, seq, filters), cursor):
        raise refused
    return seq
