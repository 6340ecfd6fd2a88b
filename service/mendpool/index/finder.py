"""The index: finds the reports of a question by what they share with it.

Derived from the feed and thrown away at will. It gives back the reports' numbers, or what an
answer needs of their cases; the store has the reports. Two segments at most and a tail: a new
report goes to the tail, a long tail into the small segment, and that into the large one when
it has grown past a share of it.
"""

import threading
from collections.abc import Iterable, Mapping, Sequence
from uuid import UUID

import numpy as np

from mendpool.core.evidence.candidates import Candidates, Names
from mendpool.index.later import NOTHING, Later, Seen, Seens
from mendpool.index.planes import Rows, count_of, rows_of
from mendpool.index.segment import SLICED_FROM, Forward, chosen_rows, joined, make_segment
from mendpool.index.sheaf import Sheaf, halves_of
from mendpool.index.tail import Came, Tail
from mendpool.index.told import Values, seen_of
from mendpool.index.view import Closed, Hit, Part, View

TAIL_MOST = 2048
"""A longer tail wants tidying: a search looks at each of its reports."""

_SMALL_SHARE = 8


class Finder:
    """Holds the index in memory. Any thread may call it."""

    def __init__(self, *, sliced_from: int = SLICED_FROM) -> None:
        """Begin empty.

        Args:
            sliced_from: reports from which bitmaps are used.
        """
        self._lock = threading.Lock()
        self._tidying = threading.Lock()
        self._sliced_from = sliced_from
        self._names = Names()
        self._values = Values(self._names)
        self._parts: tuple[Part, ...] = ()
        self._tail = Tail()
        self._gone: list[int] = []
        self._closed_later = NOTHING
        self._later: dict[tuple[int, int], tuple[Seen, ...]] = {}
        self._gone_meanwhile: dict[tuple[int, int], int] = {}
        self._count = 0
        self._seq = 0
        self._closed_seq = 0
        self._last = 0
        self._view: View | None = None

    @classmethod
    def of(cls, closed: Closed, *, sliced_from: int = SLICED_FROM) -> "Finder":
        """Return a finder that goes on from closed segments."""
        finder = cls(sliced_from=sliced_from)
        finder._names = Names(closed.names)
        finder._values = Values(finder._names)
        finder._parts = closed.parts
        finder._closed_later = closed.later
        finder._count = sum(count_of(part.held) for part in closed.parts)
        finder._seq = finder._closed_seq = closed.seq
        finder._last = closed.last
        return finder

    def __len__(self) -> int:
        return self._count

    @property
    def seq(self) -> int:
        """The last line of the feed that was read, as `reached` was told."""
        return self._seq

    @property
    def closed_seq(self) -> int:
        """The last line of the feed that was read when segments were closed last."""
        return self._closed_seq

    @property
    def tail_length(self) -> int:
        """How many reports and follow-ups are closed nowhere yet."""
        return len(self._tail) + len(self._later)

    def add(
        self,
        seq: int,
        report: UUID,
        terms: Iterable[str],
        whose: int = 0,
        told: Iterable[str] = (),
    ) -> None:
        """Add a report.

        Args:
            seq: its number in the store; numbers rise, and one that is not higher than all
                before was added already.
            report: its id, by which equal scores are ordered.
            terms: canonical terms.
            whose: its contributor; see `told.whose_of`.
            told: names of what else it says; see `told.told_of`.
        """
        with self._lock:
            if seq <= self._last:
                return
            numbered = self._names.number(dict.fromkeys(terms))
            more = self._names.number(told)
            self._tail.add(Came(*halves_of(report), seq, numbered, whose, more))
            self._last = seq
            self._count += 1
            self._view = None

    def follow_up(self, seq: int, report: UUID, month: str, state: str) -> None:
        """Add what was seen of a report later.

        Args:
            seq: the number of the follow-up in the store, of one row with those of reports.
            report: the report's id.
            month: when, ``YYYY-MM``.
            state: code.
        """
        with self._lock:
            if seq <= self._last:
                return
            halves = halves_of(report)
            when, what = self._names.number(seen_of(month, state))
            self._later[halves] = (*self._later.get(halves, ()), (when, what))
            self._last = seq
            self._view = None

    def remove(self, report: UUID) -> None:
        """Take a report back; one that is not held changes nothing."""
        with self._lock:
            if self._remove(halves_of(report), self._last):
                self._gone_meanwhile[halves_of(report)] = self._last
                self._later.pop(halves_of(report), None)
                self._count -= 1
                self._view = None

    def take_in(self, sheaf: Sheaf) -> None:
        """Add, take back and note all that a stretch of the feed holds.

        It gives what the lines one by one give, down to the numbers of the terms.
        """
        with self._lock:
            numbers = np.array(self._names.number(sheaf.names), dtype=np.uint32)
            rows, last = sheaf.renumbered(numbers), self._last
            fresh = np.flatnonzero(rows.seq > last)
            if len(fresh) < len(rows):
                rows = chosen_rows(rows, fresh)
            self._tail.add_all(rows)
            self._count += len(rows)
            self._last = max([last, *rows.seq[-1:].tolist(), *[one.seq for one in sheaf.later]])
            for one in sheaf.later:
                if one.seq > last:
                    seen = (int(numbers[one.month]), int(numbers[one.state]))
                    self._later[one.report] = (*self._later.get(one.report, ()), seen)
            held = self._held_among(sheaf.gone)
            self._view = None
        for report in held:
            self.remove(report)
        self.reached(sheaf.seq)

    def reached(self, seq: int) -> None:
        """Note that everything up to and including this line of the feed was taken."""
        with self._lock:
            if seq > self._seq:
                self._seq, self._view = seq, None

    def view(self) -> View:
        """Return what is held now, to be searched without a lock."""
        with self._lock:
            return self._seen()

    def search(self, weights: Mapping[str, int], limit: int = 300) -> list[Hit]:
        """Search what is held now; see `View.search`."""
        return self.view().search(weights, limit)

    def cases(self, weights: Mapping[str, int], limit: int = 300) -> Candidates:
        """Return the cases of what is found; see `View.cases`."""
        return self.view().cases(weights, limit)

    def tidy(self, *, whole: bool = False) -> Closed:
        """Put the tail into a segment; searches and additions go on meanwhile.

        Args:
            whole: make everything anew, so that no segment holds a report taken back.

        Returns:
            What was held when it began.
        """
        with self._tidying:
            with self._lock:
                view = self._seen()
                self._gone_meanwhile.clear()
            parts, later = self._merged(view, whole=whole), view.later.put_together()
            with self._lock:
                self._take(parts, view, later)
                self._closed_seq = view.seq
                return Closed(list(self._names.terms), parts, later, view.seq, view.last)

    def _merged(self, view: View, *, whole: bool) -> tuple[Part, ...]:
        large = view.parts[0] if view.parts else None
        small = [_live(part) for part in view.parts[1:]]
        small.append(_without(view.tail, view.gone))
        rows = sum(map(len, small))
        limit = max(self._sliced_from, len(large.segment) // _SMALL_SHARE if large else 0)
        if large is not None and rows <= limit and not whole:
            return (large, self._made(small)) if rows else (large,)
        return (self._made([*([_live(large)] if large else []), *small]),)

    def _made(self, rows: list[Forward]) -> Part:
        made = make_segment(joined(rows), len(self._names), sliced_from=self._sliced_from)
        return Part.whole(made)

    def _take(self, parts: tuple[Part, ...], view: View, later: Seens) -> None:
        rest, tail = self._tail.forward(), Tail()
        for row in range(len(view.tail), len(rest)):
            tail.add(_came(rest, row))
        gone = [row - len(view.tail) for row in self._gone if row >= len(view.tail)]
        # The large segment may be the very one of before, with rows taken back meanwhile.
        now = {id(part.segment): part for part in self._parts}
        self._parts = tuple(now.get(id(part.segment), part) for part in parts)
        self._tail, self._gone = tail, gone
        self._closed_later, was = later, view.later.since
        since = {h: seen[len(was.get(h, ())) :] for h, seen in self._later.items()}
        self._later = {halves: seen for halves, seen in since.items() if seen}
        for halves, upto in self._gone_meanwhile.items():
            self._remove(halves, upto)
        self._view = None

    def _seen(self) -> View:
        if self._view is None:
            gone = np.array(self._gone, dtype=np.int64)
            tail = self._tail.forward()
            self._view = View(
                self._names,
                self._values,
                self._parts,
                tail,
                gone,
                Later(self._closed_later, dict(self._later)),
                self._count,
                self._seq,
                self._last,
            )
        return self._view

    def _held_among(self, gone: Sequence[UUID]) -> list[UUID]:
        """Return those that may be held: few of many, when an index is made of an old feed."""
        if not gone:
            return []
        lows = self._tail.forward().low
        wanted = np.sort(np.array([halves_of(report)[1] for report in gone], dtype=np.uint64))
        places = np.minimum(np.searchsorted(wanted, lows), len(wanted) - 1)
        here = set(lows[wanted[places] == lows].tolist())
        closed = [part.segment for part in self._parts]
        return [
            report
            for report in gone
            if halves_of(report)[1] in here
            or any(segment.row_of(*halves_of(report)) is not None for segment in closed)
        ]

    def _remove(self, halves: tuple[int, int], upto: int) -> bool:
        """Take back what is held under an id, unless its number is higher than `upto`."""
        tail = self._tail.forward()
        here = (tail.high == np.uint64(halves[0])) & (tail.low == np.uint64(halves[1]))
        here &= tail.seq <= upto
        rows = [row for row in np.flatnonzero(here).tolist() if row not in self._gone]
        self._gone += rows
        found = bool(rows)
        for place, part in enumerate(self._parts):
            row = part.segment.row_of(*halves)
            if row is not None and part.holds(row) and part.segment.forward.seq[row] <= upto:
                parts = list(self._parts)
                parts[place] = part.without(row)
                self._parts, found = tuple(parts), True
        if found:
            self._closed_later = Later(self._closed_later, {}).without(*halves)
        return found


def _came(forward: Forward, row: int) -> Came:
    return Came(
        int(forward.high[row]),
        int(forward.low[row]),
        int(forward.seq[row]),
        forward.terms[forward.starts[row] : forward.starts[row + 1]].tolist(),
        int(forward.whose[row]),
        forward.told[forward.told_starts[row] : forward.told_starts[row + 1]].tolist(),
    )


def _live(part: Part) -> Forward:
    rows = rows_of(part.held)
    forward = part.segment.forward
    return forward if len(rows) == len(forward) else chosen_rows(forward, rows)


def _without(forward: Forward, gone: Rows) -> Forward:
    if not len(gone):
        return forward
    return chosen_rows(forward, np.setdiff1d(np.arange(len(forward)), gone))
