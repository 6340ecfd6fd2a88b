"""What one member may ask in a minute and file in a day, whichever process it meets.

Each process counts for itself and asks nobody; what it counted it tells the others through
the database a piece at a time, a piece being a sixtieth of what is allowed, and then hears
what they told. So nine requests of ten cost no statement. Since it last heard, a process has
let through at most the piece it is telling and the one it gathers meanwhile: where P
processes serve a pool, at most 2 P pieces more than allowed get through, of 600 requests 40
with two processes and 160 with eight, and half that where requests come one at a time.
Nobody is ever refused for what he did not do.

The minute is the last five to six stretches of ten seconds, so it is never longer than a
minute: who keeps within his number in every minute is never refused. Clocks of hosts may
differ by a stretch; then the number is off by what falls into it.
"""

import math
import threading
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol

from mendpool.core.errors import TemporarilyImpossible

STRETCH_S = 10
STRETCHES = 6
PIECES = 60


class Told(Protocol):
    """Where processes tell each other; `store.usage` and `store.report_lists`."""

    def add_usage(self, member_id: int, more: Mapping[int, int], oldest: int) -> dict[int, int]:
        """Add to a member's counts and return everybody's."""

    def reports_by_member(self, member_id: int, since: datetime) -> int:
        """Return how many reports the member sent since then."""


@dataclass(slots=True)
class _Minute:
    """One member's last minute, by stretch."""

    all_told: dict[int, int] = field(default_factory=dict)
    telling: Counter[int] = field(default_factory=Counter)
    untold: Counter[int] = field(default_factory=Counter)
    turn: threading.Lock = field(default_factory=threading.Lock)

    def stretches(self, oldest: int, newest: int) -> dict[int, int]:
        counts = dict(self.all_told)
        for more in (self.telling, self.untold):
            for stretch, n in more.items():
                counts[stretch] = counts.get(stretch, 0) + n
        return {
            stretch: n for stretch, n in counts.items() if oldest <= stretch <= newest and n
        }


@dataclass(slots=True)
class _Day:
    """One member's day: reports known when the database was last asked, and filed since."""

    day: datetime
    known: int
    since: int = 0


class Allowances:
    """Counts for one process. Safe for threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._minutes: dict[int, _Minute] = {}
        self._days: dict[int, _Day] = {}

    def ask(self, told: Told, member_id: int, most: int, now: datetime) -> int:
        """Count a request, or say how long the member should wait with it.

        Args:
            told: where the other processes' counts are.
            member_id: who asks.
            most: how many a minute.
            now: aware.

        Returns:
            0 where it may go on, else seconds from 1 to 60; a refused one is not counted.
        """
        stretch = int(now.timestamp()) // STRETCH_S
        oldest = stretch - STRETCHES + 1
        with self._lock:
            minute = self._minutes.setdefault(member_id, _Minute())
            # Of a clock that was ahead and is put right, what it counted would stand for years.
            counts = minute.stretches(oldest, stretch + 1)
            if sum(counts.values()) >= most:
                freed = (min(counts) + STRETCHES) * STRETCH_S - now.timestamp()
                return min(60, max(1, math.ceil(freed)))
            minute.untold[stretch] += 1
            piece = _piece(most)
            if minute.untold.total() < piece:
                return 0
        with minute.turn:  # one piece at a time, or the second would be told unheard
            with self._lock:
                if minute.untold.total() < piece:
                    return 0
                minute.telling, minute.untold = minute.untold, Counter()
            self._tell(told, member_id, minute, oldest)
        return 0

    def left(self, member_id: int, most: int, now: datetime) -> tuple[int, int]:
        """Return how many more requests may come, and the seconds until there are more."""
        stretch = int(now.timestamp()) // STRETCH_S
        with self._lock:
            minute = self._minutes.get(member_id)
            counts = minute.stretches(stretch - STRETCHES + 1, stretch + 1) if minute else {}
        freed = (min(counts, default=stretch) + STRETCHES) * STRETCH_S - now.timestamp()
        return max(0, most - sum(counts.values())), max(1, math.ceil(freed))

    def file(self, told: Told, member_id: int, most: int, now: datetime) -> bool:
        """Tell whether the member may file one more report in the day of `now`, and count it.

        A report filed again counts here though it is not kept again; that only asks the
        database the sooner.
        """
        day = now.replace(hour=0, minute=0, second=0, microsecond=0)
        with self._lock:
            held = self._days.get(member_id)
            if held is not None and held.day == day and held.since + 1 < _piece(most):
                held.since += 1
                if held.known + held.since <= most:
                    return True
        known = told.reports_by_member(member_id, day)
        with self._lock:
            self._days[member_id] = _Day(day, known, 1)
        return known < most

    def _tell(self, told: Told, member_id: int, minute: _Minute, oldest: int) -> None:
        try:
            counts = told.add_usage(member_id, minute.telling, oldest)
        except TemporarilyImpossible:
            # A full disk must not keep anyone from reading; it is told with the next piece.
            with self._lock:
                minute.untold.update(minute.telling)
                minute.telling = Counter()
            return
        with self._lock:
            minute.all_told, minute.telling = counts, Counter()


def _piece(most: int) -> int:
    return max(1, most // PIECES)
