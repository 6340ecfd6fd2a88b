"""A member's own copy of a pool: the same tables, filled with lines that have their numbers.

The copy is read by the very code that reads a pool. It knows nobody: a contributor is the
opaque number the feed shows, and a row of `member` that no token opens. Since it lies on a
telephone or an old laptop, reports and their cases are packed, and it does without the indexes
of long lists.
"""

import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any, cast
from uuid import UUID

from sqlalchemy import Connection, delete, func, insert, select
from sqlalchemy.schema import CreateIndex, CreateTable

from mendpool.core.errors import MendpoolError
from mendpool.store.fits import replace_fit
from mendpool.store.lines import last_number
from mendpool.store.pool_store import PoolStore
from mendpool.store.tables import (
    CHANGE,
    FOLLOWUP,
    MEMBER,
    REPORT,
    REPORT_COMPONENT,
    REPORT_SYMPTOM,
    StoreTable,
)
from mendpool.store.values import (
    FOREIGN_PSEUDONYM,
    CaseRow,
    Change,
    CopiedLine,
    HeldCase,
    ReportFilters,
    StoredReport,
)

_FIELDS = (
    b'{"machine":{"make":"","model":"","fuel":"diesel","fuel":"petrol","excitation":"brushed-'
    b'avr","cooling":"liquid","cooling":"air","phases":1,"starting":"electric","starting":"'
    b'recoil","drive":"own-engine","control":"manual","governor":"mechanical","duty":"standby'
    b'","rated_kva":,"rated_kw":,"rated_volts":230.0,"rated_hz":50.0,"rated_rpm":1500,"start_'
    b'volts":12,"hours":},"complaint":"","happened":"2026-0","region":"","note":"","before":['
    b'"protection_defeated":false,"continues":"","causes":[{"role":"root","cause":{"component'
    b'":"","failure":"worn"},"outcome":"repaired","observations":[{"check":"","found":"right"'
    b'},{"check":"","found":"within"}],"attempts":[{"component":"","failure":"","action":"rep'
    b'lace","part":"","minutes":,"cost":,"with_next":true,"result":"no-change"},{"component":'
    b'"","action":"clean","result":"fixed"}],"symptoms":["no-output"],"readings":[{"quantity"'
    b':"voltage-ac","point":"output","condition":"no-load","value":,"unit":"V","verdict":"wit'
    b'hin","low":,"high":,"source":"","means":"","said":"","stage":"found"}],"cautions":[{"co'
    b'de":"carbon-monoxide"},{"code":"fuel-fire"},{"code":"moving-parts"},{"code":"live-test"'
    b'}],"removed":{},"given":{"symptoms":[],"readings":[]}}{"id":"0","kind":{"fuel":"diesel"'
    b',"fuel":"petrol","cooling":"air","starting":"recoil","drive":"own-engine","control":"ma'
    b'nual"},"terms":["s:no-output","a:","r:","=within","=right","=low","k:fuel=diesel","k:fu'
    b'el=petrol","k:excitation=brushed-avr","k:cooling=air","k:starting=recoil","k:drive=own-'
    b'engine","k:control=manual","w:run","w:not-","w:engin","w:start","w:load","w:"],"symptom'
    b's":["no-output"],"absent":[],"found":[],"causes":["/worn"],"attempts":[["avr","replace"'
    b',null,"no-change",1,20.0,null],["brushes","clean",null,"fixed",1,null,null]],"outcome":'
    b'"repaired","defeated":false,"words":[],"happened":"2026-0","healthy":[]}'
)
"""What reports are packed against: the names of their fields. Never altered but with the
format of copies, since a copy packed against another can't be read."""

_KEPT_INDEXES = frozenset({"ix_change_withdrawal", "ix_followup_report_id"})
_NO_TOKEN = "0" * 64
_UNSAID = "-"
"""In place of the keyed hash by which the pool itself knows the same body again."""

_GROUPS = select(MEMBER.c.group_no, MEMBER.c.id)
_COUNT = select(func.count()).select_from(REPORT)

Rows = list[dict[str, Any]]


