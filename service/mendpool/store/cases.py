"""Derived cases on their way out, by number."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, Select, bindparam, exists, func, select

from mendpool.store.room import AnyRow, Room
from mendpool.store.tables import FOLLOWUP, MEMBER, REPORT
from mendpool.store.values import FOREIGN_PSEUDONYM, HeldCase

_COLUMNS = (
    REPORT.c.seq,
    REPORT.c.id.label("report_id"),
    MEMBER.c.group_no,
    MEMBER.c.vouched,
    REPORT.c.case_body,
)


def _with_followups(reports: Select[Any]) -> Select[Any]:
    """Join the follow-ups in the same query: a row for each, or one without."""
    some = reports.subquery()
    return select(some, FOLLOWUP.c.body.label("followup")).join(
        FOLLOWUP,
        FOLLOWUP.c.report_id == some.c.report_id,
        isouter=True,
    )


_HELD: Select[Any] = (
    select(*_COLUMNS)
    .join(MEMBER, MEMBER.c.id == REPORT.c.member_id)
    .where(REPORT.c.withdrawn_at.is_(None))
)
_SOME = _with_followups(_HELD.where(REPORT.c.seq.in_(bindparam("seqs", expanding=True))))


FOLLOWED = 3
"""Followed-up reports that vouch for someone nobody vouched for."""

_EARNED = (
    select(MEMBER.c.group_no)
    .join(REPORT, REPORT.c.member_id == MEMBER.c.id)
    .where(
        MEMBER.c.vouched.is_(False),
        MEMBER.c.pseudonym.not_like(f"{FOREIGN_PSEUDONYM}%"),
        REPORT.c.withdrawn_at.is_(None),
        REPORT.c.seq <= bindparam("upto"),
        exists().where(
            FOLLOWUP.c.report_id == REPORT.c.id, FOLLOWUP.c.seq <= bindparam("upto")
        ),
    )
    .group_by(MEMBER.c.group_no)
    .having(func.count() >= FOLLOWED)
)


_ELSEWHERE = select(MEMBER.c.group_no).where(MEMBER.c.pseudonym.startswith(FOREIGN_PSEUDONYM))


class Cases(Room):
    """Gets cases with what was seen later; one query, always."""

    def cases_by_seq(self, seqs: Sequence[int]) -> list[HeldCase]:
        """Return the cases of these numbers, in no order; those taken back are left out."""
        if not seqs:
            return []
        values = {"seqs": list(seqs)}
        return list(_held(self._look(_all(_SOME, values))))

    def vouched_since(self, upto: int) -> frozenset[int]:
        """Return the contributors, by opaque number, whose own reports vouch for them.

        Nobody vouched when they were made, but three of the reports held have a follow-up by
        line `upto` of the feed. It is a function of what is held, so a copy finds the same.
        Authors of other pools are not among them.
        """
        return self._look(
            lambda connection: frozenset(connection.execute(_EARNED, {"upto": upto}).scalars())
        )

    def groups_elsewhere(self) -> frozenset[int]:
        """Return the authors of other pools, by opaque number."""
        return self._look(
            lambda connection: frozenset(connection.execute(_ELSEWHERE).scalars())
        )


def _all(
    query: Select[Any], values: Mapping[str, object]
) -> Callable[[Connection], Sequence[AnyRow]]:
    return lambda connection: connection.execute(query, values).all()


def _held(rows: Iterable[AnyRow]) -> Iterable[HeldCase]:
    told: dict[int, tuple[AnyRow, list[str]]] = {}
    for row in rows:
        _, followups = told.setdefault(row.seq, (row, []))
        if row.followup is not None:
            followups.append(row.followup)
    for row, followups in told.values():
        yield HeldCase(
            row.seq,
            row.report_id,
            row.group_no,
            row.vouched,
            row.case_body,
            tuple(sorted(followups)),
        )
