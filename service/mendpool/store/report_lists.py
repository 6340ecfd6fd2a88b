"""Reports on their way out: one, some by id, or a list, newest first."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Select, bindparam, func, select

from mendpool.core.errors import NotFound, Withdrawn
from mendpool.store.report_rows import Followups, followups_of, report_of
from mendpool.store.room import AnyRow, Room
from mendpool.store.tables import MEMBER, REPORT, REPORT_COMPONENT, REPORT_SYMPTOM
from mendpool.store.values import ReportFilters, StaleCase, StoredReport

_SHOWN = select(
    REPORT.c.id,
    REPORT.c.seq,
    REPORT.c.member_id,
    MEMBER.c.pseudonym,
    REPORT.c.received_at,
    REPORT.c.body,
    REPORT.c.withdrawn_at,
).join(MEMBER, MEMBER.c.id == REPORT.c.member_id)
_SOME = _SHOWN.where(
    REPORT.c.id.in_(bindparam("report_ids", expanding=True)), REPORT.c.withdrawn_at.is_(None)
)
_ONE = _SHOWN.where(REPORT.c.id == bindparam("report_id"))
_ALL_COUNT = select(func.count()).select_from(REPORT)
_GONE_COUNT = _ALL_COUNT.where(REPORT.c.withdrawn_at.is_not(None))
_BY_MEMBER = _ALL_COUNT.where(
    REPORT.c.member_id == bindparam("member_id"), REPORT.c.received_at >= bindparam("since")
)
# Both ends of an index, whatever the size of the pool. All that lies between two equal ends
# is of that version too, and what was taken back has none.
_VERSIONS = select(
    select(func.min(REPORT.c.derived_version)).scalar_subquery().label("first"),
    select(func.max(REPORT.c.derived_version)).scalar_subquery().label("last"),
)
_STALE = (
    select(REPORT.c.id, REPORT.c.seq, REPORT.c.body)
    .where(
        REPORT.c.seq > bindparam("after"),
        REPORT.c.withdrawn_at.is_(None),
        REPORT.c.derived_version != bindparam("version"),
    )
    .order_by(REPORT.c.seq)
    .limit(bindparam("most"))
)


class ReportReading(Room):
    """Gets reports; one query for the reports and one for their follow-ups, always."""

    def get_report(self, report_id: UUID) -> StoredReport:
        """Return a report with its follow-ups.

        Raises:
            NotFound: there is none.
            Withdrawn: it was taken back.
        """

        def look(connection: Connection) -> tuple[AnyRow | None, Followups]:
            row = connection.execute(_ONE, {"report_id": report_id}).first()
            gone = row is None or row.withdrawn_at is not None
            return row, {} if gone else followups_of(connection, [report_id])

        row, followups = self._look(look)
        if row is None:
            raise NotFound
        if row.withdrawn_at is not None:
            raise Withdrawn
        return report_of(row, followups)

    def get_reports(self, report_ids: Iterable[UUID]) -> list[StoredReport]:
        """Return the reports asked for, in the order asked, without repeats.

        Those that are not there or were taken back are left out.
        """
        asked = list(dict.fromkeys(report_ids))
        if not asked:
            return []
        reports = self._look(_reports(_SOME, {"report_ids": asked}))
        found = {report.id: report for report in reports}
        return [found[report_id] for report_id in asked if report_id in found]

    def list_reports(
        self, filters: ReportFilters, before_seq: int | None, limit: int
    ) -> list[StoredReport]:
        """Return at most `limit` reports that pass the filters, newest first.

        Args:
            filters: all that are given must hold.
            before_seq: the number of the last report of the page before; None for the
                first page.
            limit: the most to return.
        """
        return self._look(_reports(_listed(filters, before_seq).limit(limit)))

    def reports_after(self, seq: int, limit: int) -> list[StoredReport]:
        """Return at most `limit` reports after number `seq`, in the order they came."""
        query = _SHOWN.where(REPORT.c.seq > seq, REPORT.c.withdrawn_at.is_(None))
        return self._look(_reports(query.order_by(REPORT.c.seq).limit(limit)))

    def before_newest(self, many: int) -> int:
        """Return the number after which the newest `many` reports come; 0 where all do."""
        held = select(REPORT.c.seq).where(REPORT.c.withdrawn_at.is_(None))
        first = held.order_by(REPORT.c.seq.desc()).offset(many).limit(1)
        with self._reading() as connection:
            return connection.execute(first).scalar() or 0

    def held(self, report_ids: Sequence[UUID]) -> dict[UUID, tuple[int, str | None]]:
        """Return whose each report is and its sameness; None where it was taken back."""
        query = select(REPORT.c.id, REPORT.c.member_id, REPORT.c.sameness)
        with self._reading() as connection:
            rows = connection.execute(query.where(REPORT.c.id.in_(report_ids))).all()
        return {row.id: (row.member_id, row.sameness) for row in rows}

    def report_count(self) -> int:
        """Return how many reports are held, those taken back not counted."""
        with self._reading() as connection:
            everything = connection.execute(_ALL_COUNT).scalar_one()
            return int(everything - connection.execute(_GONE_COUNT).scalar_one())

    def reports_by_member(self, member_id: int, since: datetime) -> int:
        """Return how many reports the member sent since then, taken back or not."""
        with self._reading() as connection:
            values = {"member_id": member_id, "since": since}
            return int(connection.execute(_BY_MEMBER, values).scalar_one())

    def stale_cases(self, derived_version: str, after_seq: int, limit: int) -> list[StaleCase]:
        """Return reports whose derived form is of another version, in the order they came.

        That there are none, as at nearly every start, costs two looks into an index.
        """
        values = {"version": derived_version, "after": after_seq, "most": limit}
        with self._reading() as connection:
            versions = connection.execute(_VERSIONS).one()
            if self.replica is not None:
                # The feed is silent on cases that were derived again, here or elsewhere.
                self.replica.must_hold_all(connection)
            if {versions.first, versions.last} <= {derived_version, None}:
                return []
            rows = connection.execute(_STALE, values).all()
        return [StaleCase(row.id, row.seq, row.body) for row in rows]


def _listed(filters: ReportFilters, before_seq: int | None) -> Select[Any]:
    # The list is ordered by the number in the narrowest table, so that its index is read
    # backwards and the page ends after `limit` rows; the numbers are equal in all of them.
    query, number = _SHOWN, REPORT.c.seq
    if filters.component is not None:
        table = REPORT_COMPONENT
        query = query.join(table, table.c.report_seq == REPORT.c.seq)
        query, number = query.where(table.c.component == filters.component), table.c.report_seq
    if filters.symptom is not None:
        table = REPORT_SYMPTOM
        query = query.join(table, table.c.report_seq == REPORT.c.seq)
        query, number = query.where(table.c.symptom == filters.symptom), table.c.report_seq
    for name in ("fuel", "excitation", "outcome", "member_id"):
        asked = getattr(filters, name)
        if asked is not None:
            query = query.where(REPORT.c[name] == asked)
    if before_seq is not None:
        query = query.where(number < before_seq)
    return query.where(REPORT.c.withdrawn_at.is_(None)).order_by(number.desc())


def _reports(
    query: Select[Any], values: Mapping[str, object] | None = None
) -> Callable[[Connection], list[StoredReport]]:
    """Return what reads reports and, in a second query, their follow-ups."""

    def look(connection: Connection) -> list[StoredReport]:
        rows = connection.execute(query, values or {}).all()
        followups = followups_of(connection, [row.id for row in rows])
        return [report_of(row, followups) for row in rows]

    return look
