"""The reports that came last, not yet in a segment: few, and scored one by one."""

from collections.abc import Sequence
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from mendpool.index.segment import Forward

_ROOM = 256


class Tail:
    """Grows at its end; what was handed out stays as it was.

    A longer array takes the place of one that is full, and what is written lies behind the
    end of every view, so that readers need no lock.
    """

    def __init__(self) -> None:
        """Begin empty."""
        self._rows = self._used = 0
        self._high = np.zeros(_ROOM, dtype=np.uint64)
        self._low = np.zeros(_ROOM, dtype=np.uint64)
        self._seq = np.zeros(_ROOM, dtype=np.int64)
        self._starts = np.zeros(_ROOM + 1, dtype=np.int64)
        self._terms = np.zeros(_ROOM * 16, dtype=np.uint32)

    def __len__(self) -> int:
        return self._rows

    def add(self, halves: tuple[int, int], seq: int, terms: Sequence[int]) -> None:
        """Add a report under the two halves of its id; the caller knows that it is new."""
        row, end = self._rows, self._used + len(terms)
        if row == len(self._seq):
            self._high, self._low = _longer(self._high), _longer(self._low)
            self._seq, self._starts = _longer(self._seq), _longer(self._starts)
        while end > len(self._terms):
            self._terms = _longer(self._terms)
        self._high[row], self._low[row] = halves
        self._seq[row] = seq
        self._terms[self._used : end] = terms
        self._starts[row + 1] = end
        self._rows, self._used = row + 1, end

    def forward(self) -> Forward:
        """Return the rows held now."""
        rows = self._rows
        return Forward(
            self._high[:rows],
            self._low[:rows],
            self._seq[:rows],
            self._starts[: rows + 1],
            self._terms[: self._used],
        )


_Kind = TypeVar("_Kind", bound=np.generic)


def _longer(array: NDArray[_Kind]) -> NDArray[_Kind]:
    return np.concatenate([array, np.zeros_like(array)])
