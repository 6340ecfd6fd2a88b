"""Sums of weights for many rows at once, 64 rows to a word, and the best rows read off them.

A plane holds one binary digit of every row's sum. Bitmaps of rows are added into the planes
with a carry-save tree (three in, a sum and a carry out: five operations on whole arrays), so
that the sums are exact whatever the order of adding.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Words = NDArray[np.uint64]
Rows = NDArray[np.int64]

WORD = np.dtype("<u8")
"""Bit `r % 64` of word `r // 64` stands for row `r`, in memory and on disk alike."""

_KEPT = 64
_FEW = 2048
"""Rows that are quicker read one by one than narrowed down further."""


def words_for(rows: int) -> int:
    """Return how many words hold a bit for each of so many rows."""
    return -(-rows // 64)


def bitmap_of(flags: NDArray[np.bool_]) -> Words:
    """Return a bitmap of flags; the number of them is a whole number of words."""
    return np.packbits(flags, bitorder="little").view(WORD)


def rows_of(bitmap: Words) -> Rows:
    """Return the rows whose bit is set, in ascending order."""
    places = np.flatnonzero(bitmap)
    octets = bitmap[places].view(np.uint8).reshape(-1, 8)
    word, bit = np.nonzero(np.unpackbits(octets, axis=1, bitorder="little"))
    rows: Rows = places[word] * 64 + bit
    return rows


def count_of(bitmap: Words) -> int:
    """Return how many bits are set."""
    return int(np.bitwise_count(bitmap).sum(dtype=np.int64))


class Spare:
    """Arrays of one length to work in, kept from one search to the next, for any thread."""

    def __init__(self, words: int) -> None:
        self._words = words
        self._free: list[Words] = []

    def take(self) -> Words:
        """Return an array with anything in it."""
        try:
            return self._free.pop()
        except IndexError:  # asked for, not looked for: another thread may be quicker
            return np.empty(self._words, dtype=WORD)

    def give(self, array: Words) -> None:
        """Take an array back."""
        if len(self._free) < _KEPT:
            self._free.append(array)


class Adder:
    """Adds bitmaps with integer weights; one for a search."""

    def __init__(self, spare: Spare) -> None:
        """Work in arrays of `spare`."""
        self._spare = spare
        # For each digit at most two planes that are still to be added; True: ours to reuse.
        self._waiting: list[list[tuple[Words, bool]]] = []

    def add(self, bitmap: Words, weight: int) -> None:
        """Add a positive weight to every row of the bitmap, which is not altered."""
        digit = 0
        while weight:
            if weight & 1:
                self.put(digit, bitmap, ours=False)
            weight >>= 1
            digit += 1

    def put(self, digit: int, plane: Words, *, ours: bool) -> None:
        """Add 2 to the power of `digit` to every row of the plane.

        Args:
            digit: 0 for ones, 1 for twos, and so on.
            plane: the rows.
            ours: it came from the spare arrays and goes back to them.
        """
        while len(self._waiting) <= digit:
            self._waiting.append([])
        waiting = self._waiting[digit]
        waiting.append((plane, ours))
        if len(waiting) == 3:
            total, carry = self._three(*(held for held, _ in waiting))
            self._give_back(waiting)
            self._waiting[digit] = [(total, True)]
            self.put(digit + 1, carry, ours=True)

    def planes(self) -> list[Words | None]:
        """Return the digits of the sums, ones first; None where a digit is 0 everywhere.

        Nothing can be added afterwards. They may be given back to the spare arrays with
        `give_back` only.
        """
        digit = 0
        while digit < len(self._waiting):
            waiting = self._waiting[digit]
            if len(waiting) == 2:
                (one, _), (other, _) = waiting
                total, carry = self._spare.take(), self._spare.take()
                np.bitwise_xor(one, other, out=total)
                np.bitwise_and(one, other, out=carry)
                self._give_back(waiting)
                self._waiting[digit] = [(total, True)]
                self.put(digit + 1, carry, ours=True)
            digit += 1
        return [held[0][0] if held else None for held in self._waiting]

    def give_back(self) -> None:
        """Give every array that is ours back to the spare ones."""
        for waiting in self._waiting:
            self._give_back(waiting)
        self._waiting = []

    def _three(self, a: Words, b: Words, c: Words) -> tuple[Words, Words]:
        total, carry, both = self._spare.take(), self._spare.take(), self._spare.take()
        np.bitwise_xor(a, b, out=total)
        np.bitwise_and(a, b, out=carry)
        np.bitwise_and(total, c, out=both)
        np.bitwise_or(carry, both, out=carry)
        np.bitwise_xor(total, c, out=total)
        self._spare.give(both)
        return total, carry

    def _give_back(self, waiting: Sequence[tuple[Words, bool]]) -> None:
        for plane, ours in waiting:
            if ours:
                self._spare.give(plane)


def sums_at(planes: Sequence[Words | None], rows: Rows) -> Rows:
    """Return the sums of some rows."""
    sums = np.zeros(len(rows), dtype=np.int64)
    word, bit = rows >> 6, (rows & 63).astype(np.uint64)
    for digit, plane in enumerate(planes):
        if plane is not None:
            sums |= ((plane[word] >> bit) & np.uint64(1)).astype(np.int64) << digit
    return sums


def best_rows(planes: Sequence[Words | None], among: Words, most: int) -> tuple[Rows, Rows]:
    """Return at most `most` rows of the highest sums above 0, and their sums.

    Best first; of equal sums the lower row comes first, and stays when there are too many.

    Args:
        planes: as `Adder.planes` gives them.
        among: the rows to choose from.
        most: 1 or more.
    """
    sure = np.zeros_like(among)
    may = among
    counted = floor = 0
    left = count_of(among)
    for digit in range(len(planes) - 1, -1, -1):
        plane = planes[digit]
        if plane is None:
            continue
        if floor and counted + left <= max(most, _FEW):
            break
        both = may & plane
        here = count_of(both)
        if counted + here > most:
            may, left, floor = both, here, floor + (1 << digit)
        else:
            sure |= both
            counted += here
            may = may & ~plane
            left -= here
    if floor:  # else those left have none of the terms
        sure |= may
    rows = rows_of(sure)
    return best_of(rows, sums_at(planes, rows), most)


def best_of(rows: Rows, sums: Rows, most: int) -> tuple[Rows, Rows]:
    """Return at most `most` of ascending rows by sum, highest first, then by row."""
    if len(rows) > most:
        # Everything that ties with the last place stays in until the rows have decided.
        last = np.partition(sums, len(sums) - most)[len(sums) - most]
        kept = sums >= last
        rows, sums = rows[kept], sums[kept]
    order = np.argsort(-sums, kind="stable")[:most]
    return rows[order], sums[order]
