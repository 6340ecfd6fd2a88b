"""The queue of the processes that write one SQLite file.

SQLite has no queue: who finds the file locked sleeps, longer each time, and tries again, and
who has just written is the first to try. Here there are two locks of the system beside the
file. Whoever is next holds the first while waiting for the second, so a process that writes
without a pause lets each of the others in between. The locks order writers and guard
nothing: where they can't be had, the database's own lock still does. A process that dies
leaves none.
"""

import importlib
import os
import threading
import time
import weakref
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext, suppress
from types import ModuleType

from sqlalchemy import Engine

from mendpool.core.errors import TemporarilyImpossible
from mendpool.store.engine import WAIT_S

_SHORTEST_S = 0.0001
_LONGEST_S = 0.002


def turn_of_processes(engine: Engine) -> Callable[[], AbstractContextManager[None]]:
    """Return what gives this process its turn to write; for one thread at a time.

    Raises:
        TemporarilyImpossible: the others kept it for `WAIT_S`.
    """
    system = system_locks()
    if engine.dialect.name != "sqlite" or system is None:
        return nullcontext
    return _Queue(f"{engine.url.database}-{{}}.lock", system).turn


class _Queue:
    def __init__(self, path: str, system: ModuleType) -> None:
        self._path = path
        self._system = system
        self._files: tuple[int, int] | None = None
        self._opening = threading.Lock()

    @contextmanager
    def turn(self) -> Iterator[None]:
        files = self._opened()
        if files is None:
            yield  # a folder that can't be written: the database itself will say so
            return
        after, now = files
        until = time.monotonic() + WAIT_S
        self._take(after, until)
        try:
            self._take(now, until)
        finally:
            self._give(after)
        try:
            yield
        finally:
            self._give(now)

    def _opened(self) -> tuple[int, int] | None:
        with self._opening:
            if self._files is None:
                try:
                    self._files = (self._open("next"), self._open("turn"))
                except OSError:
                    return None
            return self._files

    def _open(self, which: str) -> int:
        file = os.open(self._path.format(which), os.O_RDWR | os.O_CREAT, 0o600)
        weakref.finalize(self, os.close, file)
        return file

    def _take(self, file: int, until: float) -> None:
        # Not waiting in the system: there a wait has no end.
        pause = _SHORTEST_S
        while True:
            try:
                self._system.flock(file, self._system.LOCK_EX | self._system.LOCK_NB)
            except BlockingIOError:
                if time.monotonic() > until:
                    raise TemporarilyImpossible(
                        "the database is busy with another write"
                    ) from None
                time.sleep(pause)
                pause = min(pause * 1.5, _LONGEST_S)
            except OSError:
                return  # a file system without such locks
            else:
                return

    def _give(self, file: int) -> None:
        with suppress(OSError):
            self._system.flock(file, self._system.LOCK_UN)


def system_locks() -> ModuleType | None:
    """Return the module that locks files, None where there are no such locks."""
    try:
        return importlib.import_module("fcntl")
    except ImportError:
        return None
