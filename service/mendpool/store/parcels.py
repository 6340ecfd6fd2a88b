"""What came from other pools: kept word for word, and filed under authors who can't sign in.

A line is taken once. The origin's own full record always wins over a line that comes back to
it; a withdrawal wins over everything, and what a steward has taken back here stays so here
and is not passed on; of two lines that differ for one report the one with
the smaller hash wins, whichever came first, so that all pools agree in the end.

Lines are taken by the hundred in one transaction. Those of one kind that stand together, no
id twice among them, are looked up at once and written at once; what comes of each is what
would come of it alone.
"""

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any, Literal
from uuid import UUID

from sqlalchemy import BindParameter, Connection, Select, bindparam, delete, insert, select

from mendpool.core.errors import MendpoolError
from mendpool.store.again import undone_again
from mendpool.store.lines import add_lines, last_number
from mendpool.store.members import group_of, member_of
from mendpool.store.pool import pool_key
from mendpool.store.putting import put_all
from mendpool.store.reports import erase
from mendpool.store.room import AnyRow, Room
from mendpool.store.tables import FOLLOWUP, MEMBER, PARCEL, REPORT
from mendpool.store.values import (
    FOREIGN_NAME,
    FOREIGN_PSEUDONYM,
    Arrival,
    ForeignKind,
    ForeignLine,
    Member,
)

Taken = Literal["new", "unchanged", "own", "withdrawn", "early"]
Author = tuple[str, str]
"""The pool an author is of, and the keyed hash that pool knows the author by."""

_PAGE = 500
_NO_HASH = "0" * 64  # no token has this hash, and the member is revoked besides
_SHORT = 24
_IDS: BindParameter[Any] = bindparam("ids", expanding=True)
_KEPT = select(PARCEL.c.id, PARCEL.c.kind, PARCEL.c.origin, PARCEL.c.sha256).where(
    PARCEL.c.id.in_(_IDS)
)
_REPORTS = select(REPORT.c.id, REPORT.c.withdrawn_at).where(REPORT.c.id.in_(_IDS))
_REPORT = (
    select(REPORT, MEMBER.c.name.label("author"))
    .join(MEMBER, MEMBER.c.id == REPORT.c.member_id)
    .where(REPORT.c.id == bindparam("id"))
)
_FOLLOWUPS = select(FOLLOWUP.c.id).where(FOLLOWUP.c.id.in_(_IDS))
_AUTHORS = select(MEMBER).where(MEMBER.c.name.in_(bindparam("names", expanding=True)))

Rows = Mapping[UUID, AnyRow]


class Parcels(Room):
    """Takes lines of other pools in, and gives back what it holds of them."""

    @undone_again
    def take_lines(self, arrivals: Sequence[Arrival], now: datetime) -> list[Taken]:
        """Take lines in, in their order, in one transaction; return what came of each.

        A report of another pool is kept unless a line with a smaller hash is; a follow-up
        whose report is not here yet is too early; a withdrawal takes a report back, or keeps
        that it must not come.
        """
        taken: list[Taken] = []
        with self._writing() as connection:
            for run in _runs(arrivals):
                if run[0].line.kind == "report":
                    taken += _take_reports(connection, run, now)
                elif run[0].line.kind == "followup":
                    taken += _take_followups(connection, run, now)
                else:
                    taken.append(_take_withdrawal(connection, run[0].line, now))
        return taken

    def hashes_kept(self, ids: Sequence[UUID]) -> dict[UUID, str]:
        """Return the hash of each line that is held, by its id."""
        with self._reading() as connection:
            return {row.id: row.sha256 for row in connection.execute(_KEPT, {"ids": ids})}

    @undone_again
    def authors(self, wanted: Sequence[Author], now: datetime) -> dict[Author, Member]:
        """Return authors of other pools, made if need be.

        Nobody vouches for one from here, and no token is theirs.
        """
        named = {f"{FOREIGN_NAME}{origin}:{author}": (origin, author)
                 for origin, author in wanted}  # fmt: skip
        with self._reading() as connection:
            found = _members(connection, list(named))
        if len(found) < len(named):
            with self._writing() as connection:
                found = _members(connection, list(named))
                key = pool_key(connection)
                made = [
                    _author_row(name, key, now) for name in sorted(named) if name not in found
                ]
                if made:
                    connection.execute(insert(MEMBER), made)
                    found |= _members(connection, [str(row["name"]) for row in made])
        return {named[name]: member for name, member in found.items()}

    def foreign_lines(self, kind: ForeignKind) -> Iterator[ForeignLine]:
        """Give every line of a kind that came from elsewhere, by its id."""
        after: UUID | None = None
        while True:
            page = self._foreign_page(kind, after)
            yield from page
            if len(page) < _PAGE:
                return
            after = page[-1].id

    def withdrawn_own(self) -> Sequence[UUID]:
        """Return the ids of own reports that were taken back, in order."""
        with self._reading() as connection:
            query = (
                select(REPORT.c.id)
                .join(MEMBER, MEMBER.c.id == REPORT.c.member_id)
                .where(
                    REPORT.c.withdrawn_at.is_not(None),
                    MEMBER.c.name.not_like(f"{FOREIGN_NAME}%"),
                )
                .order_by(REPORT.c.id)
            )
            return connection.execute(query).scalars().all()

    def _foreign_page(self, kind: ForeignKind, after: UUID | None) -> list[ForeignLine]:
        query = select(PARCEL).where(PARCEL.c.kind == kind).order_by(PARCEL.c.id).limit(_PAGE)
        if after is not None:
            query = query.where(PARCEL.c.id > after)
        with self._reading() as connection:
            return [_line(row) for row in connection.execute(query)]


