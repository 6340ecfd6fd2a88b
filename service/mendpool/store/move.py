"""Carry a pool, row by row, into an empty database of either kind, and prove it arrived."""

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import DDL, Connection, Engine, Table, delete, func, insert, select

from mendpool.core.errors import Conflict, MendpoolError
from mendpool.store.engine import rebuilding, writing
from mendpool.store.room import AnyRow
from mendpool.store.tables import (
    CHANGE,
    CORRECTION,
    FIT,
    FOLLOWUP,
    INVITATION,
    JUDGEMENT,
    MEMBER,
    PARCEL,
    PHOTO,
    POOL,
    REPORT,
    REPORT_COMPONENT,
    REPORT_SYMPTOM,
    SESSION,
    StoreTable,
)

# Parents before children.
_TABLES = (
    POOL,
    MEMBER,
    REPORT,
    REPORT_SYMPTOM,
    REPORT_COMPONENT,
    FOLLOWUP,
    CHANGE,
    FIT,
    PARCEL,
    INVITATION,
    SESSION,
    JUDGEMENT,
    PHOTO,
    CORRECTION,
)
_NUMBERED = (MEMBER, INVITATION, JUDGEMENT)
_PAGE = 500
_PAGE_OF = {PHOTO.name: 10}  # each up to 400 kB
_BITS = 256
_ANEW = DDL("TRUNCATE %(fullname)s CASCADE")  # type: ignore[no-untyped-call]


@dataclass(frozen=True, slots=True)
class Moved:
    """How many rows of each table are there, and a hash of all they hold."""

    rows: dict[str, int]
    sha256: str


def move(source: Engine, target: Engine) -> Moved:
    """Copy everything in one transaction; writers of the source wait meanwhile.

    Raises:
        Conflict: the target holds something.
        MendpoolError: what arrived is not what was sent; the target is left empty.
    """
    with writing(source) as giving, rebuilding(target) as taking:
        for table in _TABLES:
            if taking.execute(select(func.count()).select_from(table)).scalar_one():
                raise Conflict(
                    f"The target is not empty (table {table.name}); give a database that"
                    " only `mendpool pool migrate` has seen."
                )
        return copy_into(giving, taking)


def copy_into(giving: Connection, taking: Connection) -> Moved:
    """Copy every row within two transactions that are open, into tables without one.

    Raises:
        MendpoolError: what arrived is not what was sent; the caller rolls it back.
    """
    for table in _TABLES:
        for page in _pages(giving, table):
            names = table.columns.keys()
            rows = [dict(zip(names, row, strict=True)) for row in page]
            taking.execute(insert(table), rows)
    if taking.dialect.name == "postgresql":
        # Copied numbers do not move the sequence that the next row is numbered by.
        for table in _NUMBERED:
            highest = select(func.coalesce(func.max(table.c.id), 0) + 1).scalar_subquery()
            sequence = func.pg_get_serial_sequence(table.name, "id")
            taking.execute(select(func.setval(sequence, highest, False)))  # noqa: FBT003
    sent, there = content_of(giving), content_of(taking)
    if sent != there:
        raise MendpoolError("What arrived is not what was sent; nothing was moved.")
    return there


def empty_out(connection: Connection) -> None:
    """Delete every row of every table, within a transaction that is open.

    On PostgreSQL the tables get new files, so that damage of the old ones, and the bytes of
    what was taken back, stay behind.
    """
    anew = connection.dialect.name == "postgresql"
    for table in reversed(StoreTable.metadata.sorted_tables):
        connection.execute(_ANEW.against(table) if anew else delete(table))


def content_of(connection: Connection) -> Moved:
    """Count the rows of each table and hash all they hold, whatever the order."""
    rows: dict[str, int] = {}
    total = 0
    for table in _TABLES:
        rows[table.name] = 0
        for page in _pages(connection, table):
            rows[table.name] += len(page)
            # A sum, since the two kinds of database sort texts and ids differently.
            total += sum(_number(table, row) for row in page)
    return Moved(rows, f"{total % (1 << _BITS):064x}")


def _pages(connection: Connection, table: Table) -> Iterator[Sequence[AnyRow]]:
    page = _PAGE_OF.get(table.name, _PAGE)
    streamed = {"stream_results": True, "yield_per": page}
    yield from connection.execute(select(table), execution_options=streamed).partitions()


def _number(table: Table, row: AnyRow) -> int:
    said = repr((table.name, *(_plain(value) for value in row))).encode()
    return int.from_bytes(hashlib.sha256(said).digest())


def _plain(value: Any) -> object:  # noqa: ANN401 - any column's value
    if isinstance(value, datetime):
        aware = value if value.tzinfo else value.replace(tzinfo=UTC)
        return aware.astimezone(UTC).isoformat()
    return bytes(value) if isinstance(value, memoryview) else value
