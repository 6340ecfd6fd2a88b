"""Lays reports out for the EM over attempts: which causes each may have, what was done.

What the rounds of the EM do not change is worked out once, here: what the complaint told, the
cause as reported, parts found good or bad, and everything that was done to other parts.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mendpool.core.evidence.attempts_board import (
    STRAY,
    Board,
    CauseTable,
    Cures,
    Row,
    as_one,
    shares_of,
)
from mendpool.core.evidence.bayes import Array
from mendpool.core.evidence.ledger import (
    BETTER,
    WORKED,
    Block,
    Names,
    Numbers,
    Ragged,
    gathered,
)

REPORTED = 0.9
"""What a cause is worth because its reporter named it, before the attempts are looked at.
They can talk it down: people name what they changed last. A choice, not an estimate: of the
simulator's reports that name a cause in full 98 in 100 are right, and people are less sure."""

FOUND_GOOD, FOUND_BAD, RAN_BETTER = 0.15, 5.0, 4.0
"""How many times likelier a part is at fault that was found good, found bad, or that made the
set run better when it was seen to (a fifth of right repairs that fail do, one in twenty of
wrong ones seem to; common practice)."""

UNCALLED = 0.1
"""A cause that was named or cured though the complaint does not call for it counts a tenth of
the mean of those that it calls for."""

_AT_ONCE = 2048
"""Reports laid out at a time, with every cause in a column."""

_MANY = 128


class Layout:
    """Lays reports of one book of names out.

    Args:
        expected: the catalogue's figures.
        names: the book of names; reports written later need another layout.
        likelihoods: P(what was seen | cause), attempts apart, of each report of a block: a
            column for each cause; 0 for those not worth a thought. A report that has none
            may have any cause.
    """

    def __init__(
        self,
        expected: CauseTable,
        names: Mapping[str, Names],
        likelihoods: Callable[[Block], Array],
    ) -> None:
        self.catalogue = shares_of(expected)
        self.cures = Cures(expected)
        self._likelihoods = likelihoods
        self._fixes = names["fix"].names
        fixes = [name.split(" ", 1)[0] for name in self._fixes]
        parts = names["part"].names
        column = {part: n for n, part in enumerate(sorted({*fixes, *parts}))}
        self._column_of_fix = np.array([column[part] for part in fixes], dtype=np.int64)
        self._column_of_part = np.array([column[part] for part in parts], dtype=np.int64)
        self._rows_of_column = _lists([expected.rows_of.get(part, ()) for part in column])
        self._rows_of_cause = _lists(
            [expected.rows_of.get(cause, ()) for cause in names["cause"].names]
        )
        # Of a cause whose part nothing was done to, the column that stays as it is.
        self._column_of_row = np.full(len(self.catalogue), len(column), dtype=np.int64)
        self._column_of_row[self._rows_of_column.entries] = self._rows_of_column.owners
        self._columns = len(column) + 1

    def boards(self, block: Block) -> Iterator[tuple[Numbers, Board]]:
        """Yield the reports of a block, so many at a time: their places, and their board."""
        for begin in range(0, len(block), _AT_ONCE):
            places = np.arange(begin, min(begin + _AT_ONCE, len(block)))
            yield places, self._board(block.take(places))

    def board(self, block: Block) -> Board:
        """Return one board of all reports of a block."""
        return as_one([board for _, board in self.boards(block)])

    def _board(self, block: Block) -> Board:
        known = self._likelihoods(block)
        thought = known > 0
        known[~thought.any(axis=1)] = 1.0
        thought[~thought.any(axis=1)] = True
        deeds = _deeds(block, self._column_of_fix)
        named = self._flags(block.ragged("cause"), self._rows_of_cause, len(block))
        self._must_think(known, thought, named, deeds)
        self._by_name(known, thought, named)
        self._by_looking(known, block)
        known /= np.maximum(np.where(thought, known, 0.0).max(axis=1, keepdims=True), 1e-300)
        known *= self._by_what_was_done(deeds, len(block))
        case, row = np.nonzero(thought)
        pair = np.cumsum(thought.ravel()).reshape(thought.shape) - 1
        return self._with_deeds(deeds, thought, pair, (case, row, known[case, row]))

    def _flags(self, told: Ragged, lists: Ragged, count: int) -> NDArray[np.bool_]:
        """Which causes the entries of each report stand for."""
        flags = np.zeros((count, len(self.catalogue)), dtype=np.bool_)
        begins, places = gathered(lists.begins, told.entries.astype(np.int64))
        flags[np.repeat(told.owners, np.diff(begins)), lists.entries[places]] = True
        return flags

    def _must_think(
        self,
        known: Array,
        thought: NDArray[np.bool_],
        named: NDArray[np.bool_],
        deeds: "_Deeds",
    ) -> None:
        """Think of the causes that were named, and of parts seen to before it ran."""
        cured = np.zeros((len(known), self._columns), dtype=np.bool_)
        cured[deeds.case[deeds.worked], deeds.column[deeds.worked]] = True
        mass = np.where(thought, self.catalogue, 0.0).sum(axis=1)
        mean = (known * self.catalogue * thought).sum(axis=1) / np.maximum(mass, 1e-300)
        more = (named | cured[:, self._column_of_row]) & ~thought
        case, row = np.nonzero(more)
        known[case, row] = UNCALLED * mean[case]
        thought |= more

    def _by_name(
        self, known: Array, thought: NDArray[np.bool_], named: NDArray[np.bool_]
    ) -> None:
        """Give the causes that were named nine chances in ten, before any attempt."""
        usual = np.where(thought, known * self.catalogue, 0.0)
        mass = np.where(named, usual, 0.0).sum(axis=1)
        rest = np.where(named, 0.0, usual).sum(axis=1)
        told = np.flatnonzero((mass > 0) & (rest > 0))
        known[told] *= np.where(
            named[told],
            (REPORTED / mass[told])[:, None],
            ((1.0 - REPORTED) / rest[told])[:, None],
        )

    def _by_looking(self, known: Array, block: Block) -> None:
        """Weigh in the parts that were found good or bad."""
        for what, times in (("good", FOUND_GOOD), ("bad", FOUND_BAD)):
            parts = block.ragged(what)
            rows, place = np.unique(parts.owners, return_inverse=True)
            seen = np.ones((len(rows), self._columns))
            seen[place, self._column_of_part[parts.entries]] = times
            known[rows] *= seen[:, self._column_of_row]

    def _by_what_was_done(self, deeds: "_Deeds", count: int) -> Array:
        """What came of deeds by luck; of those on a cause's own part it is not known yet."""
        luck = np.ones(count)
        np.multiply.at(luck, deeds.owner, _by_luck(deeds.things, deeds.ran))
        own = np.ones((count, self._columns))
        times = np.where(deeds.better, RAN_BETTER, 1.0) / _by_luck(deeds.of, deeds.worked)
        np.multiply.at(own, (deeds.case, deeds.column), times)
        return np.asarray(luck[:, None] * own[:, self._column_of_row])

    def _with_deeds(
        self,
        deeds: "_Deeds",
        thought: NDArray[np.bool_],
        pair: Numbers,
        pairs: tuple[Numbers, Numbers, Array],
    ) -> Board:
        case, row, known = pairs
        begins, places = gathered(self._rows_of_column.begins, deeds.column)
        touched = self._rows_of_column.entries[places]
        deed = np.repeat(np.arange(len(deeds.case)), np.diff(begins))
        kept = thought[deeds.case[deed], touched]
        deed, touched = deed[kept], touched[kept]
        order = np.argsort(pair[deeds.case[deed], touched], kind="stable")
        deed, touched = deed[order], touched[order]
        deed_pair = pair[deeds.case[deed], touched]
        tries, own = gathered(deeds.own.begins, deed)
        try_deed = np.repeat(np.arange(len(deed)), np.diff(tries))
        pairs_done, pair_starts = np.unique(deed_pair, return_index=True)
        return Board(
            case=case,
            row=row,
            known=known,
            case_starts=np.unique(case, return_index=True)[1],
            deed_pair=deed_pair,
            deed_worked=deeds.worked[deed],
            deed_missed_else=_MISSED[np.minimum(deeds.of - deeds.own.lengths, _MANY)[deed]],
            pairs_done=pairs_done,
            pair_starts=pair_starts,
            try_deed=try_deed,
            try_cure=self.cures.numbers(touched[try_deed], deeds.own.entries[own], self._fixes),
            deed_starts=tries[:-1],
        )


