"""The search for cyclic garbage, kept from going through what stays again and again.

A service keeps hundreds of thousands of small objects: profiles of past cases, words, tables.
Looking through all of them for cycles takes a tenth of a second, and it fell on one question
in a hundred. Answers themselves leave no cycles behind.
"""

import gc
from collections.abc import Mapping
from time import perf_counter

YOUNG = 50_000
"""New objects that begin a search among the young ones. An answer makes ten thousand that all
go by themselves; at Python's own 700, searching for cycles among them was a tenth of it."""

LONG_S = 0.01
"""A search that took longer than this has gone through much that stays."""


class Collecting:
    """Sets aside what a long search has found alive; what is set aside is not searched again.

    It is still freed as soon as nothing refers to it. Only a cycle that was alive just then
    and dies later is never found: a few, since a search is long only where much is new.
    """

    def __init__(self, long_s: float = LONG_S) -> None:
        """Take how long a search may take."""
        self._long_s = long_s
        self._started = 0.0
        self._before = gc.get_threshold()

    def begin(self) -> None:
        """Search once, set aside what there is, and watch from now on."""
        gc.collect()
        gc.freeze()
        gc.set_threshold(YOUNG, *self._before[1:])
        gc.callbacks.append(self._searched)

    def end(self) -> None:
        """Watch no longer."""
        gc.callbacks.remove(self._searched)
        gc.set_threshold(*self._before)

    def _searched(self, phase: str, info: Mapping[str, int]) -> None:
        if info["generation"] < 2:
            return
        if phase == "start":
            self._started = perf_counter()
        elif perf_counter() - self._started >= self._long_s:
            gc.freeze()
