"""A closed block of reports: what each says by term, and which reports hold each term.

Nothing in it changes once it is made, so any number of threads search it, and its arrays may
lie in a file. Rows are in the order of the reports' ids: of equal scores the lower row is
the lower id.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mendpool.index.planes import WORD, Rows, Words, bitmap_of, words_for

Numbers = NDArray[np.uint32]
Halves = NDArray[np.uint64]

SLICED_FROM = 16_384
"""Rows from which bitmaps are quicker than adding row by row (measured: tests.bench.scale)."""

_DENSE = 256
"""A term that one row in so many holds is kept as a bitmap besides."""


_PIECE = 65_536
"""Rows or terms that are worked on at once where a whole pool of them would take memory."""


class Forward(NamedTuple):
    """Reports and their terms, row by row.

    Args:
        high: the upper 64 bits of each id.
        low: the lower.
        seq: the number by which the store gives the report.
        starts: where each row's terms begin, and at last where they end.
        terms: numbers of terms, row after row.
        whose: who contributed each, and what of it is yes or no; see `told.whose_of`.
        told_starts: where what else each report says begins, and at last where it ends.
        told: numbers of what else they say, row after row; see `told.told_of`.
    """

    high: Halves
    low: Halves
    seq: Rows
    starts: Rows
    terms: Numbers
    whose: Rows
    told_starts: Rows
    told: Numbers

    def __len__(self) -> int:
        return len(self.seq)


@dataclass(frozen=True, slots=True)
class Segment:
    """See the module.

    Args:
        forward: the rows, by id.
        begins: where the rows of each term begin in `rows`, and at last where they end.
        rows: ascending for each term that is not dense.
        dense: for each term its place in `bitmaps`, -1 for none.
        bitmaps: one for each dense term, padded to whole words.
    """

    forward: Forward
    begins: Rows
    rows: Numbers
    dense: NDArray[np.int32]
    bitmaps: Words

    def __len__(self) -> int:
        return len(self.forward.seq)

    @property
    def sliced(self) -> bool:
        """Whether it is large enough to be searched by bitmaps."""
        return len(self.bitmaps) > 0

    def rows_with(self, term: int) -> Numbers:
        """Return the rows that hold a term that is not dense, ascending."""
        if term + 1 >= len(self.begins):
            return self.rows[:0]
        return self.rows[self.begins[term] : self.begins[term + 1]]

    def bitmap_with(self, term: int) -> Words | None:
        """Return the bitmap of a dense term; None for any other."""
        place = int(self.dense[term]) if term < len(self.dense) else -1
        return None if place < 0 else self.bitmaps[place]

    def row_of(self, high: int, low: int) -> int | None:
        """Return the row of an id."""
        wanted = np.uint64(high)
        first = int(np.searchsorted(self.forward.high, wanted, "left"))
        last = int(np.searchsorted(self.forward.high, wanted, "right"))
        found = np.flatnonzero(self.forward.low[first:last] == np.uint64(low))
        return first + int(found[0]) if len(found) else None

    def all_rows(self) -> Words:
        """Return a new bitmap of every row."""
        flags = np.zeros(words_for(len(self)) * 64, dtype=np.bool_)
        flags[: len(self)] = True
        return bitmap_of(flags)


def make_segment(forward: Forward, terms: int, *, sliced_from: int = SLICED_FROM) -> Segment:
    """Return the segment of reports in any order; no id may come twice.

    Args:
        forward: the reports.
        terms: how many terms are numbered; every number in `forward` is less.
        sliced_from: rows from which bitmaps are made.
    """
    forward = by_id(forward)
    rows = len(forward)
    counts = _counts(forward.terms, terms)
    pairs = _pairs(forward)
    held = pairs.view(np.dtype("<u4"))[::2]  # the lower halves, where they lie
    if rows < sliced_from:
        none = np.full(terms, -1, dtype=np.int32)
        begins = _begins(counts)
        return Segment(forward, begins, held.copy(), none, np.zeros((0, 0), dtype=WORD))
    common = (counts * _DENSE >= rows) & (counts > 0)
    dense, bitmaps = _bitmaps(held, counts, common, rows)
    held = held[np.repeat(~common, counts)]
    return Segment(forward, _begins(np.where(common, 0, counts)), held, dense, bitmaps)


def _counts(terms: Numbers, most: int) -> Rows:
    """Return how many rows hold each term; piece by piece, for little memory."""
    counts = np.zeros(most, dtype=np.int64)
    for start in range(0, len(terms), _PIECE):
        counts += np.bincount(terms[start : start + _PIECE], minlength=most)
    return counts


def _pairs(forward: Forward) -> Halves:
    """Return every (term, row) in order, the term in the upper half of a number.

    One number for a pair sorts faster than a sort of terms that keeps the rows' order.
    """
    pairs = np.empty(len(forward.terms), dtype=WORD)
    starts = forward.starts
    for row in range(0, len(forward), _PIECE):
        last = min(len(forward), row + _PIECE)
        lengths = np.diff(starts[row : last + 1])
        piece = pairs[starts[row] : starts[last]]
        piece[:] = forward.terms[starts[row] : starts[last]]
        piece <<= np.uint64(32)
        piece |= np.repeat(np.arange(row, last, dtype=np.uint64), lengths)
    pairs.sort()
    return pairs


def _begins(counts: Rows) -> Rows:
    begins = np.zeros(len(counts) + 1, dtype=np.int64)
    np.cumsum(counts, out=begins[1:])
    return begins


def _bitmaps(
    held: Numbers, counts: Rows, common: NDArray[np.bool_], rows: int
) -> tuple[NDArray[np.int32], Words]:
    """Return the place of each common term, -1 for the others, and their bitmaps."""
    begins, chosen = _begins(counts), np.flatnonzero(common)
    dense = np.full(len(counts), -1, dtype=np.int32)
    dense[chosen] = np.arange(len(chosen), dtype=np.int32)
    bitmaps = np.zeros((len(chosen), words_for(rows)), dtype=WORD)
    flags = np.zeros(words_for(rows) * 64, dtype=np.bool_)
    for place, term in enumerate(chosen):
        flags[:] = False
        flags[held[begins[term] : begins[term + 1]]] = True
        bitmaps[place] = bitmap_of(flags)
    return dense, bitmaps


def by_id(forward: Forward) -> Forward:
    """Return the same reports in the order of their ids."""
    high, low = forward.high, forward.low
    ordered = (high[:-1] < high[1:]) | ((high[:-1] == high[1:]) & (low[:-1] < low[1:]))
    if ordered.all():
        return forward
    return chosen_rows(forward, np.lexsort((low, high)))


def chosen_rows(forward: Forward, rows: Rows) -> Forward:
    """Return some rows, in the order given."""
    return Forward(
        forward.high[rows],
        forward.low[rows],
        forward.seq[rows],
        *chosen(forward.starts, forward.terms, rows),
        forward.whose[rows],
        *chosen(forward.told_starts, forward.told, rows),
    )


def chosen(begins: Rows, values: Numbers, rows: Rows) -> tuple[Rows, Numbers]:
    """Return where the values of some rows begin once laid out anew, and those values."""
    lengths = begins[rows + 1] - begins[rows]
    starts = np.zeros(len(rows) + 1, dtype=np.int64)
    np.cumsum(lengths, out=starts[1:])
    chosen = np.empty(int(starts[-1]), dtype=np.uint32)
    for row in range(0, len(rows), _PIECE):
        piece = rows[row : row + _PIECE]
        first, last = int(starts[row]), int(starts[row + len(piece)])
        shift = begins[piece] - starts[row : row + len(piece)]
        places = np.repeat(shift, lengths[row : row + _PIECE])
        places += np.arange(first, last)
        chosen[first:last] = values[places]
    return starts, chosen


def joined(parts: list[Forward]) -> Forward:
    """Return the rows of several, one after another."""
    return Forward(
        np.concatenate([part.high for part in parts]),
        np.concatenate([part.low for part in parts]),
        np.concatenate([part.seq for part in parts]),
        _starts_of([part.starts for part in parts]),
        np.concatenate([part.terms for part in parts]),
        np.concatenate([part.whose for part in parts]),
        _starts_of([part.told_starts for part in parts]),
        np.concatenate([part.told for part in parts]),
    )


def _starts_of(parts: list[Rows]) -> Rows:
    starts = np.zeros(sum(len(part) - 1 for part in parts) + 1, dtype=np.int64)
    np.cumsum(np.concatenate([np.diff(part) for part in parts]), out=starts[1:])
    return starts
