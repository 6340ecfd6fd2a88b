"""A driver's trouble, told plainly: what a caller can do, not what the driver said.

No message carries an address, a path or a value; the driver's own words stay in the
chained exception, for the log.
"""

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as PoolTimeout

from mendpool.core.errors import MendpoolError, TemporarilyImpossible

NO_TABLES = "the database lacks tables of this version: run `mendpool pool migrate`"

# Primary result codes, sqlite.org/rescode.html.
_SQLITE_LATER = {
    5: "the database is busy with another write",
    6: "the database is busy with another write",
    7: "the database is out of memory",
    8: "the database is read-only",
    10: "the disk of the database can't be read or written",
    13: "the disk of the database is full",
    14: "the database file can't be opened: is its folder there, and may it be written?",
    15: "the database is busy with another write",
}
_SQLITE_INTERRUPTED = 9
_SQLITE_BROKEN = {
    11: "the database file is damaged: restore a backup",
    26: "the database file is no database: restore a backup, or name another file",
}

# SQLSTATE, PostgreSQL documentation, appendix A: whole codes before classes.
_POSTGRES_LATER = {
    "25006": "the database is read-only",
    "42501": "the database's account lacks a right to the pool's tables: let their owner "
    "GRANT it, or name their owner in MENDPOOL_DATABASE_URL",
    "53100": "the disk of the database is full",
    "53300": "the database takes no more connections",
    "55P03": "the database is busy with another write",
    "57014": "the database took too long",
    "08": "the database can't be reached",
    "28": "the database does not let this account in",
    "3D": "the database named is not there",
    "40": "the database is busy with another write",
    "53": "the database is short of resources",
    "55": "the database is busy",
    "57": "the database is stopping or starting",
    "58": "the database can't read or write its files",
}
# Data or an index that is damaged, a file that is gone: trying again won't help.
_POSTGRES_BROKEN = ("XX001", "XX002", "58P01")
BROKEN = "the database's files are damaged: restore a backup"
# An error of ours or of the set-up, such as a syntax error: it says nothing of the files.
_POSTGRES_ASKED_WRONGLY = "42"
_POSTGRES_TOO_LONG = "57014"
_POSTGRES_NO_TABLE = ("42P01", "42703")
# Serialisation failure and deadlock: nothing of it was kept, and the same again may work.
_POSTGRES_UNDONE = ("40001", "40P01")


class Undone(TemporarilyImpossible):
    """The database undid the whole transaction for the sake of another one."""


class TookTooLong(TemporarilyImpossible):
    """A statement was ended by the limit that was set for it."""


@contextmanager
def told_plainly() -> Iterator[None]:
    """Turn what a driver raises in the block into an error of mendpool's tree.

    Raises:
        TemporarilyImpossible: busy, full, read-only, out of reach, or out of connections.
        TookTooLong: a statement took longer than it may.
        Undone: the transaction lost against another; see `again`.
        MendpoolError: the files are damaged or have no tables.
    """
    try:
        yield
    except PoolTimeout as error:
        raise TemporarilyImpossible("every connection to the database is in use") from error
    except DBAPIError as error:
        plain = _plain(error)
        if plain is None:
            raise
        raise plain from error


def tells_of_damage(error: DBAPIError) -> bool:
    """Tell whether an error that has no plain words may come of damaged files."""
    state = getattr(error.orig, "sqlstate", None)
    return not str(state or "").startswith(_POSTGRES_ASKED_WRONGLY)


def was_interrupted(error: DBAPIError) -> bool:
    """Tell whether SQLite ended a statement because it was told to."""
    return getattr(error.orig, "sqlite_errorcode", None) == _SQLITE_INTERRUPTED


def _plain(error: DBAPIError) -> MendpoolError | None:
    cause = error.orig
    if error.connection_invalidated:
        return TemporarilyImpossible("the connection to the database was lost")
    code = getattr(cause, "sqlite_errorcode", None)
    if isinstance(code, int):
        return _plain_sqlite(code & 0xFF, str(cause))
    state = getattr(cause, "sqlstate", "")
    return None if state == "" else _plain_postgres(state)


def _plain_sqlite(code: int, said: str) -> MendpoolError | None:
    if code in _SQLITE_LATER:
        return TemporarilyImpossible(_SQLITE_LATER[code])
    if code in _SQLITE_BROKEN:
        return MendpoolError(_SQLITE_BROKEN[code])
    if said.startswith(("no such table", "no such column")):
        return MendpoolError(NO_TABLES)
    return None


def _plain_postgres(state: str | None) -> MendpoolError | None:
    if state is None:  # no server answered, so there is no code
        return TemporarilyImpossible("the database can't be reached")
    if state in _POSTGRES_BROKEN:
        return MendpoolError(BROKEN)
    if state in _POSTGRES_NO_TABLE:
        return MendpoolError(NO_TABLES)
    if state in _POSTGRES_UNDONE:
        return Undone(_POSTGRES_LATER["40"])
    if state == _POSTGRES_TOO_LONG:
        return TookTooLong(_POSTGRES_LATER[state])
    says = _POSTGRES_LATER.get(state) or _POSTGRES_LATER.get(state[:2])
    return None if says is None else TemporarilyImpossible(says)