class CopyStore(PoolStore):
    """Keeps a copy. One process at a time may write to it."""

    def begin(self, pool_id: UUID, key: bytes, now: datetime) -> None:
        """Make the tables of a copy of that pool.

        Args:
            pool_id: of the pool that is copied.
            key: a secret of the copy's own; the pool's never leaves it.
            now: aware.
        """
        with self._writing() as connection:
            for table in StoreTable.metadata.sorted_tables:
                connection.execute(CreateTable(table, if_not_exists=True))
                for index in table.indexes:
                    if index.name in _KEPT_INDEXES:
                        connection.execute(CreateIndex(index, if_not_exists=True))
        self.init_pool(pool_id, key, now)

    def count_reports(self) -> int:
        """Return how many reports are held."""
        with self._reading() as connection:
            return int(connection.execute(_COUNT).scalar_one())

    def get_report(self, report_id: UUID) -> StoredReport:
        """Return a report with its follow-ups; see `ReportReading`."""
        return _whole(super().get_report(report_id))

    def get_reports(self, report_ids: Iterable[UUID]) -> list[StoredReport]:
        """Return the reports asked for; see `ReportReading`."""
        return [_whole(report) for report in super().get_reports(report_ids)]

    def list_reports(
        self, filters: ReportFilters, before_seq: int | None, limit: int
    ) -> list[StoredReport]:
        """Return reports that pass the filters, newest first; see `ReportReading`."""
        return [_whole(report) for report in super().list_reports(filters, before_seq, limit)]

    def cases_after(self, seq: int, limit: int) -> list[CaseRow]:
        """Return lines of the feed as the index reads them; see `Feed`."""
        rows = super().cases_after(seq, limit)
        return [_whole_row(row) if row.kind == "report" else row for row in rows]

    def changes_after(self, seq: int, limit: int) -> list[Change]:
        """Return lines of the feed with their bodies, to be handed on; see `Feed`."""
        return [
            replace(line, body=unpacked(line.body), case_body=unpacked(line.case_body))
            if line.kind == "report" and line.body is not None
            else line
            for line in super().changes_after(seq, limit)
        ]

    def cases_by_seq(self, seqs: Sequence[int]) -> list[HeldCase]:
        """Return the cases of these numbers; see `Cases`."""
        return [
            replace(held, case_body=unpacked(held.case_body))
            for held in super().cases_by_seq(seqs)
        ]

    def take(self, lines: Sequence[CopiedLine], now: datetime) -> None:
        """Keep lines of the feed, in order, all of them or none.

        Lines taken before are passed over. What was withdrawn is erased.

        Args:
            lines: rising by number.
            now: aware; noted with each contributor that is new.
        """
        with self._writing() as connection:
            last = last_number(connection)
            fresh = [line for line in lines if line.change.seq > last]
            if not fresh:
                return
            members = _members(connection, (line.change for line in fresh), now)
            for some in _until_told_again(fresh):
                _add_reports(connection, some, members)
                _add_followups(connection, [line.change for line in some], members)
                _add_lines(connection, [line.change for line in some])
                for line in some:
                    _take_back_or_learn(connection, line.change)

    def is_sound(self) -> bool:
        """Tell whether the file can be read from end to end (SQLite's `quick_check`)."""
        with self._reading() as connection:
            found = connection.exec_driver_sql("PRAGMA quick_check(1)").scalars().all()
        return list(found) == ["ok"]


def packed(text: str) -> bytes:
    """Return a report's body as a copy keeps it."""
    packing = zlib.compressobj(9, zdict=_FIELDS)
    return packing.compress(text.encode()) + packing.flush()


def unpacked(kept: object) -> str:
    """Return what was packed.

    The column says text, and the driver gives back the bytes that were put there.

    Raises:
        MendpoolError: it is damaged.
    """
    try:
        packing = zlib.decompressobj(zdict=_FIELDS)
        return packing.decompress(cast("bytes", kept)).decode()
    except (zlib.error, UnicodeDecodeError, TypeError) as error:
        raise MendpoolError("a report in this copy is damaged") from error


def _whole(report: StoredReport) -> StoredReport:
    return replace(report, body=unpacked(report.body))


