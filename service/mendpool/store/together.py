"""Group commit: the writes that wait are kept in one transaction, then all are told.

A commit that is synced costs as much for thirty reports as for one. So a thread that wants
to write puts down what, and the first that finds nobody at it writes what is waiting by
then, its own and the others'; meanwhile the next ones gather. Whoever is done hands the
turn on, so nobody writes for others for ever. No thread of its own, so nothing to start, to
stop or to lose.

Nobody is told before the commit. What is refused (a conflict, say) is refused alone: an act
looks before it writes and gives the refusal back as an outcome. If one raises all the same,
everything is undone and each is tried by itself. A commit that fails fails all.
"""

import threading
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from typing import Any, TypeVar

from sqlalchemy import Connection

from mendpool.core.errors import MendpoolError, TemporarilyImpossible
from mendpool.store.engine import THREADS, WAIT_S
from mendpool.store.troubles import told_plainly

Item = TypeVar("Item")
Kept = TypeVar("Kept")
Act = Callable[[Connection, Sequence[Item]], Sequence[Kept | MendpoolError]]
"""Writes some items and gives, for each in order, what came of it or why it is refused."""

WAITING_MOST = THREADS * 4 // 5
"""So that a database that stands still never takes the last threads from those who read."""

TOGETHER_MOST = 64


def one_by_one(write: Callable[[Connection, Item], Kept]) -> Act[Item, Kept]:
    """Make an act of a function that takes one item and refuses before it writes."""

    def act(connection: Connection, items: Sequence[Item]) -> list[Kept | MendpoolError]:
        outcomes: list[Kept | MendpoolError] = []
        for item in items:
            try:
                outcomes.append(write(connection, item))
            except TemporarilyImpossible:
                raise
            except MendpoolError as refused:
                outcomes.append(refused)
        return outcomes

    return act


class _Waiting:
    """One write that waits. `woken`: it is done, or it is its thread's turn to write."""

    __slots__ = ("act", "done", "error", "item", "kept", "woken")

    def __init__(self, act: Act[Any, Any], item: object) -> None:
        self.act = act
        self.item = item
        self.woken = threading.Event()
        self.done = False
        self.kept: Any = None
        self.error: Exception | None = None


class _Undone(Exception):
    """An act raised, so that what was written with it must go."""

    def __init__(self, error: Exception) -> None:
        self.error = error
        super().__init__()


class Together:
    """Writes for many threads. One for a store."""

    def __init__(self, writing: Callable[[], AbstractContextManager[Connection]]) -> None:
        """Take what gives the one connection that may write now and commits at its end."""
        self._writing = writing
        self._lock = threading.Lock()
        self._queue: list[_Waiting] = []
        self._led = False

    def write(self, act: Act[Item, Kept], item: Item) -> Kept:
        """Have an item written and committed; returns what came of it.

        Raises:
            TemporarilyImpossible: too many are waiting, it took too long, or the commit
                failed. It was not acknowledged; to send it again is harmless.
            MendpoolError: whatever the act refuses it with.
        """
        mine = _Waiting(act, item)
        with self._lock:
            if len(self._queue) >= WAITING_MOST:
                raise TemporarilyImpossible("too many writes are waiting")
            self._queue.append(mine)
            leads = not self._led
            self._led = True
        if not leads:
            self._wait(mine)
        if not mine.done:
            self._lead()
        if mine.error is not None:
            raise mine.error
        kept: Kept = mine.kept
        return kept

    def _wait(self, mine: _Waiting) -> None:
        if mine.woken.wait(WAIT_S):
            return
        with self._lock:
            if mine in self._queue and not mine.woken.is_set():
                self._queue.remove(mine)
                raise TemporarilyImpossible("too many writes are waiting")
        # It is being written; the database's own limits bound how long that takes.
        mine.woken.wait()

    def _lead(self) -> None:
        group: list[_Waiting] = []
        self._take_in(group)
        try:
            self._write(group, joined=True)
        finally:
            with self._lock:
                if self._queue:
                    self._queue[0].woken.set()
                else:
                    self._led = False
            for waiting in group:
                if not waiting.done:
                    _fail(waiting, TemporarilyImpossible("the write was broken off"))
                waiting.woken.set()

    def _take_in(self, group: list[_Waiting]) -> None:
        with self._lock:
            room = TOGETHER_MOST - len(group)
            group += self._queue[:room]
            del self._queue[:room]

    def _write(self, group: list[_Waiting], *, joined: bool = False) -> None:
        """Write a group; `joined` takes in who has come while the turn was waited for."""
        try:
            with self._writing() as connection:
                if joined:
                    self._take_in(group)
                _act(connection, group)
        except _Undone as undone:
            if len(group) > 1:
                self._write_each(group)
            else:
                group[0].error, group[0].done = undone.error, True
        except Exception as error:  # noqa: BLE001 - told to every one of them
            for waiting in group:
                _fail(waiting, error)
        else:
            for waiting in group:
                waiting.done = True

    def _write_each(self, group: Sequence[_Waiting]) -> None:
        for number, waiting in enumerate(group):
            self._write([waiting])
            if isinstance(waiting.error, TemporarilyImpossible):
                # The next would only wait as long for the same answer.
                for left in group[number + 1 :]:
                    _fail(left, waiting.error)
                return


def _act(connection: Connection, group: Sequence[_Waiting]) -> None:
    by_act: dict[Act[Any, Any], list[_Waiting]] = {}
    for waiting in group:
        by_act.setdefault(waiting.act, []).append(waiting)
    for act, some in by_act.items():
        try:
            with told_plainly():
                outcomes = act(connection, [waiting.item for waiting in some])
        except Exception as error:
            raise _Undone(error) from error
        for waiting, outcome in zip(some, outcomes, strict=True):
            if isinstance(outcome, MendpoolError):
                waiting.error, waiting.kept = outcome, None
            else:
                waiting.error, waiting.kept = None, outcome


def _fail(waiting: _Waiting, error: Exception) -> None:
    """Fail it with an error of its own, since a raised one belongs to its thread."""
    own: MendpoolError
    if isinstance(error, MendpoolError) and not isinstance(error, TemporarilyImpossible):
        own = MendpoolError(str(error))
    else:
        says = str(error) if isinstance(error, TemporarilyImpossible) else ""
        # Of the same kind: one that the database undid is tried anew by its caller.
        kind = type(error) if isinstance(error, TemporarilyImpossible) else None
        own = (kind or TemporarilyImpossible)(says or "the database refused; nothing was kept")
    own.__cause__ = error
    waiting.kept, waiting.error, waiting.done = None, own, True
