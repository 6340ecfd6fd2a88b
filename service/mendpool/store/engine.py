"""Opens the database: the only module that picks a driver or knows a dialect's habits.

SQLite. One library a process: two in one process would drop each other's file locks. Its
versions 3.7.0 to 3.51.2 can corrupt a write-ahead log that two connections write and
checkpoint at once (sqlite.org/changes.html, entry 3.51.3), so an older one gets the
rollback journal. Every commit is synced. A write takes its lock when it begins: a
transaction that reads first and writes later fails at once when another wrote in between,
however long the timeout.

PostgreSQL. Writers take one advisory lock before they take a number of the feed and give
it back with the commit, so that whoever sees a number sees all before it.
"""

import importlib
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any, Literal

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError

from mendpool.core.errors import MendpoolError, TemporarilyImpossible
from mendpool.store.direct import run
from mendpool.store.troubles import told_plainly

Journal = Literal["wal", "rollback"]
Begin = Literal["read", "write", "rebuild", "none"]

WAIT_S = 5
REBUILD_WAIT_S = 60
STATEMENT_LIMIT_S = 10
SAFE_WAL = (3, 51, 3)  # sqlite.org/changes.html: the WAL-reset fault is mended here
THREADS = 40  # the thread pool that runs plain `def` routes

_BEGIN = "mendpool_begin"
_FEED_LOCK = 0x6D656E64  # any fixed numbers will do; these two are ours in this database
_REBUILD_LOCK = 0x6D656E65


@cache
def sqlite_library() -> ModuleType:
    """Return the one SQLite module of this process.

    Returns:
        ``pysqlite3.dbapi2`` where it is installed and its library is sound in
        write-ahead mode, else the standard library's ``sqlite3``.
    """
    try:
        bundled = importlib.import_module("pysqlite3.dbapi2")
    except ImportError:
        pass
    else:
        if bundled.sqlite_version_info >= SAFE_WAL:
            return bundled
    return importlib.import_module("sqlite3")


def wal_is_safe() -> bool:
    """Say whether this process's SQLite library may use the write-ahead log."""
    return bool(sqlite_library().sqlite_version_info >= SAFE_WAL)


def make_engine(url: str, *, journal: Journal | None = None) -> Engine:
    """Make the engine of a database; nothing is opened yet.

    Args:
        url: ``sqlite:///path`` or ``postgresql://…``; psycopg 3 is used for the second.
        journal: for SQLite, the journal to use; None takes the write-ahead log where the
            library is sound in it and the rollback journal elsewhere.

    Raises:
        MendpoolError: the address can't be read, names another kind of database or one
            in memory (which threads can't share), or asks for a write-ahead log of a
            library that may corrupt it.
    """
    try:
        parsed = make_url(url)
    except ArgumentError as error:
        raise MendpoolError("the database address can't be read") from error
    kind = parsed.get_backend_name()
    if kind == "sqlite":
        return _sqlite_engine(parsed, journal)
    if kind in ("postgresql", "postgres"):
        return _postgres_engine(parsed)
    raise MendpoolError(f"`{kind}` is no database mendpool can use: sqlite or postgresql")


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """Give a connection to read with; what is left open is rolled back."""
    with told_plainly(), engine.connect() as connection:
        yield connection


@contextmanager
def looking_up(engine: Engine) -> Iterator[Connection]:
    """Give a connection for one short look, each statement a transaction of its own.

    A transaction around it would cost PostgreSQL two more messages than the look itself.
    SQLite begins none either, so long as the look goes by the driver alone (see `direct`).
    """
    with told_plainly(), engine.connect() as connection:
        if engine.dialect.name == "postgresql":
            connection.execution_options(isolation_level="AUTOCOMMIT")
        yield connection


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """Give the one connection that may write now; committed when the block ends well."""
    with told_plainly(), _beginning(engine, "write") as connection:
        if engine.dialect.name == "postgresql":
            run(connection, f"SELECT pg_advisory_xact_lock({_FEED_LOCK})")
        yield connection


@contextmanager
def rebuilding(engine: Engine) -> Iterator[Connection]:
    """Give the connection that may change the schema; the next one waits its turn.

    On SQLite foreign keys are off meanwhile, because replacing a table would delete its
    children; they are checked before the commit.
    """
    try:
        with told_plainly(), _beginning(engine, "rebuild") as connection:
            if engine.dialect.name == "postgresql":
                connection.exec_driver_sql("SET LOCAL statement_timeout = 0")
                connection.exec_driver_sql(f"SET LOCAL lock_timeout = '{REBUILD_WAIT_S}s'")
                connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_REBUILD_LOCK})")
            yield connection
            if engine.dialect.name == "sqlite":
                orphans = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
                if orphans:
                    raise MendpoolError(f"the change would leave {len(orphans)} orphan rows")
    finally:
        engine.dispose()  # no later user gets a connection whose foreign keys are off