def _whole_row(row: CaseRow) -> CaseRow:
    if row.case_body is None:
        return row
    return replace(row, case_body=unpacked(row.case_body))


def _until_told_again(lines: Sequence[CopiedLine]) -> Iterator[list[CopiedLine]]:
    """Cut before a report that was taken back earlier on: another line came for it."""
    some: list[CopiedLine] = []
    gone: set[UUID | None] = set()
    for line in lines:
        if line.facets is not None and line.change.report_id in gone:
            yield some
            some, gone = [], set()
        elif line.change.kind == "withdrawal":
            gone.add(line.change.report_id)
        some.append(line)
    yield some


def _members(
    connection: Connection, changes: Iterable[Change], now: datetime
) -> dict[int | None, int]:
    """Return the row of each contributor by opaque number, made where there is none."""
    known = {row.group_no: row.id for row in connection.execute(_GROUPS)}
    new = {
        change.group: change
        for change in changes
        if change.group is not None and change.group not in known
    }
    if new:
        connection.execute(insert(MEMBER), [_member(g, c, now) for g, c in new.items()])
        known = {row.group_no: row.id for row in connection.execute(_GROUPS)}
    return known


def _member(group: int, change: Change, now: datetime) -> dict[str, Any]:
    name = f"{FOREIGN_PSEUDONYM if change.elsewhere else ''}{group}"
    return {
        "name": name,
        "role": "member",
        "pseudonym": name,
        "group_no": group,
        "token_prefix": name,
        "token_sha256": _NO_TOKEN,
        "created_at": now,
        "vouched": bool(change.vouched),
    }


def _add_reports(
    connection: Connection, lines: Sequence[CopiedLine], members: dict[int | None, int]
) -> None:
    reports: Rows = []
    symptoms: Rows = []
    components: Rows = []
    for line in lines:
        change, facets = line.change, line.facets
        if facets is None:
            continue
        reports.append(
            {
                "id": change.report_id,
                "seq": change.seq,
                "member_id": members[change.group],
                "received_at": change.at,
                "sameness": _UNSAID,
                "body": packed(str(change.body)),
                "case_body": packed(str(change.case_body)),
                "derived_version": change.derived_version,
                "fuel": facets.fuel,
                "excitation": facets.excitation,
                "outcome": facets.outcome,
                "happened": facets.happened,
            }
        )
        for code in sorted(set(facets.symptoms)):
            symptoms.append({"symptom": code, "report_seq": change.seq})
        for code in sorted(set(facets.components)):
            components.append({"component": code, "report_seq": change.seq})
    for table, rows in (
        (REPORT, reports),
        (REPORT_SYMPTOM, symptoms),
        (REPORT_COMPONENT, components),
    ):
        if rows:
            connection.execute(insert(table), rows)


def _add_followups(
    connection: Connection, changes: Sequence[Change], members: dict[int | None, int]
) -> None:
    told = [c for c in changes if c.kind == "followup" and c.body is not None]
    if not told:
        return
    asked = {change.report_id for change in told}
    held = set(connection.execute(select(REPORT.c.id).where(REPORT.c.id.in_(asked))).scalars())
    rows = [
        {
            "id": UUID(change.ref),
            "seq": change.seq,
            "report_id": change.report_id,
            "member_id": members[change.group],
            "received_at": change.at,
            "sameness": _UNSAID,
            "body": change.body,
        }
        for change in told
        if change.report_id in held  # else it was taken back while the page was made
    ]
    if rows:
        connection.execute(insert(FOLLOWUP), rows)


def _add_lines(connection: Connection, changes: Sequence[Change]) -> None:
    rows = [{"seq": c.seq, "kind": c.kind, "ref": c.ref, "at": c.at} for c in changes]
    connection.execute(insert(CHANGE), rows)


def _take_back_or_learn(connection: Connection, change: Change) -> None:
    if change.kind == "withdrawal":
        # Its follow-ups and filters go with it.
        connection.execute(delete(REPORT).where(REPORT.c.id == change.report_id))
    elif change.fit is not None:
        replace_fit(connection, change.fit, 0)
