"""Lines of the feed made ready for the index by somebody else, mostly another process.

What takes time is to read a case's text and to number its terms. A sheaf has that done, with
numbers of its own: whoever takes it in looks up each name once, and not each term.
"""

from collections.abc import Iterable
from typing import NamedTuple
from uuid import UUID

from mendpool.core.evidence.candidates import Names
from mendpool.index.segment import Forward, Numbers
from mendpool.index.tail import Came, Tail
from mendpool.index.told import seen_of

_HALF = (1 << 64) - 1

Halves = tuple[int, int]
"""The upper 64 bits of an id, and the lower."""


class Later(NamedTuple):
    """A follow-up: its number in the store, its report, and the numbers of month and state."""

    seq: int
    report: Halves
    month: int
    state: int


class Sheaf(NamedTuple):
    """Reports, follow-ups and withdrawals of a stretch of the feed.

    Args:
        seq: the last line of the stretch.
        names: what the numbers in `rows` and `later` stand for, in the order they were met.
        rows: the reports, in the order of the feed.
        later: the follow-ups, in that order.
        gone: reports taken back.
    """

    seq: int
    names: list[str]
    rows: Forward
    later: list[Later]
    gone: list[UUID]

    def renumbered(self, numbers: Numbers) -> Forward:
        """Return the reports with another number for each name."""
        rows = self.rows
        return Forward(
            rows.high,
            rows.low,
            rows.seq,
            rows.starts,
            numbers[rows.terms],
            rows.whose,
            rows.told_starts,
            numbers[rows.told],
        )


class Gatherer:
    """Takes what a `Finder` takes, and gives a sheaf of it."""

    def __init__(self) -> None:
        """Begin empty."""
        self._names = Names()
        self._tail = Tail()
        self._later: list[Later] = []
        self._gone: list[UUID] = []
        self._seq = 0

    def add(
        self, seq: int, report: UUID, terms: Iterable[str], whose: int, told: Iterable[str]
    ) -> None:
        """Add a report; see `Finder.add`."""
        numbered = self._names.number(dict.fromkeys(terms))
        more = self._names.number(told)
        self._tail.add(Came(*halves_of(report), seq, numbered, whose, more))

    def follow_up(self, seq: int, report: UUID, month: str, state: str) -> None:
        """Add what was seen of a report later; see `Finder.follow_up`."""
        when, what = self._names.number(seen_of(month, state))
        self._later.append(Later(seq, halves_of(report), when, what))

    def remove(self, report: UUID) -> None:
        """Note that a report was taken back."""
        self._gone.append(report)

    def reached(self, seq: int) -> None:
        """Note that everything up to and including this line of the feed was taken."""
        self._seq = max(self._seq, seq)

    def sheaf(self) -> Sheaf:
        """Return what was gathered."""
        return Sheaf(
            self._seq, list(self._names.terms), self._tail.forward(), self._later, self._gone
        )


def halves_of(report: UUID) -> Halves:
    """Return an id as the index holds it."""
    return report.int >> 64, report.int & _HALF
