"""Covers that steps share: taking one off costs its minutes once.

A cover that may stay off while the set is tried is paid for by the first step behind it and
by no other. One that must be closed before the set runs is shared only by the step done at
once after it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mendpool.core.evidence.bayes import Array

NO_COVER = -1
Opened = frozenset[int]


@dataclass(frozen=True, slots=True)
class Covers:
    """Which steps lie behind which cover.

    Args:
        stays: by cover, that it may stay off while the set is run.
        of_repair, of_test: the cover of each step, or `NO_COVER`.
        saved_by_repair, saved_by_test: minutes that a step takes less where it is off.
        test_runs: that a test runs the set.
    """

    stays: Sequence[bool]
    of_repair: Sequence[int]
    saved_by_repair: Sequence[float]
    of_test: Sequence[int] = ()
    saved_by_test: Sequence[float] = ()
    test_runs: Sequence[bool] = ()

    def after_repair(self, opened: Opened, repair: int) -> Opened:
        """Return what is off after a repair, which ends with the set being run."""
        own = self.of_repair[repair]
        off = opened if own == NO_COVER else opened | {own}
        return frozenset(k for k in off if self.stays[k])

    def after_test(self, opened: Opened, test: int) -> Opened:
        """Return what is off after a test."""
        off = opened
        if self.test_runs[test]:
            off = frozenset(k for k in opened if self.stays[k])
        own = self.of_test[test]
        return off if own == NO_COVER else off | {own}

    def saved(self, opened: Opened, *, repair: int | None = None, test: int = 0) -> float:
        """Return what one step saves by what is off already."""
        if repair is not None:
            behind = self.of_repair[repair] in opened
            return self.saved_by_repair[repair] if behind else 0.0
        return self.saved_by_test[test] if self.of_test[test] in opened else 0.0

    def behind(self, repairs: NDArray[np.intp]) -> NDArray[np.bool_]:
        """Return which repair (columns) lies behind which cover (rows)."""
        of = np.asarray(self.of_repair)[repairs]
        return np.asarray(of == np.arange(len(self.stays))[:, None])

    def off_after(
        self,
        opened: Opened,
        repairs: NDArray[np.intp],
        tests: NDArray[np.intp],
        results: NDArray[np.intp],
    ) -> Array:
        """Return which covers are off, one state a row: now, after each repair and result.

        Args:
            opened: what is off now.
            repairs, tests: those to look at.
            results: how many results each of the tests has.
        """
        numbers = np.arange(len(self.stays))
        now = np.zeros(len(numbers), dtype=bool)
        now[list(opened)] = True
        stays = np.asarray(self.stays, dtype=bool)
        own = np.asarray(self.of_repair, dtype=np.intp)[repairs][:, None] == numbers
        rows = [now[None, :], (own | now) & stays]
        if len(tests):
            runs = np.asarray(self.test_runs, dtype=bool)[tests][:, None]
            own = np.asarray(self.of_test, dtype=np.intp)[tests][:, None] == numbers
            rows.append(np.repeat((now & (stays | ~runs)) | own, results, axis=0))
        return np.vstack(rows).astype(np.float64)
