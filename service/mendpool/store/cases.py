"""Derived cases on their way out: by number for a question, by id for a fit."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

from sqlalchemy import BindParameter, Connection, Select, bindparam, select

from mendpool.store.room import AnyRow, Room
from mendpool.store.tables import FOLLOWUP, MEMBER, REPORT
from mendpool.store.values import HeldCase

_WALK_PAGE = 2000

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
    upto: BindParameter[int] = bindparam("upto", 1 << 62)
    return select(some, FOLLOWUP.c.body.label("followup")).join(
        FOLLOWUP,
        (FOLLOWUP.c.report_id == some.c.report_id) & (FOLLOWUP.c.seq <= upto),
        isouter=True,
    )


_HELD: Select[Any] = (
    select(*_COLUMNS)
    .join(MEMBER, MEMBER.c.id == REPORT.c.member_id)
    .where(REPORT.c.withdrawn_at.is_(None))
)
_SOME = _with_followups(_HELD.where(REPORT.c.seq.in_(bindparam("seqs", expanding=True))))
_BY_ID = (
    _HELD.where(REPORT.c.seq <= bindparam("cut")).order_by(REPORT.c.id).limit(bindparam("most"))
)
_FIRST = _with_followups(_BY_ID)
_NEXT = _with_followups(_BY_ID.where(REPORT.c.id > bindparam("after")))


class Cases(Room):
    """Gets cases with what was seen later; one query, always."""

    def cases_by_seq(self, seqs: Sequence[int]) -> list[HeldCase]:
        """Return the cases of these numbers, in no order; those taken back are left out."""
        if not seqs:
            return []
        values = {"seqs": list(seqs)}
        return list(_held(self._look(_all(_SOME, values))))

    def cases_by_id(self, cut: int, page: int = _WALK_PAGE) -> Iterator[HeldCase]:
        """Yield every case of the feed up to and including number `cut`, by id.

        Page by page, so that the memory it takes does not grow with the pool; follow-ups
        after the cut are left out. What is taken back meanwhile may be in it or not.
        """
        values: dict[str, object] = {"cut": cut, "upto": cut, "most": page}
        query = _FIRST
        while True:
            found = list(_held(self._look(_all(query, values))))
            found.sort(key=lambda case: case.report_id)
            yield from found
            if len(found) < page:
                return
            query, values["after"] = _NEXT, found[-1].report_id


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
