"""What was seen of reports later: the one thing about a case that comes after it."""

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mendpool.index.planes import WORD
from mendpool.index.segment import Halves

Seens = NDArray[np.uint64]
"""Four rows: the lower halves of the reports' ids, the upper, and the numbers of what was
seen of each, month and state (`told.seen_of`). In this order too, since the lower half of an
id is the one that differs most."""

Seen = tuple[int, int]
NOTHING: Seens = np.zeros((4, 0), dtype=WORD)


class Later(NamedTuple):
    """Follow-ups: those closed, and those that came since, by the halves of the id."""

    closed: Seens
    since: Mapping[tuple[int, int], tuple[Seen, ...]]

    def of(self, high: Halves, low: Halves) -> list[tuple[int, Seen]]:
        """Return what was seen of some reports, each with the report's place among them."""
        lows, highs, months, states = self.closed
        first = np.searchsorted(lows, low, "left")
        last = np.searchsorted(lows, low, "right")
        many = last - first
        places = np.repeat(np.arange(len(low)), many)
        rows = np.arange(len(places)) + np.repeat(last - np.cumsum(many), many)
        mine = highs[rows] == high[places]
        places, rows = places[mine], rows[mine]
        pairs = zip(months[rows].tolist(), states[rows].tolist(), strict=True)
        found = list(zip(places.tolist(), pairs, strict=True))
        if self.since:
            for place, halves in enumerate(zip(high.tolist(), low.tolist(), strict=True)):
                found += [(place, seen) for seen in self.since.get(halves, ())]
        return found

    def put_together(self) -> Seens:
        """Return all of them in order."""
        came = [(low, high, *one) for (high, low), seen in self.since.items() for one in seen]
        if not came:
            return self.closed
        both = np.concatenate([self.closed, np.array(came, dtype=WORD).T], axis=1)
        return both[:, np.lexsort(both[::-1])]

    def without(self, high: int, low: int) -> Seens:
        """Return those closed without a report's."""
        here = (self.closed[0] == np.uint64(low)) & (self.closed[1] == np.uint64(high))
        return self.closed[:, ~here] if here.any() else self.closed
