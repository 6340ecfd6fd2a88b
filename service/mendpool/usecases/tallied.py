"""The counts over all reports, made once for many questions.

In a pool of up to `AT_ONCE` reports they are those of the reports held at this moment: to
count so many takes less than a tenth of a second. In a larger one they are of the moment of the
newest fit, or of the last withdrawal if that came later: whoever asks then has them made apart,
and gets the former ones until they are. What was taken back is so in no count for long.

One thread counts, whoever comes meanwhile gets the former counts. Where there are none yet,
those who ask of a small pool wait for the one; of a large one a single request waits a while
and the others are told at once to come again, so that a first rush holds no threads.
"""

import threading
import time
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, NamedTuple

from mendpool.core.errors import TemporarilyImpossible
from mendpool.core.evidence.candidates import Candidates
from mendpool.core.evidence.case import Case
from mendpool.core.evidence.failing import Failures
from mendpool.core.evidence.tally import Tally, tally_of
from mendpool.usecases.learned import Held, Learned

if TYPE_CHECKING:
    from mendpool.store.pool_store import PoolStore

AT_ONCE = 2048
_WAIT_S = 2.0
_REST_S = 0.005
"""After each few hundred cases, so that counting a million leaves the answers their turn."""

Mark = tuple[int, ...]


class Counted(NamedTuple):
    """The counts, and what was asked of them already.

    Args:
        mark: of what they were made.
        failures: by what the sets were narrowed to; there are few ways to do that.
    """

    mark: Mark
    tally: Tally
    failures: dict[tuple[str | int | None, ...], Failures]


class Tallied:
    """Keeps the newest counts of one process. Safe for threads."""

    def __init__(self, at_once: int = AT_ONCE) -> None:
        """Begin with none.

        Args:
            at_once: reports up to which they are counted while someone waits.
        """
        self._at_once = at_once
        self._kept: Counted | None = None
        self._counting = threading.Lock()
        self._waiting = threading.Lock()
        self._made = threading.Event()

    def now(self, learned: Learned, store: "PoolStore") -> Counted:
        """Return the counts; see the module for how fresh they are.

        Raises:
            TemporarilyImpossible: they are being made for the first time.
        """
        held = learned.held()
        kept = self._kept
        if kept is not None and kept.mark == self._mark(held):
            return kept
        if len(held.view) <= self._at_once:
            return self._at_least_former(held, store)
        learned.do_apart(
            "count what failed", lambda: self._again(learned, store, rest_s=_REST_S)
        )
        if self._kept is None and self._waiting.acquire(blocking=False):
            try:
                self._made.wait(_WAIT_S)
            finally:
                self._waiting.release()
        if self._kept is None:
            says = "The reports are being counted for the first time; ask again in a moment."
            raise TemporarilyImpossible(says)
        return self._kept

    def _at_least_former(self, held: Held, store: "PoolStore") -> Counted:
        """Count, unless someone does: then the former counts, or his where there are none."""
        kept = self._kept
        if kept is not None and self._counting.locked():
            return kept
        return self._count(held, store, rest_s=0)

    def _mark(self, held: Held) -> Mark:
        if len(held.view) <= self._at_once:
            return (held.view.seq, len(held.vouched))
        return (held.engine.fit.reports, held.gone, -1)

    def _again(self, learned: Learned, store: "PoolStore", rest_s: float) -> None:
        held = learned.held()
        if self._kept is None or self._kept.mark != self._mark(held):
            self._count(held, store, rest_s)

    def _count(self, held: Held, store: "PoolStore", rest_s: float) -> Counted:
        before = self._kept
        # One at a time: who waited takes what the other made.
        with self._counting:
            mark, kept = self._mark(held), self._kept
            if kept is not None and (kept.mark == mark or kept is not before):
                return kept
            protections = held.engine.catalogue.sets.protections
            cases = _resting(held.view.all_cases(), held.vouched, rest_s)
            tally = tally_of(cases, protections, store.groups_elsewhere())
            self._kept = made = Counted(mark, tally, {})
        self._made.set()
        return made


def _resting(
    some_at_once: Iterable[Candidates], vouched: frozenset[int], rest_s: float
) -> Iterator[Case]:
    for some in some_at_once:
        yield from some.vouching_for(vouched)
        if rest_s:
            time.sleep(rest_s)
