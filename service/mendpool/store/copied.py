"""A member's own copy of a pool: the same tables, filled with lines that have their numbers.

The copy is read by the very code that reads a pool. It knows nobody: a contributor is the
opaque number the feed shows, and a row of `member` that no token opens.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, delete, func, insert, select

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
from mendpool.store.values import Change, CopiedLine

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
        StoreTable.metadata.create_all(self.engine)
        self.init_pool(pool_id, key, now)

    def count_reports(self) -> int:
        """Return how many reports are held."""
        with self._reading() as connection:
            return int(connection.execute(_COUNT).scalar_one())

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
            _add_reports(connection, fresh, members)
            _add_followups(connection, [line.change for line in fresh], members)
            _add_lines(connection, [line.change for line in fresh])
            for line in fresh:
                _take_back_or_learn(connection, line.change)

    def is_sound(self) -> bool:
        """Tell whether the file can be read from end to end (SQLite's `quick_check`)."""
        with self._reading() as connection:
            found = connection.exec_driver_sql("PRAGMA quick_check(1)").scalars().all()
        return list(found) == ["ok"]


def _members(
    connection: Connection, changes: Iterable[Change], now: datetime
) -> dict[int | None, int]:
    """Return the row of each contributor by opaque number, made where there is none."""
    known = {row.group_no: row.id for row in connection.execute(_GROUPS)}
    new = {
        change.group: change.vouched
        for change in changes
        if change.group is not None and change.group not in known
    }
    if new:
        connection.execute(insert(MEMBER), [_member(g, bool(v), now) for g, v in new.items()])
        known = {row.group_no: row.id for row in connection.execute(_GROUPS)}
    return known


def _member(group: int, vouched: bool, now: datetime) -> dict[str, Any]:  # noqa: FBT001 - a column
    name = str(group)
    return {
        "name": name,
        "role": "member",
        "pseudonym": name,
        "group_no": group,
        "token_prefix": name,
        "token_sha256": _NO_TOKEN,
        "created_at": now,
        "vouched": vouched,
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
                "body": change.body,
                "case_body": change.case_body,
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
