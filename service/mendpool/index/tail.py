"""The reports that came last, not yet in a segment: few, and scored one by one."""

from collections.abc import Sequence
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from mendpool.index.planes import Rows
from mendpool.index.segment import Forward, Numbers

_ROOM = 256


class Came(NamedTuple):
    """A report as it came; the fields are those of `Forward`."""

    high: int
    low: int
    seq: int
    terms: Sequence[int]
    whose: int
    told: Sequence[int]


class Tail:
    """Grows at its end; what was handed out stays as it was.

    A longer array takes the place of one that is full, and what is written lies behind the
    end of every view, so that readers need no lock.
    """

    def __init__(self) -> None:
        """Begin empty."""
        self._rows = 0
        self._high = np.zeros(_ROOM, dtype=np.uint64)
        self._low = np.zeros(_ROOM, dtype=np.uint64)
        self._seq = np.zeros(_ROOM, dtype=np.int64)
        self._whose = np.zeros(_ROOM, dtype=np.int64)
        self._terms = _Lists()
        self._told = _Lists()

    def __len__(self) -> int:
        return self._rows

    def add(self, came: Came) -> None:
        """Add a report; the caller knows that it is new."""
        row = self._rows
        if row == len(self._seq):
            self._high, self._low = _longer(self._high), _longer(self._low)
            self._seq, self._whose = _longer(self._seq), _longer(self._whose)
        self._high[row], self._low[row] = came.high, came.low
        self._seq[row], self._whose[row] = came.seq, came.whose
        self._terms.add(row, came.terms)
        self._told.add(row, came.told)
        self._rows = row + 1

    def add_all(self, rows: Forward) -> None:
        """Add reports; the caller knows that they are new."""
        first, last = self._rows, self._rows + len(rows)
        while last >= len(self._seq):
            self._high, self._low = _longer(self._high), _longer(self._low)
            self._seq, self._whose = _longer(self._seq), _longer(self._whose)
        self._high[first:last], self._low[first:last] = rows.high, rows.low
        self._seq[first:last], self._whose[first:last] = rows.seq, rows.whose
        self._terms.add_all(first, rows.starts, rows.terms)
        self._told.add_all(first, rows.told_starts, rows.told)
        self._rows = last

    def forward(self) -> Forward:
        """Return the rows held now."""
        rows = self._rows
        return Forward(
            self._high[:rows],
            self._low[:rows],
            self._seq[:rows],
            *self._terms.upto(rows),
            self._whose[:rows],
            *self._told.upto(rows),
        )


class _Lists:
    """Numbers row after row, and where those of each begin."""

    def __init__(self) -> None:
        self._starts = np.zeros(_ROOM + 1, dtype=np.int64)
        self._values = np.zeros(_ROOM * 16, dtype=np.uint32)
        self._used = 0

    def add(self, row: int, values: Sequence[int]) -> None:
        end = self._used + len(values)
        if row + 1 == len(self._starts):
            self._starts = _longer(self._starts)
        while end > len(self._values):
            self._values = _longer(self._values)
        self._values[self._used : end] = values
        self._starts[row + 1] = end
        self._used = end

    def add_all(self, row: int, starts: Rows, values: Numbers) -> None:
        end = self._used + len(values)
        while row + len(starts) > len(self._starts):
            self._starts = _longer(self._starts)
        while end > len(self._values):
            self._values = _longer(self._values)
        self._values[self._used : end] = values
        self._starts[row + 1 : row + len(starts)] = starts[1:] + self._used
        self._used = end

    def upto(self, rows: int) -> tuple[Rows, Numbers]:
        return self._starts[: rows + 1], self._values[: int(self._starts[rows])]


_Kind = TypeVar("_Kind", bound=np.generic)


def _longer(array: NDArray[_Kind]) -> NDArray[_Kind]:
    return np.concatenate([array, np.zeros_like(array)])