def _runs(arrivals: Sequence[Arrival]) -> Iterator[list[Arrival]]:
    """Cut lines into runs of one kind with no id twice; a withdrawal stands alone."""
    run: list[Arrival] = []
    ids: set[UUID] = set()
    for arrival in arrivals:
        line = arrival.line
        joins = run and line.kind == run[0].line.kind != "withdrawal" and line.id not in ids
        if run and not joins:
            yield run
            run, ids = [], set()
        run.append(arrival)
        ids.add(line.id)
    if run:
        yield run


def _take_reports(connection: Connection, run: Sequence[Arrival], now: datetime) -> list[Taken]:
    ids = [arrival.line.id for arrival in run]
    kept, held = _kept(connection, ids), _by_id(connection, _REPORTS, ids)
    taken = [_of_report(a.line, kept.get(a.line.id), held.get(a.line.id)) for a in run]
    fresh = [a for a, came in zip(run, taken, strict=True) if came == "new"]
    seen_here: list[dict[str, Any]] = []
    for arrival in fresh:
        if arrival.line.id in kept:
            seen_here += _forget(connection, arrival.line.id, now)
    reports = [arrival.report for arrival in fresh if arrival.report is not None]
    for outcome in put_all(connection, [(report, now) for report in reports]):
        if isinstance(outcome, MendpoolError):
            raise outcome
    _keep(connection, [arrival.line for arrival in fresh])
    _add_followups(connection, seen_here, now)
    return taken


def _of_report(line: ForeignLine, kept: AnyRow | None, held: AnyRow | None) -> Taken:
    if kept is None:
        if held is None:
            return "new"
        return "own" if held.withdrawn_at is None else "withdrawn"
    if kept.kind == "withdrawal":
        return "withdrawn"
    # An id that stands for something of another kind here is nobody's to take.
    newer = kept.kind == line.kind and line.sha256 < kept.sha256
    return "new" if newer else "unchanged"


def _take_followups(
    connection: Connection, run: Sequence[Arrival], now: datetime
) -> list[Taken]:
    ids = [arrival.line.id for arrival in run]
    of = list({arrival.line.report_id for arrival in run})
    kept, reports = _kept(connection, ids), _kept(connection, of)
    own, there = _by_id(connection, _REPORTS, of), _by_id(connection, _FOLLOWUPS, ids)
    taken = [
        _of_followup(
            a.line,
            kept.get(a.line.id),
            reports.get(a.line.report_id),
            own.get(a.line.report_id),
            is_there=a.line.id in there,
        )
        for a in run
    ]
    fresh = [a for a, came in zip(run, taken, strict=True) if came == "new"]
    replaced = [arrival.line.id for arrival in fresh if arrival.line.id in kept]
    if replaced:
        connection.execute(delete(FOLLOWUP).where(FOLLOWUP.c.id.in_(replaced)))
        connection.execute(delete(PARCEL).where(PARCEL.c.id.in_(replaced)))
    _add_followups(connection, [_followup_row(a, now) for a in fresh], now)
    _keep(connection, [arrival.line for arrival in fresh])
    return taken