def erase_remnants(engine: Engine) -> None:
    """Rewrite the database without what was deleted, so that no old byte is left.

    SQLite overwrites what is deleted at once (secure_delete), but the log still holds the
    old pages and the file keeps its empty ones; this empties the one and drops the others.
    It takes the time of copying the file and keeps writers waiting meanwhile, on PostgreSQL
    readers too.

    Raises:
        TemporarilyImpossible: another connection was in the way; run it again.
    """
    with told_plainly(), engine.connect().execution_options(**{_BEGIN: "none"}) as connection:
        if engine.dialect.name == "postgresql":
            connection.execution_options(isolation_level="AUTOCOMMIT")
            connection.detach()  # its limits are lifted, so it is not for the next user
            connection.exec_driver_sql("SET statement_timeout = 0")
            connection.exec_driver_sql(
                "VACUUM (FULL) report, report_symptom, report_component, followup, fit, parcel,"
                " photo, correction, member, invitation, session"
            )
            return
        connection.exec_driver_sql("VACUUM")
        busy = connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)").all()[0][0]
        if busy:
            raise TemporarilyImpossible("a reader keeps the log of the database from emptying")


def snapshot_into(engine: Engine, file: Path) -> None:
    """Write an SQLite database as it is at one moment into an empty file; writers go on.

    What was deleted is not in it: the file is written anew, row by row.
    """
    with told_plainly(), engine.connect().execution_options(**{_BEGIN: "none"}) as connection:
        connection.exec_driver_sql("VACUUM INTO ?", (str(file),))


@contextmanager
def steady_reading(engine: Engine) -> Iterator[Connection]:
    """Give a connection that sees one moment of a PostgreSQL, however long it reads."""
    with told_plainly(), engine.connect() as connection:
        connection.execution_options(isolation_level="REPEATABLE READ")
        connection.exec_driver_sql("SET LOCAL statement_timeout = 0")
        yield connection


@contextmanager
def _beginning(engine: Engine, begin: Begin) -> Iterator[Connection]:
    # On the connection: an engine with options of its own takes longer to make than a row.
    with engine.connect() as connection:
        connection.execution_options(**{_BEGIN: begin})
        with connection.begin():
            yield connection


def _sqlite_engine(url: URL, journal: Journal | None) -> Engine:
    if url.database in (None, "", ":memory:") or "memory" in str(url.query.get("mode", "")):
        raise MendpoolError("a database in memory can't be shared by threads: name a file")
    if journal == "wal" and not wal_is_safe():
        raise MendpoolError("this SQLite library may corrupt a write-ahead log")
    chosen: Journal = journal or ("wal" if wal_is_safe() else "rollback")
    engine = create_engine(
        url.set(drivername="sqlite"),
        module=sqlite_library(),
        connect_args={"timeout": WAIT_S},
        pool_size=8,
        max_overflow=THREADS - 8,
        pool_timeout=WAIT_S,
    )
    event.listen(engine, "connect", lambda raw, _record: _prepare_sqlite(raw, chosen))
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _prepare_sqlite(raw: Any, journal: Journal) -> None:  # noqa: ANN401 - either driver's class
    raw.isolation_level = None  # the driver begins nothing by itself
    mode = "wal" if journal == "wal" else "delete"
    raw.execute(f"PRAGMA busy_timeout = {WAIT_S * 1000}")
    _set_journal(raw, mode)
    raw.execute("PRAGMA synchronous = FULL")
    raw.execute("PRAGMA foreign_keys = ON")
    raw.execute("PRAGMA secure_delete = ON")
    synced = raw.execute("PRAGMA synchronous").fetchone()[0]
    checked = raw.execute("PRAGMA foreign_keys").fetchone()[0]
    if (synced, checked) != (2, 1):
        raise MendpoolError("SQLite refused to sync its commits or to check its keys")


def _set_journal(raw: Any, mode: str) -> None:  # noqa: ANN401 - either driver's own class
    # Changing the mode needs the file alone and does not wait for it: two processes that
    # open a new file at the same moment would fail without another try.
    until = time.monotonic() + WAIT_S
    while True:
        try:
            got = raw.execute(f"PRAGMA journal_mode = {mode}").fetchone()[0]
        except sqlite_library().OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > until:
                raise
        else:
            if got == mode:
                return
            if time.monotonic() > until:
                raise MendpoolError(f"SQLite keeps its journal in mode {got}, not {mode}")
        time.sleep(0.05)


def _begin_sqlite(connection: Connection) -> None:
    begin = connection.get_execution_options().get(_BEGIN, "read")
    if begin == "read":
        # It waits for nobody and can't fail, so the driver does it without SQLAlchemy, which
        # would take as long for it as for the one SELECT that mostly follows.
        connection.connection.cursor().execute("BEGIN")
        return
    if begin == "rebuild":
        # Inside a transaction the first of these would do nothing.
        connection.exec_driver_sql("PRAGMA foreign_keys = OFF")
        connection.exec_driver_sql(f"PRAGMA busy_timeout = {REBUILD_WAIT_S * 1000}")
    if begin != "none":
        run(connection, "BEGIN IMMEDIATE")


def _postgres_engine(url: URL) -> Engine:
    asked = url.query.get("options", ())
    given = asked if isinstance(asked, str) else " ".join(asked)
    limits = (
        f"{given} -c statement_timeout={STATEMENT_LIMIT_S * 1000}"
        f" -c lock_timeout={WAIT_S * 1000}"
        # A write reads the last number after it holds the lock, so it needs a fresh look.
        " -c default_transaction_isolation=read\\ committed -c timezone=UTC"
    )
    return create_engine(
        url.set(drivername="postgresql+psycopg"),
        connect_args={"connect_timeout": WAIT_S, "options": limits},
        pool_pre_ping=True,
        pool_size=10,
        max_overflow=10,
        pool_timeout=WAIT_S,
    )
