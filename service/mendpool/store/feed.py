"""The change feed, as copies and the index read it."""

from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

from sqlalchemy import BindParameter, Connection, Select, bindparam, func, select

from mendpool.store.direct import Asked
from mendpool.store.fits import FIT_COLUMNS, fit_of
from mendpool.store.lines import last_number
from mendpool.store.room import AnyRow, Room
from mendpool.store.tables import CHANGE, FIT, FOLLOWUP, MEMBER, REPORT
from mendpool.store.values import FOREIGN_PSEUDONYM, CaseRow, Change, ChangeKind

_AFTER: BindParameter[int] = bindparam("after")
_UPTO: BindParameter[int] = bindparam("upto")

_PAGE = (
    select(CHANGE.c.seq, CHANGE.c.kind, CHANGE.c.ref, CHANGE.c.at)
    .where(CHANGE.c.seq > _AFTER)
    .order_by(CHANGE.c.seq)
    .limit(bindparam("most"))
)
# Without its time, which is read from text and takes as long as all the rest of a line. Every
# question looks whether there is a new one.
_PAGE_BARE = Asked(_PAGE.with_only_columns(CHANGE.c.seq, CHANGE.c.kind, CHANGE.c.ref))
_LINES = (
    select(CHANGE.c.seq, CHANGE.c.kind, CHANGE.c.ref)
    .where(CHANGE.c.seq.in_(bindparam("seqs", expanding=True)))
    .order_by(CHANGE.c.seq)
)
_LAST_SAID = select(func.coalesce(func.max(CHANGE.c.seq), 0)).where(CHANGE.c.kind != "fit")
_AUTHOR = (
    MEMBER.c.id.label("member_id"),
    MEMBER.c.group_no,
    MEMBER.c.vouched,
    MEMBER.c.pseudonym,
)
_REPORTS = (
    select(
        REPORT.c.seq,
        REPORT.c.id.label("report_id"),
        REPORT.c.body,
        REPORT.c.case_body,
        REPORT.c.derived_version,
        *_AUTHOR,
    )
    .join(MEMBER, MEMBER.c.id == REPORT.c.member_id)
    .where(REPORT.c.seq > _AFTER, REPORT.c.seq <= _UPTO)
)
_CASES = (
    select(
        REPORT.c.seq,
        REPORT.c.id.label("report_id"),
        REPORT.c.case_body.label("body"),
        *_AUTHOR,
    )
    .join(MEMBER, MEMBER.c.id == REPORT.c.member_id)
    .where(REPORT.c.seq > _AFTER, REPORT.c.seq <= _UPTO)
)
_FOLLOWUPS = (
    select(FOLLOWUP.c.seq, FOLLOWUP.c.report_id, FOLLOWUP.c.body, *_AUTHOR)
    .join(MEMBER, MEMBER.c.id == FOLLOWUP.c.member_id)
    .where(FOLLOWUP.c.seq > _AFTER, FOLLOWUP.c.seq <= _UPTO)
)
_FITS = select(*FIT_COLUMNS).where(FIT.c.seq > _AFTER, FIT.c.seq <= _UPTO)


class Feed(Room):
    """Reads the feed."""

    def last_seq(self) -> int:
        """Return the number of the newest change, 0 when nothing happened yet."""
        with self._reading() as connection:
            return last_number(connection)

    def lines_at(self, seqs: Sequence[int]) -> list[tuple[int, ChangeKind, str]]:
        """Return the lines of these numbers as ``(seq, kind, ref)``, in order."""
        with self._reading() as connection:
            rows = connection.execute(_LINES, {"seqs": list(seqs)}).all()
        return [(row.seq, row.kind, row.ref) for row in rows]

    def last_said(self) -> int:
        """Return the number of the newest line that is no fit, 0 when there is none."""
        with self._reading() as connection:
            return int(connection.execute(_LAST_SAID).scalar_one())

    def changes_after(self, seq: int, limit: int) -> list[Change]:
        """Return at most `limit` changes after number `seq`, in order, with their bodies.

        It asks the database at most four times, however long the page.
        """

        def look(connection: Connection) -> list[Change]:
            page = _page(connection, seq, limit)
            told = _told(connection, page, _REPORTS)
            fits = _of_kind(connection, page, "fit", _FITS)
            return [_change(line, told.get(line.seq), fits.get(line.seq)) for line in page]

        return self._look(look)

    def cases_after(self, seq: int, limit: int) -> list[CaseRow]:
        """Return at most `limit` changes after number `seq` as the index reads them.

        It asks the database at most three times, however long the page. Where there is a
        replica, the database itself is asked how far the feed reaches, since this is how a
        process learns what others were told; what is new is then read where it can be.
        """
        if self.replica is not None:
            with self._reading() as connection:
                if self.replica.must_reach(connection) <= seq:
                    return []

        def look(connection: Connection) -> list[CaseRow]:
            page = _PAGE_BARE.all(connection, {"after": seq, "most": limit})
            told = _told(connection, page, _CASES)
            return [_case_row(line, told.get(line.seq)) for line in page]

        return self._look(look)


def _change(line: AnyRow, told: AnyRow | None, fit: AnyRow | None) -> Change:
    if told is None or told.body is None:
        return Change(
            line.seq,
            line.kind,
            line.ref,
            line.at,
            report_id=_report_id(line),
            fit=None if fit is None else fit_of(fit),
        )
    return Change(
        line.seq,
        line.kind,
        line.ref,
        line.at,
        report_id=told.report_id,
        group=told.group_no,
        vouched=told.vouched,
        elsewhere=told.pseudonym.startswith(FOREIGN_PSEUDONYM),
        body=told.body,
        case_body=told.case_body if line.kind == "report" else None,
        derived_version=told.derived_version if line.kind == "report" else None,
    )


def _case_row(line: AnyRow, told: AnyRow | None) -> CaseRow:
    if told is None or told.body is None:
        return CaseRow(line.seq, line.kind, _report_id(line), None, None, None, None)
    return CaseRow(
        line.seq,
        line.kind,
        told.report_id,
        told.member_id,
        told.group_no,
        told.vouched,
        told.body,
    )


def _report_id(line: AnyRow) -> UUID | None:
    """Return the report that a line without a body speaks of, if the line itself says."""
    return UUID(line.ref) if line.kind in ("report", "withdrawal") else None


def _told(
    connection: Connection, page: Sequence[AnyRow], reports: Select[Any]
) -> Mapping[int, AnyRow]:
    return {
        **_of_kind(connection, page, "report", reports),
        **_of_kind(connection, page, "followup", _FOLLOWUPS),
    }


def _page(connection: Connection, seq: int, limit: int) -> Sequence[AnyRow]:
    return connection.execute(_PAGE, {"after": seq, "most": limit}).all()


def _of_kind(
    connection: Connection, page: Sequence[AnyRow], kind: ChangeKind, query: Select[Any]
) -> Mapping[int, AnyRow]:
    """Return what the lines of `kind` speak of, by number: one range of one table."""
    numbers = [row.seq for row in page if row.kind == kind]
    if not numbers:
        return {}
    found = connection.execute(query, {"after": numbers[0] - 1, "upto": numbers[-1]})
    return {row.seq: row for row in found}
