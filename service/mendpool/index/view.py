"""What can be searched at one moment: closed segments, the tail, and what was taken back.

Nothing in a view changes, so that a search needs no lock. Every way of scoring gives the
exact sum of weights; which one is used goes by the number of reports alone.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mendpool.core.evidence.candidates import Candidates, Names
from mendpool.index.cases import cases_of
from mendpool.index.later import Later, Seens
from mendpool.index.planes import (
    Adder,
    Rows,
    Spare,
    Words,
    best_of,
    best_rows,
    bitmap_of,
    rows_of,
    words_for,
)
from mendpool.index.segment import Forward, Segment, chosen_rows, joined
from mendpool.index.told import Values

Sums = NDArray[np.int32]
_AT_A_TIME = 512
"""Cases that are made at once where all are wanted: a hundredth of a second's work."""
Numbered = Mapping[int, int]
"""Positive weights by the number of the term."""


class Hit(NamedTuple):
    """A report found: the number by which the store gives it, and its score."""

    seq: int
    score: int


class _Places(NamedTuple):
    """Where the reports found lie; in the order of the answer, best first, then by id."""

    part: Rows
    row: Rows
    score: Rows


class Closed(NamedTuple):
    """Closed segments that hold all there was at one moment, as they are kept on disk.

    Args:
        names: the terms by number; there may be more than the parts use.
        parts: the segments, large first.
        later: what was seen of their reports later.
        seq: the last line of the feed that is in them.
        last: the highest number of a report or follow-up in them.
    """

    names: Sequence[str]
    parts: "tuple[Part, ...]"
    later: Seens
    seq: int
    last: int


class Bench:
    """Arrays to work in for one segment, kept from one search to the next."""

    def __init__(self, rows: int) -> None:
        self._rows = words_for(rows) * 64
        self._free: list[tuple[Sums, NDArray[np.bool_]]] = []
        self.spare = Spare(words_for(rows))

    def take(self) -> tuple[Sums, NDArray[np.bool_]]:
        """Return sums and flags by row, nothing set in either."""
        try:
            return self._free.pop()
        except IndexError:
            return np.zeros(self._rows, dtype=np.int32), np.zeros(self._rows, dtype=np.bool_)

    def give(self, sums: Sums, flags: NDArray[np.bool_]) -> None:
        """Take them back, with nothing set."""
        if not self._free:
            self._free.append((sums, flags))


@dataclass(frozen=True, slots=True)
class Part:
    """A segment, the rows of it that were not taken back, and room to work in."""

    segment: Segment
    held: Words
    bench: Bench = field(compare=False)

    @classmethod
    def whole(cls, segment: Segment) -> "Part":
        """Return a segment with all its rows."""
        return cls(segment, segment.all_rows(), Bench(len(segment)))

    def without(self, row: int) -> "Part":
        """Return the same with one row taken back."""
        held = self.held.copy()
        held[row >> 6] &= ~np.uint64(1 << (row & 63))
        return Part(self.segment, held, self.bench)

    def holds(self, row: int) -> bool:
        """Tell whether a row was not taken back."""
        return bool(self.held[row >> 6] >> np.uint64(row & 63) & np.uint64(1))

    def search(self, weights: Numbered, most: int) -> tuple[Rows, Rows]:
        """Return the best rows and their sums; see `planes.best_rows`."""
        if self.segment.sliced:
            return self._by_bitmaps(weights, most)
        return self._by_rows(weights, most)

    def _by_rows(self, weights: Numbered, most: int) -> tuple[Rows, Rows]:
        sums = np.zeros(len(self.segment), dtype=np.int64)
        for term, weight in weights.items():
            sums[self.segment.rows_with(term).astype(np.int64)] += weight
        rows = np.flatnonzero(sums)
        rows = rows[(self.held[rows >> 6] >> (rows & 63).astype(np.uint64) & np.uint64(1)) > 0]
        return best_of(rows, sums[rows], most)

    def _by_bitmaps(self, weights: Numbered, most: int) -> tuple[Rows, Rows]:
        adder = Adder(self.bench.spare)
        rare: list[tuple[Rows, int]] = []
        for term, weight in weights.items():
            bitmap = self.segment.bitmap_with(term)
            if bitmap is not None:
                adder.add(bitmap, weight)
            elif len(rows := self.segment.rows_with(term)):
                rare.append((rows.astype(np.int64), weight))
        if rare:
            self._add_rare(adder, rare)
        found = best_rows(adder.planes(), self.held, most)
        adder.give_back()
        return found

    def _add_rare(self, adder: Adder, rare: list[tuple[Rows, int]]) -> None:
        """Add up the terms that few reports hold row by row, then put the sums in."""
        sums, flags = self.bench.take()
        for rows, weight in rare:
            sums[rows] += weight
        touched = np.concatenate([rows for rows, _ in rare])
        values = sums[touched]
        for digit in range(int(values.max()).bit_length()):
            here = touched[(values >> digit & 1) > 0]
            if len(here):
                flags[here] = True
                # Not one of the spare arrays: packing makes a new one each time.
                adder.put(digit, bitmap_of(flags), ours=False)
                flags[here] = False
        sums[touched] = 0
        self.bench.give(sums, flags)