class _Deeds(NamedTuple):
    """What was done: deeds as a whole, and each with the parts that it touched.

    Args:
        owner: the report of each deed.
        things: how many things were done in it.
        ran: whether the set then ran.
        case: for each deed and part, the report.
        column: the part.
        of: how many things were done in that deed, other parts too.
        worked: whether the set then ran.
        better: whether it ran better, though it was not cured.
        own: what was done to the part.
    """

    owner: Numbers
    things: Numbers
    ran: NDArray[np.bool_]
    case: Numbers
    column: Numbers
    of: Numbers
    worked: NDArray[np.bool_]
    better: NDArray[np.bool_]
    own: Ragged


def _deeds(block: Block, column_of_fix: Numbers) -> _Deeds:
    done = block.ragged("done", "fix")
    owners, came = done.owners, block["came"]
    _, first, deed, things = np.unique(
        (owners << 16) | block["deed"],
        return_index=True,
        return_inverse=True,
        return_counts=True,
    )
    column = column_of_fix[done.entries]
    parts = int(column_of_fix.max(initial=0)) + 1
    touched, place = np.unique(deed * parts + column, return_inverse=True)
    of_deed = touched // parts
    lengths = np.bincount(place, minlength=len(touched))
    by_part = np.argsort(place, kind="stable")
    return _Deeds(
        owner=owners[first],
        things=things,
        ran=(came[first] & WORKED) > 0,
        case=owners[first][of_deed],
        column=touched % parts,
        of=things[of_deed],
        worked=(came[first] & WORKED)[of_deed] > 0,
        better=(came[first] & BETTER)[of_deed] > 0,
        own=Ragged(
            np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64), done.entries[by_part]
        ),
    )


_MISSED = np.array([(1.0 - STRAY) ** things for things in range(_MANY + 1)])


def _by_luck(things: Numbers, worked: NDArray[np.bool_]) -> Array:
    """P(what came of a deed | it touched nothing that was at fault)."""
    missed = _MISSED[np.minimum(things, _MANY)]
    return np.where(worked, 1.0 - missed, missed)


def _lists(rows: Sequence[Sequence[Row]]) -> Ragged:
    begins = np.cumsum([0, *(len(each) for each in rows)])
    entries = np.array([row for each in rows for row in each], dtype=np.int64)
    return Ragged(begins.astype(np.int64), entries)
