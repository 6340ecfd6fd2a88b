"""What every part of the store room stands on: one engine and one turn to write."""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

from sqlalchemy import Connection, Engine, Row

from mendpool.core.errors import TemporarilyImpossible
from mendpool.store.engine import WAIT_S, reading, writing
from mendpool.store.queueing import turn_of_processes
from mendpool.store.replica import PassedBy, Replica
from mendpool.store.together import Act, Together

AnyRow = Row[*tuple[Any, ...]]
Found = TypeVar("Found")
Item = TypeVar("Item")
Kept = TypeVar("Kept")


class Room:
    """Holds the engine.

    Writers of one process queue here for their turn, and those of a host that share an
    SQLite file queue beside it. Left to the database, they back off and retry, and the
    slowest waits a second for nothing. PostgreSQL has a queue of its own.
    """

    replica: Replica | None = None
    """Where questions, search and lists are read if there is one; for main to set."""

    def __init__(self, engine: Engine) -> None:
        """Stand on `engine`, as `make_engine` made it."""
        self.engine = engine
        self._turn = threading.Lock()
        self._processes = turn_of_processes(engine)
        self._together = Together(self._writing)

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        with reading(self.engine) as connection:
            yield connection

    def _look(self, act: Callable[[Connection], Found]) -> Found:
        """Return what `act` reads, on the replica if it has all this process knows of.

        Args:
            act: only reads, and may be begun twice.
        """
        if self.replica is not None:
            try:
                return self.replica.ask(act)
            except PassedBy:
                pass
        with self._reading() as connection:
            return act(connection)

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        if not self._turn.acquire(timeout=WAIT_S):
            raise TemporarilyImpossible("too many writes are waiting")
        try:
            with self._processes(), writing(self.engine) as connection:
                yield connection
                self._own_write_is_to_be_seen(connection)
        finally:
            self._turn.release()

    def _own_write_is_to_be_seen(self, connection: Connection) -> None:
        # Noted before the commit: too early costs a question to the database itself at most.
        if self.replica is not None and connection.in_transaction():
            self.replica.must_reach(connection)

    def _write(self, act: Act[Item, Kept], item: Item) -> Kept:
        """Write together with whoever else is waiting; see `together`."""
        return self._together.write(act, item)
