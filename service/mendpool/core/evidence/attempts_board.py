"""Cases laid out flat for the EM over attempts: which causes each may have, what was done.

What the rounds of the EM do not change is worked out once, here: what the complaint told, the
cause as reported, parts found good or bad, and everything that was done to other parts.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from math import fsum, prod
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mendpool.core.evidence.attempts import Proof, proof_of
from mendpool.core.evidence.bayes import Array
from mendpool.core.evidence.case import Case

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

FOUND_GOOD, FOUND_BAD, BETTER = 0.15, 5.0, 4.0
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
    """The cases laid out flat, so that a round is a few passes over arrays.

    A pair is a case with a cause worth a thought. A deed is, for one pair, something done that
    touched the cause's part; what never touched it is in `known`, since it does not change. A
    try is one action of a deed.
    """

    case: NDArray[np.intp]
    row: NDArray[np.intp]
    known: Array
    case_starts: NDArray[np.intp]
    deed_pair: NDArray[np.intp]
    deed_worked: NDArray[np.bool_]
    deed_missed_else: Array
    pairs_done: NDArray[np.intp]
    pair_starts: NDArray[np.intp]
    try_deed: NDArray[np.intp]
    try_cure: NDArray[np.intp]
    deed_starts: NDArray[np.intp]
    keys: tuple[tuple[Row, str], ...]
    cure: Array


class _Builder:
    """Collects the lists that become a board."""

    def __init__(self, expected: CauseTable) -> None:
        self._cure = expected.cure
        self.cases: list[int] = []
        self.rows: list[Row] = []
        self.known: list[float] = []
        self.starts: list[int] = []
        self.deed_pair: list[int] = []
        self.deed_worked: list[bool] = []
        self.deed_missed_else: list[float] = []
        self.try_deed: list[int] = []
        self.try_cure: list[int] = []
        self.keys: dict[tuple[Row, str], int] = {}

    def add(self, known: Mapping[Row, float], proof: Proof, owner: Mapping[Row, str]) -> None:
        """Add a case with its causes; `owner` names the component of the rows touched."""
        luck = prod(_by_luck(len(done.fixes), worked=done.worked) for done in proof.done)
        largest = max(known.values(), default=1.0) or 1.0
        self.starts.append(len(self.rows))
        self.cases.append(len(known))
        for row, times in known.items():
            # What came of a deed that was not this cause's own can be told at once.
            own = self._add_deeds(row, proof, owner[row]) if row in owner else 1.0
            self.rows.append(row)
            self.known.append(times / largest * luck * own)

    def _add_deeds(self, row: Row, proof: Proof, component: str) -> float:
        """Add what was done to the cause's part; return what takes the luck of it back."""
        times = 1.0
        for done in proof.done:
            own = [action for part, action in done.fixes if part == component]
            if not own:
                continue
            times /= _by_luck(len(done.fixes), worked=done.worked)
            times *= BETTER if done.better else 1.0
            deed = len(self.deed_pair)
            self.deed_pair.append(len(self.rows))
            self.deed_worked.append(done.worked)
            self.deed_missed_else.append((1.0 - STRAY) ** (len(done.fixes) - len(own)))
            for action in own:
                self.try_deed.append(deed)
                self.try_cure.append(self.keys.setdefault((row, action), len(self.keys)))
        return times

    def board(self) -> Board:
        """Return what was collected, as arrays."""
        deed_pair = np.array(self.deed_pair, dtype=np.intp)
        pairs_done, pair_starts = np.unique(deed_pair, return_index=True)
        try_deed = np.array(self.try_deed, dtype=np.intp)
        expected = np.array([self._cure(row, action) for row, action in self.keys])
        return Board(
            case=np.repeat(np.arange(len(self.cases)), self.cases),
            row=np.array(self.rows, dtype=np.intp),
            known=np.array(self.known, dtype=np.float64),
            case_starts=np.array(self.starts, dtype=np.intp),
            deed_pair=deed_pair,
            deed_worked=np.array(self.deed_worked, dtype=np.bool_),
            deed_missed_else=np.array(self.deed_missed_else, dtype=np.float64),
            pairs_done=pairs_done,
            pair_starts=pair_starts,
            try_deed=try_deed,
            try_cure=np.array(self.try_cure, dtype=np.intp),
            deed_starts=np.unique(try_deed, return_index=True)[1],
            keys=tuple(self.keys),
            cure=np.clip(expected.astype(np.float64), STRAY, SURELY),
        )


def lay_out(
    held: Sequence[Case],
    expected: CauseTable,
    catalogue: Array,
    likelihoods: Mapping[str, Mapping[Row, float]],
    protections: frozenset[str],
) -> Board:
    """Lay the cases out in the order given.

    Args:
        held: the cases.
        expected: the catalogue's figures.
        catalogue: P(cause) by row, summing to 1.
        likelihoods: by case id, P(what was seen | cause) of the causes worth a thought.
        protections: codes of components whose removal is a get-by.
    """
    builder = _Builder(expected)
    usual = catalogue.tolist()
    everything = dict.fromkeys(range(len(usual)), 1.0)
    for case in held:
        proof = proof_of(case, protections)
        owner = {
            row: component
            for done in proof.done
            for component, _ in done.fixes
            for row in expected.rows_of.get(component, ())
        }
        named = [row for cause in case.causes for row in expected.rows_of.get(cause, ())]
        must = _must_think(proof, named, expected)
        known = _thinkable(likelihoods.get(case.id) or everything, must, usual)
        _by_name(known, named, usual)
        _by_looking(known, proof, expected)
        builder.add(known, proof, owner)
    return builder.board()


def _must_think(proof: Proof, named: Sequence[Row], expected: CauseTable) -> list[Row]:
    """The causes that were named, and those of parts that were seen to before it ran."""
    cured = [
        row
        for done in proof.done
        if done.worked
        for component, _ in done.fixes
        for row in expected.rows_of.get(component, ())
    ]
    return [*named, *cured]


def _thinkable(
    likelihood: Mapping[Row, float], must: Iterable[Row], usual: Sequence[float]
) -> dict[Row, float]:
    """The likelihood of each cause worth a thought, in the order of the rows."""
    known = dict(likelihood)
    mass = fsum(usual[row] for row in likelihood)
    mean = fsum(usual[row] * times for row, times in likelihood.items()) / max(mass, 1e-300)
    for row in must:
        known.setdefault(row, UNCALLED * mean)
    return {row: known[row] for row in sorted(known)}


def _by_name(known: dict[Row, float], named: Sequence[Row], usual: Sequence[float]) -> None:
    """Give the causes that were named nine chances in ten, before any attempt."""
    mass = fsum(known[row] * usual[row] for row in dict.fromkeys(named))
    rest = fsum(known[row] * usual[row] for row in known.keys() - set(named))
    if mass <= 0 or rest <= 0:
        return
    for row in known:
        known[row] *= REPORTED / mass if row in named else (1.0 - REPORTED) / rest


def _by_looking(known: dict[Row, float], proof: Proof, expected: CauseTable) -> None:
    """Weigh in the parts that were found good or bad."""
    for parts, times in ((proof.good, FOUND_GOOD), (proof.bad, FOUND_BAD)):
        for part in parts:
            for row in expected.rows_of.get(part, ()):
                if row in known:
                    known[row] *= times


def _by_luck(things: int, *, worked: bool) -> float:
    """P(what came of a deed | it touched nothing that was at fault)."""
    missed = (1.0 - STRAY) ** things
    return 1.0 - missed if worked else missed
