"""What came from other pools: kept word for word, and filed under authors who can't sign in.

A line is taken once. The origin's own full record always wins over a line that comes back to
it; a withdrawal wins over everything; of two lines that differ for one report the one with
the smaller hash wins, whichever came first, so that all pools agree in the end.
"""

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Literal
from uuid import UUID

from sqlalchemy import Connection, bindparam, delete, insert, select

from mendpool.store.lines import add_lines, last_number
from mendpool.store.members import group_of, member_of
from mendpool.store.pool import pool_key
from mendpool.store.putting import put_one
from mendpool.store.reports import erase
from mendpool.store.room import AnyRow, Room
from mendpool.store.tables import FOLLOWUP, MEMBER, PARCEL, REPORT
from mendpool.store.values import FOREIGN_PSEUDONYM, ForeignLine, Member, NewReport

Taken = Literal["new", "unchanged", "own", "withdrawn", "early"]
FOREIGN = "parcel:"
"""How the name of an author begins who came with a parcel."""

_PAGE = 500
_NO_HASH = "0" * 64  # no token has this hash, and the member is revoked besides
_KEPT = select(PARCEL).where(PARCEL.c.id == bindparam("id"))
_REPORT = select(REPORT).where(REPORT.c.id == bindparam("id"))


class Parcels(Room):
    """Takes lines of other pools in, and gives back what it holds of them."""

    def take_report(self, line: ForeignLine, new: NewReport, now: datetime) -> Taken:
        """Keep a report of another pool; `new.member_id` is its author's (see `author`)."""
        with self._writing() as connection:
            held = connection.execute(_REPORT, {"id": line.id}).first()
            kept = _kept(connection, line.id)
            if kept is None and held is not None:
                return "own" if held.withdrawn_at is None else "withdrawn"
            if kept is not None:
                if kept.kind == "withdrawal":
                    return "withdrawn"
                if line.sha256 >= kept.sha256:
                    return "unchanged"
                _forget(connection, line.id, now)
            put_one(connection, new, now)
            connection.execute(insert(PARCEL), _row(line))
            return "new"

    def take_followup(
        self, line: ForeignLine, member_id: int, body: str, now: datetime
    ) -> Taken:
        """Keep a follow-up of another pool; one whose report is not here yet is too early."""
        with self._writing() as connection:
            kept = _kept(connection, line.id)
            if kept is not None and line.sha256 >= kept.sha256:
                return "unchanged"
            report = _kept(connection, line.report_id)
            if report is None:
                own = connection.execute(_REPORT, {"id": line.report_id}).first()
                return "early" if own is None else "own"
            if report.kind == "withdrawal":
                return "withdrawn"
            if (
                kept is None
                and connection.execute(
                    select(FOLLOWUP.c.id).where(FOLLOWUP.c.id == line.id)
                ).first()
            ):
                return "own"
            connection.execute(delete(FOLLOWUP).where(FOLLOWUP.c.id == line.id))
            connection.execute(delete(PARCEL).where(PARCEL.c.id == line.id))
            seq = last_number(connection) + 1
            connection.execute(
                insert(FOLLOWUP),
                {
                    "id": line.id,
                    "seq": seq,
                    "report_id": line.report_id,
                    "member_id": member_id,
                    "received_at": now,
                    "sameness": line.sha256,
                    "body": body,
                },
            )
            add_lines(connection, [(seq, "followup", str(line.id))], now)
            connection.execute(insert(PARCEL), _row(line))
            return "new"

    def take_withdrawal(self, line: ForeignLine, now: datetime) -> Taken:
        """Take a report of another pool back, or keep that it must not come."""
        with self._writing() as connection:
            kept = _kept(connection, line.id)
            if kept is not None and kept.kind == "withdrawal":
                return "unchanged"
            held = connection.execute(_REPORT, {"id": line.id}).first()
            if kept is None and held is not None:
                return "own"  # only its own pool takes a report back, not someone for it
            if kept is not None and kept.origin != line.origin:
                return "unchanged"
            if held is not None and held.withdrawn_at is None:
                erase(connection, held, held.member_id, now)
                seq = last_number(connection) + 1
                add_lines(connection, [(seq, "withdrawal", str(line.id))], now)
            connection.execute(delete(PARCEL).where(PARCEL.c.report_id == line.id))
            connection.execute(insert(PARCEL), _row(line))
            return "new"

    def author(self, origin: str, author: str, now: datetime) -> Member:
        """Return an author of another pool, made if need be.

        Nobody vouches for one from here, and no token is theirs.
        """
        name = f"{FOREIGN}{origin[:13]}:{author}"
        with self._writing() as connection:
            found = connection.execute(select(MEMBER).where(MEMBER.c.name == name)).first()
            if found is not None:
                return member_of(found)
            made = insert(MEMBER).values(
                name=name,
                role="member",
                pseudonym=f"{FOREIGN_PSEUDONYM}{author}",
                group_no=group_of(pool_key(connection), name),
                token_prefix=f"{FOREIGN_PSEUDONYM}{author}",
                token_sha256=_NO_HASH,
                created_at=now,
                revoked_at=now,
                vouched=False,
            )
            return member_of(connection.execute(made.returning(MEMBER)).one())

    def foreign_lines(self) -> Iterator[ForeignLine]:
        """Give every line that came from elsewhere, by its id."""
        after: UUID | None = None
        while True:
            page = self._foreign_page(after)
            yield from page
            if len(page) < _PAGE:
                return
            after = page[-1].id

    def withdrawn_own(self) -> Sequence[UUID]:
        """Return the ids of own reports that were taken back, in order."""
        with self._reading() as connection:
            foreign = select(PARCEL.c.id)
            query = (
                select(REPORT.c.id)
                .where(REPORT.c.withdrawn_at.is_not(None), REPORT.c.id.not_in(foreign))
                .order_by(REPORT.c.id)
            )
            return connection.execute(query).scalars().all()

    def _foreign_page(self, after: UUID | None) -> list[ForeignLine]:
        query = select(PARCEL).order_by(PARCEL.c.id).limit(_PAGE)
        if after is not None:
            query = query.where(PARCEL.c.id > after)
        with self._reading() as connection:
            return [_line(row) for row in connection.execute(query)]


def _kept(connection: Connection, line_id: UUID) -> AnyRow | None:
    return connection.execute(_KEPT, {"id": line_id}).first()


def _forget(connection: Connection, report_id: UUID, now: datetime) -> None:
    """Make room for another line of the same report: the feed tells that the old one goes."""
    connection.execute(delete(FOLLOWUP).where(FOLLOWUP.c.report_id == report_id))
    connection.execute(delete(REPORT).where(REPORT.c.id == report_id))
    connection.execute(delete(PARCEL).where(PARCEL.c.report_id == report_id))
    add_lines(connection, [(last_number(connection) + 1, "withdrawal", str(report_id))], now)


def _row(line: ForeignLine) -> dict[str, object]:
    return {
        "id": line.id,
        "kind": line.kind,
        "origin": line.origin,
        "report_id": line.report_id,
        "sha256": line.sha256,
        "line": line.line,
    }


def _line(row: AnyRow) -> ForeignLine:
    return ForeignLine(row.id, row.kind, row.origin, row.report_id, row.sha256, row.line)
