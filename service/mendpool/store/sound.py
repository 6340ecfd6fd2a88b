"""Whether a database is sound: its pages, its feed, and each row against the feed's line.

What is found is told in numbers and places, never in words of a report.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from threading import Timer
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Engine, Table, func, select
from sqlalchemy.exc import DBAPIError

from mendpool.core.errors import MendpoolError, TemporarilyImpossible
from mendpool.store.engine import reading, steady_reading
from mendpool.store.tables import CHANGE, FIT, FOLLOWUP, REPORT, StoreTable
from mendpool.store.troubles import BROKEN, TookTooLong, tells_of_damage, was_interrupted

_FAULTS_MOST = 10
RESTORE = "Stop the service and run `mendpool pool restore FILE --over` with a good backup."


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that is not as it should be.

    Args:
        part: what was looked at: database, feed, index, cases or privacy.
        says: what is wrong, in a sentence.
        todo: what to do next.
    """

    part: str
    says: str
    todo: str


def quickly_sound(engine: Engine, most_s: float = 10) -> bool:
    """Look through the pages of an SQLite file, or through the tables of a PostgreSQL.

    Takes about the time of reading the file once; of a PostgreSQL, without long texts. A
    large one that is not in memory takes minutes, which nobody has in a storm: it is given
    up then, and what is damaged is met when it is read.

    Args:
        engine: of the database.
        most_s: seconds after which it is given up; on PostgreSQL a single count's.

    Returns:
        Whether all of it was looked at.

    Raises:
        MendpoolError: it is damaged, in one sentence.
        TemporarilyImpossible: it can't be looked at now, or not by this account.
    """
    if engine.dialect.name == "sqlite":
        return _file_sound(engine, most_s)
    try:
        with steady_reading(engine) as connection:
            limit = f"SET LOCAL statement_timeout = {max(1, round(most_s * 1000))}"
            connection.exec_driver_sql(limit)
            cut = any(is_cut(connection, table) for table in StoreTable.metadata.sorted_tables)
    except TookTooLong:
        return False
    except DBAPIError as error:
        if not tells_of_damage(error):
            raise
        raise MendpoolError(BROKEN) from error
    if cut:
        raise MendpoolError(BROKEN)
    return True


def _file_sound(engine: Engine, most_s: float) -> bool:
    with reading(engine) as connection:
        # From a thread of its own: a library of before 3.41 asks nobody while it looks.
        raw: Any = connection.connection.driver_connection
        giving_up = Timer(most_s, raw.interrupt)
        giving_up.start()
        try:
            said = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar()
        except DBAPIError as error:
            if not was_interrupted(error):
                raise
            return False
        finally:
            giving_up.cancel()
            giving_up.join()
    if said != "ok":
        raise MendpoolError("the database file is damaged: restore a backup")
    return True


def gap_in_feed(engine: Engine) -> str | None:
    """Say how many lines of the feed are missing; None where it is whole."""
    with reading(engine) as connection:
        return _gap(connection)


def database_findings(engine: Engine) -> list[Finding]:
    """Look at every page, index and row, then at the feed.

    A database that can't be read gives one finding and no more.

    Raises:
        TemporarilyImpossible: it can't be looked at now, or not by this account.
    """
    found: list[Finding] = []
    try:
        # Of one moment, for someone may be writing.
        moment = reading if engine.dialect.name == "sqlite" else steady_reading
        with moment(engine) as connection:
            found += _pages(connection)
            if not found:
                found += _feed(connection)
    except TemporarilyImpossible:
        raise
    except (MendpoolError, DBAPIError, ValueError, LookupError) as error:
        if isinstance(error, DBAPIError) and not tells_of_damage(error):
            raise
        # Damaged rows can also come out as values that are no date or no id.
        says = str(error) if isinstance(error, MendpoolError) else "a row can't be read"
        found.append(Finding("database", says, RESTORE))
    return found


