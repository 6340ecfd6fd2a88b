"""Covers that steps share: taking one off costs its minutes once.

A cover that may stay off while the set is tried is paid for by the first step behind it and
by no other. One that must be closed before the set runs is shared only by the step done at
once after it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from mendpool.core.evidence.bayes import Array

NO_COVER = -1
Opened = frozenset[int]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Covers:
    """Which steps lie behind which cover.

    Args:
        stays: by cover, that it may stay off while the set is run.
        of_repair, of_test: the cover of each step, or `NO_COVER`.
        saved_by_repair, saved_by_test: minutes that a step takes less where it is off.
        test_runs: that a test runs the set.
        minutes_of_repair, minutes_of_test, stay: the lists as arrays.
    """

    stays: Sequence[bool]
    of_repair: Sequence[int]
    saved_by_repair: Sequence[float]
    of_test: Sequence[int] = ()
    saved_by_test: Sequence[float] = ()
    test_runs: Sequence[bool] = ()
    minutes_of_repair: Array = field(init=False, repr=False, compare=False)
    minutes_of_test: Array = field(init=False, repr=False, compare=False)
    stay: Flags = field(init=False, repr=False, compare=False)
    _repair: Flags = field(init=False, repr=False, compare=False)
    _test: Flags = field(init=False, repr=False, compare=False)
    _runs: Flags = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Lay out once as arrays, for every belief that is weighed, what the lists say."""
        numbers = np.arange(len(self.stays))
        arrays = {
            "minutes_of_repair": np.array(self.saved_by_repair, dtype=np.float64),
            "minutes_of_test": np.array(self.saved_by_test, dtype=np.float64),
            "stay": np.array(self.stays, dtype=bool),
            "_repair": np.array(self.of_repair, dtype=np.intp)[:, None] == numbers,
            "_test": np.array(self.of_test, dtype=np.intp)[:, None] == numbers,
            "_runs": np.array(self.test_runs, dtype=bool)[:, None],
        }
        for name, array in arrays.items():
            object.__setattr__(self, name, array)

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
        return self._repair[repairs].T

    def off(self, opened: Opened) -> Flags:
        """Return by cover whether it is off."""
        off = np.zeros(len(self.stays), dtype=bool)
        off[list(opened)] = True
        return off

    def saved_now(
        self, opened: Opened, repairs: NDArray[np.intp], tests: NDArray[np.intp]
    ) -> Array:
        """Return what each of these repairs, then tests, saves by what is off already."""
        off = self.off(opened)
        of_repairs = (self._repair[repairs] & off).any(axis=1) * self.minutes_of_repair[repairs]
        of_tests = (self._test[tests] & off).any(axis=1) * self.minutes_of_test[tests]
        return np.concatenate([of_repairs, of_tests])

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
        now = self.off(opened)
        rows = [now[None, :], (self._repair[repairs] | now) & self.stay]
        if len(tests):
            after = (now & (self.stay | ~self._runs[tests])) | self._test[tests]
            rows.append(np.repeat(after, results, axis=0))
        return np.concatenate(rows).astype(np.float64)