def _of_followup(
    line: ForeignLine,
    kept: AnyRow | None,
    report: AnyRow | None,
    held: AnyRow | None,
    *,
    is_there: bool,
) -> Taken:
    if kept is not None and (kept.kind != line.kind or line.sha256 >= kept.sha256):
        return "unchanged"
    if report is not None and report.kind == "withdrawal":
        return "withdrawn"
    if held is None or (report is not None and report.kind != "report"):
        return "early"
    if held.withdrawn_at is not None:
        return "withdrawn"
    return "own" if kept is None and is_there else "new"


def _take_withdrawal(connection: Connection, line: ForeignLine, now: datetime) -> Taken:
    kept = _kept(connection, [line.id]).get(line.id)
    held = connection.execute(_REPORT, {"id": line.id}).first()
    its_own = f"{FOREIGN_NAME}{line.origin}:"
    if kept is None and held is not None and not held.author.startswith(its_own):
        return "own"  # only its own pool takes a report back, not someone for it
    if kept is not None and (kept.kind != "report" or kept.origin != line.origin):
        return "unchanged"
    if held is not None and held.withdrawn_at is None:
        erase(connection, held, held.member_id, now)
        seq = last_number(connection) + 1
        add_lines(connection, [(seq, "withdrawal", str(line.id))], now)
    connection.execute(delete(PARCEL).where(PARCEL.c.report_id == line.id))
    _keep(connection, [line])
    return "new"


def _kept(connection: Connection, ids: Sequence[UUID]) -> Rows:
    return _by_id(connection, _KEPT, ids)


def _by_id(connection: Connection, query: Select[Any], ids: Sequence[UUID]) -> Rows:
    return {row.id: row for row in connection.execute(query, {"ids": ids})}


def _members(connection: Connection, names: Sequence[str]) -> dict[str, Member]:
    rows = connection.execute(_AUTHORS, {"names": names})
    return {row.name: member_of(row) for row in rows}


def _author_row(name: str, key: bytes, now: datetime) -> dict[str, object]:
    # Of the whole name: two pools may know two people by one hash, by chance or by design.
    short = hashlib.sha256(name.encode()).hexdigest()[:_SHORT]
    return {
        "name": name,
        "role": "member",
        "pseudonym": f"{FOREIGN_PSEUDONYM}{short}",
        "group_no": group_of(key, name),
        "token_prefix": f"{FOREIGN_PSEUDONYM}{short}",
        "token_sha256": _NO_HASH,
        "created_at": now,
        "revoked_at": now,
        "vouched": False,
    }


def _forget(connection: Connection, report_id: UUID, now: datetime) -> list[dict[str, Any]]:
    """Make room for another line of the same report: the feed tells that the old one goes.

    Returns:
        What was seen here later of the report; it is to be kept with the other line.
    """
    came = select(PARCEL.c.id)
    of_report = FOLLOWUP.c.report_id == report_id
    seen_here = connection.execute(
        select(FOLLOWUP).where(of_report, FOLLOWUP.c.id.not_in(came))
    )
    kept = [dict(row) for row in seen_here.mappings()]
    connection.execute(delete(FOLLOWUP).where(of_report))
    connection.execute(delete(REPORT).where(REPORT.c.id == report_id))
    connection.execute(delete(PARCEL).where(PARCEL.c.report_id == report_id))
    add_lines(connection, [(last_number(connection) + 1, "withdrawal", str(report_id))], now)
    return kept


def _add_followups(
    connection: Connection, rows: Sequence[dict[str, Any]], now: datetime
) -> None:
    if rows:
        numbered = list(enumerate(rows, last_number(connection) + 1))
        connection.execute(insert(FOLLOWUP), [row | {"seq": n} for n, row in numbered])
        add_lines(connection, [(n, "followup", str(row["id"])) for n, row in numbered], now)


def _keep(connection: Connection, lines: Sequence[ForeignLine]) -> None:
    if lines:
        connection.execute(insert(PARCEL), [_row(line) for line in lines])


def _followup_row(arrival: Arrival, now: datetime) -> dict[str, Any]:
    line = arrival.line
    return {
        "id": line.id,
        "report_id": line.report_id,
        "member_id": arrival.member_id,
        "received_at": now,
        "sameness": line.sha256,
        "body": arrival.body,
    }


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
