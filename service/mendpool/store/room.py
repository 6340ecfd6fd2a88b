"""What every part of the store room stands on: one engine and one turn to write."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import Connection, Engine, Row

from mendpool.core.errors import TemporarilyImpossible
from mendpool.store.engine import WAIT_S, reading, writing

AnyRow = Row[*tuple[Any, ...]]


class Room:
    """Holds the engine.

    Writers of one process queue here for their turn. Left to the database, eight threads
    of an SQLite file back off and retry, and the slowest waits a second for nothing.
    """

    def __init__(self, engine: Engine) -> None:
        """Stand on `engine`, as `make_engine` made it."""
        self.engine = engine
        self._turn = threading.Lock()

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        with reading(self.engine) as connection:
            yield connection

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        if not self._turn.acquire(timeout=WAIT_S):
            raise TemporarilyImpossible("too many writes are waiting")
        try:
            with writing(self.engine) as connection:
                yield connection
        finally:
            self._turn.release()
