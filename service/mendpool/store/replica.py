"""A second PostgreSQL that follows the first and takes questions, search and lists off it.

Nothing acknowledged may be missed, so it is asked only where it has replayed the feed as
far as this process knows it to reach: what it wrote itself, and what it saw of the database
itself, last when the member who asks was looked up. What the feed does not tell (cases
derived again) is held to the place in the log. Behind or away, it is passed by.
"""

import logging
import threading
import time
from collections.abc import Callable
from typing import TypeVar

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DBAPIError

from mendpool.core.errors import MendpoolError
from mendpool.store.engine import make_engine, reading
from mendpool.store.lines import last_number
from mendpool.store.troubles import Undone

T = TypeVar("T")

AGAIN_S = 5
"""How long it is left alone after it did not answer."""

_log = logging.getLogger("mendpool")
_WRITTEN = "SELECT pg_current_wal_insert_lsn()"
_REPLAYED = "SELECT pg_last_wal_replay_lsn() >= CAST(%(place)s AS pg_lsn)"


class PassedBy(Exception):  # a word to the one caller, no error
    """The replica can't be asked now; the database itself can."""


class Replica:
    """Asks a replica and knows how far it must have come. Safe for threads."""

    def __init__(self, engine: Engine) -> None:
        """Take the engine of the replica; nothing is opened yet."""
        self.engine = engine
        self._lock = threading.Lock()
        self._known = 0
        self._place: str | None = None
        self._away = False
        self._left_alone_until = 0.0

    def must_reach(self, primary: Connection) -> int:
        """Note and return how far the feed reaches; every later question holds that."""
        known = last_number(primary)
        with self._lock:
            self._known = max(self._known, known)
        return known

    def must_hold_all(self, primary: Connection) -> None:
        """Note the place in the log: what was committed until now is held from here on."""
        place = str(primary.exec_driver_sql(_WRITTEN).scalar_one())
        with self._lock:
            self._place = place

    def ask(self, act: Callable[[Connection], T]) -> T:
        """Return what `act` reads here.

        Raises:
            PassedBy: the replica is behind, away, or undid what was asked.
        """
        self._be_there()
        try:
            with reading(self.engine) as connection:
                current = self._is_current(connection)
                found = act(connection) if current else None
        except Undone as error:  # its server stopped a question that was in the log's way
            raise PassedBy from error
        except (MendpoolError, DBAPIError) as error:
            self._gone(error)
            raise PassedBy from error
        self._back()
        if not current:
            raise PassedBy
        return found  # type: ignore[return-value]

    def _is_current(self, connection: Connection) -> bool:
        with self._lock:
            known, place = self._known, self._place
        if last_number(connection) < known:
            return False
        if place is None:
            return True
        if not connection.exec_driver_sql(_REPLAYED, {"place": place}).scalar():
            return False
        with self._lock:  # once there it stays so
            self._place = None if self._place == place else self._place
        return True

    def _be_there(self) -> None:
        """Let one at a time find out whether it is back; the others don't wait for it."""
        with self._lock:
            if not self._away:
                return
            now = time.monotonic()
            if now < self._left_alone_until:
                raise PassedBy
            self._left_alone_until = now + AGAIN_S

    def _gone(self, error: Exception) -> None:
        with self._lock:
            told, self._away = self._away, True
            self._left_alone_until = time.monotonic() + AGAIN_S
        if not told:
            _log.warning("the replica can't be asked, the database itself is: %s", error)

    def _back(self) -> None:
        with self._lock:
            was_away, self._away = self._away, False
        if was_away:
            _log.warning("the replica can be asked again")


def open_replica(url: str) -> Replica:
    """Return the replica at an address.

    Raises:
        MendpoolError: it can't be read, or is not PostgreSQL's.
    """
    engine = make_engine(url)
    if engine.dialect.name != "postgresql":
        raise MendpoolError("a replica is a PostgreSQL server that follows the database")
    return Replica(engine)
