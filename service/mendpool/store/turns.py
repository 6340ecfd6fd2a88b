"""Work that one process at a time does for all of them, such as making a fit."""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType
from typing import Any
from zlib import crc32

from sqlalchemy import Engine

from mendpool.store.engine import reading
from mendpool.store.queueing import system_locks
from mendpool.store.room import Room

_AGAIN_S = 0.2
_LOCKS = 0x6D656E66  # any fixed number will do; the first half of every lock taken here


class Turns(Room):
    """Gives turns that hold across processes, on whatever hosts share the database."""

    @contextmanager
    def alone(self, what: str, wait_s: float = 0) -> Iterator[bool]:
        """Give the turn for `what`, or tell that someone else has it.

        It ends with the block, or with the process.

        Args:
            what: a name; different names do not wait for each other.
            wait_s: how long to wait for it.
        """
        until = time.monotonic() + wait_s
        with _lock_of(self.engine, what) as lock:
            while not (got := lock.take()) and time.monotonic() < until:
                time.sleep(_AGAIN_S)
            try:
                yield got
            finally:
                if got:
                    lock.give()


class _FileLock:
    """A lock beside an SQLite file; it is the system's, so a dead process leaves none."""

    def __init__(self, descriptor: int, system: ModuleType | None) -> None:
        self._descriptor, self._system = descriptor, system

    def take(self) -> bool:
        if self._system is None:  # no such locks here, and one process only
            return True
        try:
            self._system.flock(self._descriptor, self._system.LOCK_EX | self._system.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def give(self) -> None:
        if self._system is not None:
            self._system.flock(self._descriptor, self._system.LOCK_UN)


class _AdvisoryLock:
    """A lock of PostgreSQL that lasts as long as its connection."""

    def __init__(self, connection: Any, number: int) -> None:  # noqa: ANN401 - either pool's
        self._connection, self._number = connection, number

    def take(self) -> bool:
        return bool(self._ask("pg_try_advisory_lock"))

    def give(self) -> None:
        self._ask("pg_advisory_unlock")

    def _ask(self, function: str) -> object:
        asked = f"SELECT {function}({_LOCKS}, {self._number})"
        answer = self._connection.exec_driver_sql(asked).scalar_one()
        self._connection.commit()  # no transaction stays open while the work is done
        return answer


@contextmanager
def _lock_of(engine: Engine, what: str) -> Iterator[_FileLock | _AdvisoryLock]:
    if engine.dialect.name == "postgresql":
        with reading(engine) as connection:
            yield _AdvisoryLock(connection, crc32(what.encode()) >> 1)
        return
    # Never the database itself: closing it would drop the locks SQLite holds on it.
    with Path(f"{engine.url.database}-{what}.lock").open("ab") as file:
        yield _FileLock(file.fileno(), system_locks())