def _pages(connection: Connection) -> Iterator[Finding]:
    if connection.dialect.name == "sqlite":
        check = f"PRAGMA integrity_check({_FAULTS_MOST})"
        faults = [row[0] for row in connection.exec_driver_sql(check) if row[0] != "ok"]
        if faults:
            many = "or more " if len(faults) == _FAULTS_MOST else ""
            yield Finding("database", f"{len(faults)} {many}faults in the file", RESTORE)
            return
        orphans = len(connection.exec_driver_sql("PRAGMA foreign_key_check").all())
        if orphans:
            yield Finding("database", f"{orphans} rows belong to none", RESTORE)
    # PostgreSQL checks a page's sum when it is read, so each is read.
    for table in StoreTable.metadata.sorted_tables:
        streamed = {"stream_results": True, "yield_per": 500}
        for page in connection.execute(select(table), execution_options=streamed).partitions():
            len(page)
        if connection.dialect.name == "postgresql" and is_cut(connection, table):
            yield Finding("database", f"rows of table {table.name} are missing", RESTORE)


def is_cut(connection: Connection, table: Table) -> bool:
    """Count a PostgreSQL's table by its file and by its index, which are to agree.

    A file that was cut short is no fault to whoever reads it through: it has fewer rows.

    Raises:
        MendpoolError: a page can't be read.
    """
    counted = []
    _may_use(connection, "bitmapscan", "off")
    for through, index in (("on", "off"), ("off", "on")):
        _may_use(connection, "seqscan", through)
        _may_use(connection, "indexonlyscan", index)
        counted.append(connection.execute(select(func.count()).select_from(table)).scalar_one())
    _may_use(connection, "seqscan", "on")
    return counted[0] != counted[1]


def _may_use(connection: Connection, way: str, word: str) -> None:
    """Let the server read tables in a way, or not, until the transaction ends."""
    local = True
    connection.execute(select(func.set_config(f"enable_{way}", word, local)))


def _gap(connection: Connection) -> str | None:
    count, first, last = connection.execute(
        select(func.count(), func.min(CHANGE.c.seq), func.max(CHANGE.c.seq))
    ).one()
    if not count or (first == 1 and last == count):
        return None
    return f"the feed has a gap: {last - count} of {last} lines are missing"


def _feed(connection: Connection) -> Iterator[Finding]:
    if (says := _gap(connection)) is not None:
        yield Finding("feed", says, RESTORE)
    lines = {
        kind: set(
            connection.execute(select(CHANGE.c.seq).where(CHANGE.c.kind == kind)).scalars()
        )
        for kind in ("report", "followup", "fit")
    }
    for table, kind in ((REPORT, "report"), (FOLLOWUP, "followup"), (FIT, "fit")):
        rows = set(connection.execute(select(table.c.seq)).scalars())
        if unsaid := rows - lines[kind]:
            yield Finding("feed", f"{_some(unsaid)} without a line of the feed", RESTORE)
        if kind == "report" and (lost := lines[kind] - rows):
            yield Finding("feed", f"{_some(lost)} of the feed that are not there", RESTORE)
    told = set(withdrawals(connection))
    gone = set(
        connection.execute(
            select(REPORT.c.id).where(REPORT.c.withdrawn_at.is_not(None))
        ).scalars()
    )
    if gone - told:
        yield Finding("feed", f"{len(gone - told)} reports erased without a line", RESTORE)
    held = set(connection.execute(select(REPORT.c.id)).scalars())
    if back := (told & held) - gone:
        says = f"{len(back)} reports were taken back and are there"
        yield Finding("privacy", says, "Withdraw them again, each by its member or a steward.")


def withdrawals(connection: Connection) -> list[UUID]:
    """Return the reports that the feed says were taken back, oldest first."""
    asked = select(CHANGE.c.ref).where(CHANGE.c.kind == "withdrawal").order_by(CHANGE.c.seq)
    return [UUID(ref) for ref in connection.execute(asked).scalars()]


def _some(seqs: set[int]) -> str:
    named = ", ".join(map(str, sorted(seqs)[:5]))
    return f"{len(seqs)} rows ({named}{', …' if len(seqs) > 5 else ''})"
