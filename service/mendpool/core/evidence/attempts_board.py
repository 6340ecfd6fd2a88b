"""Reports laid out flat for the EM over attempts: which causes each may have, what was done.

What the rounds of the EM do not change is worked out once, here: what the complaint told, the
cause as reported, parts found good or bad, and everything that was done to other parts.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

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

Row = int
"""A cause, by its place in the catalogue."""

STRAY = 0.02
"""P(it runs after something was done to a part that was not at fault). No cure is taken for
less, so that a failure never speaks for its own part. Common practice: loose leads."""

SURELY = 0.99
"""No cure is taken for surer than this, so that one failure never rules a cause out."""

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


class CauseTable(NamedTuple):
    """What the catalogue expects of causes, by row.

    Args:
        share: P(cause) over all sets, any scale; the last row may be "something else".
        rows_of: rows of a component, and of a ``component/failure``.
        cure: P(works | cause of that row) of an action on the cause's own component.
    """

    share: Sequence[float]
    rows_of: Mapping[str, Sequence[Row]]
    cure: Callable[[Row, str], float]


class Board(NamedTuple):
    """Reports laid out flat, so that a round is a few passes over arrays.

    A pair is a report with a cause worth a thought. A deed is, for one pair, something done that
    touched the cause's part; what never touched it is in `known`, since it does not change. A
    try is one action of a deed.
    """

    case: Numbers
    row: Numbers
    known: Array
    case_starts: Numbers
    deed_pair: Numbers
    deed_worked: NDArray[np.bool_]
    deed_missed_else: Array
    pairs_done: Numbers
    pair_starts: Numbers
    try_deed: Numbers
    try_cure: Numbers
    deed_starts: Numbers


class Cures:
    """What cures what: numbers for causes and the actions on their part, as they are met."""

    def __init__(self, expected: CauseTable) -> None:
        self._cure = expected.cure
        self._number: dict[tuple[Row, str], int] = {}
        self._expected: list[float] = []

    @property
    def keys(self) -> tuple[tuple[Row, str], ...]:
        """The causes and actions, in the order of their numbers."""
        return tuple(self._number)

    def expected(self, begin: int = 0) -> Array:
        """Return P(works | cause) by the catalogue of those from number `begin` on."""
        return np.clip(np.array(self._expected[begin:], np.float64), STRAY, SURELY)

    def numbers(self, rows: Numbers, fixes: Numbers, names: Sequence[str]) -> Numbers:
        """Return the number of each cause with what was done to its part."""
        codes, place = np.unique(rows * max(len(names), 1) + fixes, return_inverse=True)
        each = [self._of(*divmod(code, len(names)), names) for code in codes.tolist()]
        return np.array(each, dtype=np.int64)[place]

    def _of(self, row: Row, fix: int, names: Sequence[str]) -> int:
        key = (row, names[fix].split(" ", 1)[1])
        if key not in self._number:
            self._number[key] = len(self._number)
            self._expected.append(self._cure(*key))
        return self._number[key]


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
        return _joined([board for _, board in self.boards(block)])

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
            seen = np.ones((len(known), self._columns))
            seen[parts.owners, self._column_of_part[parts.entries]] = times
            known *= seen[:, self._column_of_row]

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


def shares_of(expected: CauseTable) -> Array:
    """Return P(cause) over all sets by row, summing to 1."""
    share = np.asarray(expected.share, dtype=np.float64)
    return np.asarray(share / max(float(share.sum()), 1e-300))


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


def _joined(boards: Sequence[Board]) -> Board:
    """Return boards, laid out with the same numbers for cures, as one."""
    cases = np.cumsum([0, *(len(board.case_starts) for board in boards)])
    pairs = np.cumsum([0, *(len(board.case) for board in boards)])
    deeds = np.cumsum([0, *(len(board.deed_pair) for board in boards)])
    tries = np.cumsum([0, *(len(board.try_deed) for board in boards)])
    begins = {
        "case": cases, "case_starts": pairs, "deed_pair": pairs, "pairs_done": pairs,
        "pair_starts": deeds, "try_deed": deeds, "deed_starts": tries,
    }  # fmt: skip
    columns = {}
    for name in Board._fields:
        each = [getattr(board, name) for board in boards]
        if name in begins:
            each = [column + at for column, at in zip(each, begins[name], strict=False)]
        empty = np.zeros(0, _EMPTY.get(name, np.int64))
        columns[name] = np.concatenate([empty, *each])
    return Board(**columns)


_EMPTY: dict[str, type] = {
    "known": np.float64, "deed_worked": np.bool_, "deed_missed_else": np.float64,
}  # fmt: skip

NO_REPORTS = _joined(())
"""The board of nothing."""
