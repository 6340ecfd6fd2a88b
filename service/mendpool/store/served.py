"""Whether someone serves a pool now, so that nobody changes the file under a service.

SQLite: every service holds a shared lock of the system beside the file, for as long as its
process lives; who wants the pool for himself asks for the whole lock. PostgreSQL: the server
knows who is connected, and a service always is.
"""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from types import ModuleType
from typing import IO

from sqlalchemy import Engine

from mendpool.core.errors import Conflict, MendpoolError
from mendpool.store.engine import reading
from mendpool.store.queueing import system_locks

_BEING_REPLACED = "The pool is being restored; serve it when that is done."
_IS_SERVED = "The pool is being served; stop the service first."
_OTHERS = (
    "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database()"
    " AND pid <> pg_backend_pid() AND backend_type = 'client backend'"
)


@contextmanager
def serving_it(engine: Engine) -> Iterator[None]:
    """Be known to serve the pool until the block or the process ends.

    Raises:
        Conflict: someone is replacing it.
    """
    with ExitStack() as stack:
        locks = system_locks()
        if engine.dialect.name == "sqlite" and locks is not None:
            file = stack.enter_context(_lock_file(engine))
            if not _taken(locks, file, locks.LOCK_SH):
                raise Conflict(_BEING_REPLACED)
        yield


@contextmanager
def nobody_serving(engine: Engine) -> Iterator[None]:
    """Keep services out until the block ends.

    On PostgreSQL only those that are there already are found; a service that begins
    meanwhile waits for the locks of the tables.

    Raises:
        Conflict: it is being served.
    """
    with ExitStack() as stack:
        locks = system_locks()
        if engine.dialect.name == "postgresql":
            with reading(engine) as connection:
                if connection.exec_driver_sql(_OTHERS).scalar_one():
                    raise Conflict(_IS_SERVED)
        elif locks is not None:
            file = stack.enter_context(_lock_file(engine))
            if not _taken(locks, file, locks.LOCK_EX):
                raise Conflict(_IS_SERVED)
        yield


def _lock_file(engine: Engine) -> IO[bytes]:
    # Never the database itself: closing it would drop the locks SQLite holds on it.
    try:
        return Path(f"{engine.url.database}-served.lock").open("ab")
    except OSError as error:
        raise MendpoolError("The folder of the database can't be written.") from error


def _taken(locks: ModuleType, file: IO[bytes], how: int) -> bool:
    try:
        locks.flock(file.fileno(), how | locks.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:  # a file system without such locks
        return True
    return True
