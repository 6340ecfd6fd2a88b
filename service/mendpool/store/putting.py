"""Puts many reports at once: the same statements however many they are.

Looks first and writes then; that is safe because a writer has the database to itself. A
report that is refused is refused alone, before anything of it is written.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime
from uuid import UUID

from sqlalchemy import Connection, bindparam, insert, select

from mendpool.core.errors import Conflict, MendpoolError, NotFound, Withdrawn
from mendpool.store.direct import Added, Asked
from mendpool.store.lines import LAST, add_lines_at, last_number
from mendpool.store.report_rows import followups_of, report_of
from mendpool.store.room import AnyRow
from mendpool.store.tables import MEMBER, REPORT, REPORT_COMPONENT, REPORT_SYMPTOM
from mendpool.store.values import NewReport, PutResult, StoredReport

_HELD = select(REPORT, MEMBER.c.pseudonym).join(MEMBER, MEMBER.c.id == REPORT.c.member_id)
_PSEUDONYM = select(MEMBER.c.pseudonym).where(MEMBER.c.id == bindparam("member_id"))
_ONE_NEW = Asked(
    select(
        select(REPORT.c.id).where(REPORT.c.id == bindparam("report_id")).exists().label("held"),
        LAST.scalar_subquery().label("number"),
        _PSEUDONYM.scalar_subquery().label("name"),
    )
)
"""All that is looked at where one report is put that is not there yet, as most are."""
_HELD_SOME = _HELD.where(REPORT.c.id.in_(bindparam("report_ids", expanding=True)))
_PSEUDONYMS = select(MEMBER.c.id, MEMBER.c.pseudonym).where(
    MEMBER.c.id.in_(bindparam("some", expanding=True))
)
_ADD_REPORT = Added(
    insert(REPORT),
    (
        "id", "seq", "member_id", "received_at", "sameness", "body", "case_body",
        "derived_version", "fuel", "excitation", "outcome", "happened",
    ),
)  # fmt: skip
_ADD_SYMPTOM = Added(insert(REPORT_SYMPTOM), ("symptom", "report_seq"))
_ADD_COMPONENT = Added(insert(REPORT_COMPONENT), ("component", "report_seq"))

Outcome = PutResult[StoredReport] | MendpoolError


def put_all(
    connection: Connection, given: Sequence[tuple[NewReport, datetime]]
) -> list[Outcome]:
    """Keep reports, each with when it came, and announce them in the feed.

    Returns:
        For each in order what a put finds (see `ReportWriting.put_report`), or why it is
        refused.
    """
    held, number, names = _looked_at(connection, [new for new, _ in given])
    fresh: dict[UUID, tuple[NewReport, StoredReport]] = {}
    outcomes: list[Outcome] = []
    for new, now in given:
        if new.report_id in held:
            outcomes.append(_same(connection, held[new.report_id], new))
        elif new.report_id in fresh:
            first, kept = fresh[new.report_id]
            same = (first.member_id, first.sameness) == (new.member_id, new.sameness)
            outcomes.append(PutResult(created=False, record=kept) if same else Conflict())
        elif new.member_id not in names:
            outcomes.append(NotFound())
        else:
            number += 1
            kept = StoredReport(
                new.report_id, number, new.member_id, names[new.member_id], now, new.body
            )
            fresh[new.report_id] = (new, kept)
            outcomes.append(PutResult(created=True, record=kept))
    if fresh:
        _add(connection, list(fresh.values()))
    return outcomes


def put_one(connection: Connection, new: NewReport, now: datetime) -> PutResult[StoredReport]:
    """Keep a report within a write that is under way; see `ReportWriting.put_report`."""
    (outcome,) = put_all(connection, [(new, now)])
    if isinstance(outcome, MendpoolError):
        raise outcome
    return outcome


def _looked_at(
    connection: Connection, given: Sequence[NewReport]
) -> tuple[Mapping[UUID, AnyRow], int, Mapping[int, str]]:
    """The reports that are there, the feed's last number, and who sends the others."""
    if len(given) == 1:
        (new,) = given
        asked = {"report_id": new.report_id, "member_id": new.member_id}
        held, number, name = _ONE_NEW.first(connection, asked)
        if not held:
            return {}, int(number), {} if name is None else {new.member_id: str(name)}
    rows = connection.execute(_HELD_SOME, {"report_ids": [new.report_id for new in given]})
    there = {row.id: row for row in rows}
    fresh = {new.member_id for new in given if new.report_id not in there}
    if not fresh:
        return there, 0, {}
    number = last_number(connection)
    named = connection.execute(_PSEUDONYMS, {"some": list(fresh)})
    return there, number, {row.id: str(row.pseudonym) for row in named}


def _same(connection: Connection, held: AnyRow, new: NewReport) -> Outcome:
    if held.withdrawn_at is not None:
        return Withdrawn()
    if (held.member_id, held.sameness) != (new.member_id, new.sameness):
        return Conflict()
    return PutResult(created=False, record=report_of(held, followups_of(connection, [held.id])))


def _add(connection: Connection, fresh: Sequence[tuple[NewReport, StoredReport]]) -> None:
    _ADD_REPORT.add(connection, [_row(new, kept) for new, kept in fresh])
    symptoms = [
        {"symptom": code, "report_seq": kept.seq}
        for new, kept in fresh
        for code in sorted(set(new.facets.symptoms))
    ]
    components = [
        {"component": code, "report_seq": kept.seq}
        for new, kept in fresh
        for code in sorted(set(new.facets.components))
    ]
    if symptoms:
        _ADD_SYMPTOM.add(connection, symptoms)
    if components:
        _ADD_COMPONENT.add(connection, components)
    add_lines_at(
        connection, [(kept.seq, "report", str(kept.id), kept.received) for _, kept in fresh]
    )


def _row(new: NewReport, kept: StoredReport) -> dict[str, object]:
    facets = new.facets
    return {
        "id": new.report_id,
        "seq": kept.seq,
        "member_id": new.member_id,
        "received_at": kept.received,
        "sameness": new.sameness,
        "body": new.body,
        "case_body": new.case_body,
        "derived_version": new.derived_version,
        "fuel": facets.fuel,
        "excitation": facets.excitation,
        "outcome": facets.outcome,
        "happened": facets.happened,
    }
