"""Reports laid out flat for the EM over attempts, and the numbers of what cures what."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mendpool.core.evidence.bayes import Array
from mendpool.core.evidence.ledger import Numbers

Row = int
"""A cause, by its place in the catalogue."""

STRAY = 0.02
"""P(it runs after something was done to a part that was not at fault). No cure is taken for
less, so that a failure never speaks for its own part. Common practice: loose leads."""

SURELY = 0.99
"""No cure is taken for surer than this, so that one failure never rules a cause out."""


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

    A pair is a report with a cause worth a thought. A deed is, for one pair, something done
    that touched the cause's part; what never touched it is in `known`, since it does not
    change. A try is one action of a deed.
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
        each = [
            self._of(code // len(names), code % len(names), names) for code in codes.tolist()
        ]
        return np.array(each, dtype=np.int64)[place]

    def _of(self, row: Row, fix: int, names: Sequence[str]) -> int:
        key = (row, names[fix].split(" ", 1)[1])
        if key not in self._number:
            self._number[key] = len(self._number)
            self._expected.append(self._cure(*key))
        return self._number[key]


def shares_of(expected: CauseTable) -> Array:
    """Return P(cause) over all sets by row, summing to 1."""
    share = np.asarray(expected.share, dtype=np.float64)
    return np.asarray(share / max(float(share.sum()), 1e-300))


def as_one(boards: Sequence[Board]) -> Board:
    """Return boards, laid out with the same numbers for cures, as one."""
    cases = np.cumsum([0, *(len(board.case_starts) for board in boards)])
    pairs = np.cumsum([0, *(len(board.case) for board in boards)])
    deeds = np.cumsum([0, *(len(board.deed_pair) for board in boards)])
    tries = np.cumsum([0, *(len(board.try_deed) for board in boards)])
    begins = {
        "case": cases, "case_starts": pairs, "deed_pair": pairs, "pairs_done": pairs,
        "pair_starts": deeds, "try_deed": deeds, "deed_starts": tries,
    }  # fmt: skip
    columns: dict[str, Any] = {}
    for name in Board._fields:
        each = [getattr(board, name) for board in boards]
        if name in begins:
            each = [column + at for column, at in zip(each, begins[name], strict=False)]
        columns[name] = np.concatenate([np.zeros(0, _EMPTY.get(name, np.int64)), *each])
    return Board(**columns)


_EMPTY: dict[str, type] = {
    "known": np.float64, "deed_worked": np.bool_, "deed_missed_else": np.float64,
}  # fmt: skip

NO_REPORTS = as_one(())
"""The board of nothing."""