@dataclass(frozen=True, slots=True)
class View:
    """See the module.

    Args:
        names: the terms by number; more may come meanwhile.
        values: what other numbers stand for.
        parts: the closed segments.
        tail: what came last.
        gone: rows of the tail that were taken back.
        later: what was seen of the reports later.
        count: how many reports are held.
        seq: the last line of the feed that is in it.
        last: the highest number of a report or follow-up in it.
    """

    names: Names
    values: Values
    parts: tuple[Part, ...]
    tail: Forward
    gone: Rows
    later: Later
    count: int
    seq: int
    last: int

    def __len__(self) -> int:
        return self.count

    def search(self, weights: Mapping[str, int], limit: int) -> list[Hit]:
        """Return at most `limit` reports by score, highest first, then by id.

        The score is the sum of the weights, positive integers, of the terms that a report
        shares with the question. Reports that share none are not found.
        """
        blocks, places = self._blocks(), self._places(weights, limit)
        return [
            Hit(int(blocks[part].seq[row]), score)
            for part, row, score in zip(*(column.tolist() for column in places), strict=True)
        ]

    def cases(self, weights: Mapping[str, int], limit: int) -> Candidates:
        """Return the cases of at most `limit` reports, in the order of `search`.

        Nothing is asked of the store: a case does not change, and what was seen of it later
        came with the feed. The words and the good readings, which only a fit learns from,
        are not in them.
        """
        rows = _gathered(self._blocks(), self._places(weights, limit))
        return cases_of(rows, self.later, self.names, self.values)

    def all_cases(self) -> Iterator[Candidates]:
        """Give every case held, some at a time, in no order that means anything."""
        for part in self.parts:
            yield from self._cases_at(part.segment.forward, rows_of(part.held))
        held = np.ones(len(self.tail), dtype=np.bool_)
        held[self.gone] = False
        yield from self._cases_at(self.tail, np.flatnonzero(held))

    def _cases_at(self, forward: Forward, rows: Rows) -> Iterator[Candidates]:
        for begin in range(0, len(rows), _AT_A_TIME):
            some = chosen_rows(forward, rows[begin : begin + _AT_A_TIME])
            yield cases_of(some, self.later, self.names, self.values)

    def _blocks(self) -> list[Forward]:
        """What lies in the segments, then in the tail."""
        return [*(part.segment.forward for part in self.parts), self.tail]

    def _places(self, weights: Mapping[str, int], limit: int) -> _Places:
        known = self.names.find(weights)
        numbered = {number: weights[term] for term, number in known.items()}
        if not numbered or limit < 1:
            none = np.zeros(0, dtype=np.int64)
            return _Places(none, none, none)
        found = [part.search(numbered, limit) for part in self.parts]
        found.append(self._search_tail(numbered))
        part = np.repeat(np.arange(len(found)), [len(rows) for rows, _ in found])
        row = np.concatenate([rows for rows, _ in found])
        score = np.concatenate([sums for _, sums in found])
        blocks = list(zip(self._blocks(), found, strict=True))
        high = np.concatenate([block.high[rows] for block, (rows, _) in blocks])
        low = np.concatenate([block.low[rows] for block, (rows, _) in blocks])
        order = np.lexsort((low, high, -score))[:limit]
        return _Places(part[order], row[order], score[order])

    def _search_tail(self, weights: Numbered) -> tuple[Rows, Rows]:
        """Score every row of the tail; its rows are in no order, so all must be told."""
        if not len(self.tail):
            return self.tail.seq, self.tail.seq
        terms, starts = self.tail.terms, self.tail.starts
        by_number = np.zeros(len(self.names), dtype=np.int64)
        by_number[list(weights)] = list(weights.values())
        upto = np.zeros(len(terms) + 1, dtype=np.int64)
        np.cumsum(by_number[terms], out=upto[1:])
        sums = upto[starts[1:]] - upto[starts[:-1]]
        sums[self.gone] = 0
        rows = np.flatnonzero(sums)
        return rows, sums[rows]


def _gathered(blocks: Sequence[Forward], places: _Places) -> Forward:
    """Return the rows at these places, in their order."""
    part, row, _ = places
    if len(part) and (part == part[0]).all():
        return chosen_rows(blocks[part[0]], row)
    # Block by block, then in the order wanted.
    order = np.argsort(part, kind="stable")
    taken = joined([chosen_rows(block, row[part == at]) for at, block in enumerate(blocks)])
    back = np.empty_like(order)
    back[order] = np.arange(len(order))
    return chosen_rows(taken, back)
