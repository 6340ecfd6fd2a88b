"""Which cause each repair had, and what cures it, from attempts that stop at a success.

Attempts inside one repair are not independent: late ones are made on hard cases only, so
worked ÷ tried flatters them (methods, 2b). The cause is therefore taken for a thing not seen.
Expectation: how likely each cause was, by how common it is, by what the complaint told, and
by what worked and what did not. Maximisation: how common causes are and how often each action
cures them, the catalogue counting for so many cases. Both steps raise the penalised
likelihood (Dempster, Laird and Rubin, J. R. Stat. Soc. B 39:1, 1977) until it rests.

An action can cure only causes of its own part; on others it works by luck, `STRAY`. Things
done together work if any of them does, and the credit goes to each as far as it is likely to
have been the one.
"""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mendpool.core.evidence.attempts_board import (
    NO_REPORTS,
    STRAY,
    SURELY,
    Board,
    CauseTable,
    Row,
)
from mendpool.core.evidence.attempts_layout import Layout
from mendpool.core.evidence.bayes import Array
from mendpool.core.evidence.case import Case
from mendpool.core.evidence.ledger import Block, Numbers, joined, new_names, written

PRIOR_CASES = 12.0
"""Cases that the catalogue's frequencies count for (methods, section 0)."""

CURE_CASES = 8.0
"""Tries that the catalogue's P(works | cause) counts for."""

ROUNDS = 60
_RESTS = 1e-6
_SHOWN = 0.01


class Learned(NamedTuple):
    """What the attempts taught.

    Args:
        causes: by case id, the causes that have a hundredth at least, with their shares.
        share: P(cause) by row.
        cures: P(works | cause) by row and action, of all that was tried.
        tries: the weighted (worked, tried) behind each of them.
        course: the penalised log likelihood before each round and after the last.
    """

    causes: Mapping[str, Mapping[Row, float]]
    share: tuple[float, ...]
    cures: Mapping[tuple[Row, str], float]
    tries: Mapping[tuple[Row, str], tuple[float, float]]
    course: tuple[float, ...]


class Taught(NamedTuple):
    """What the rounds came to: P(cause), P(works) of each cure, credit, and the course."""

    share: Array
    cure: Array
    tries: tuple[Array, Array]
    course: tuple[float, ...]


def learn(
    cases: Iterable[Case],
    weights: Mapping[str, float],
    expected: CauseTable,
    likelihoods: Mapping[str, Mapping[Row, float]],
    protections: frozenset[str] = frozenset(),
) -> Learned:
    """Learn from the attempts of cases; the same cases in any order teach the same.

    Args:
        cases: those with no attempt and no cause teach how common causes are.
        weights: by case id; 0 leaves a case out of what is learned, not of what is told.
        expected: the catalogue's figures.
        likelihoods: by case id, P(what was seen | cause) of the causes worth a thought, any
            scale, attempts apart. A case that is not in it may have any cause.
        protections: codes of components whose removal is a get-by.
    """
    held = sorted(cases, key=lambda case: case.id)
    names = new_names()
    blocks = list(written(held, names, protections))

    def likely(block: Block) -> Array:
        table = np.zeros((len(block), len(expected.share)))
        for place, name in enumerate(block["id"].tolist()):
            for row, times in likelihoods.get(name.decode(), {}).items():
                table[place, row] = times
        return table

    layout = Layout(expected, names, likely)
    board = layout.board(joined(blocks)) if blocks else NO_REPORTS
    weight = np.array([weights[case.id] for case in held], dtype=np.float64)
    taught = teach(board, weight, layout.catalogue, layout.cures.expected())
    keys = layout.cures.keys
    rounded = [
        (round(float(won), 6), round(float(all_), 6))
        for won, all_ in zip(*taught.tries, strict=True)
    ]
    told: dict[str, dict[Row, float]] = {case.id: {} for case in held}
    for place, row, share in zip(*causes_of(board, taught.share, taught.cure), strict=True):
        told[held[place].id][int(row)] = float(share)
    return Learned(
        causes=told,
        share=tuple(round(p, 9) for p in taught.share.tolist()),
        cures={k: round(float(q), 6) for k, q in zip(keys, taught.cure, strict=True)},
        tries=dict(zip(keys, rounded, strict=True)),
        course=taught.course,
    )


def teach(board: Board, weight: Array, catalogue: Array, expected: Array) -> Taught:
    """Go through the rounds until they rest.

    Args:
        board: the reports, in an order that depends on nothing but which they are.
        weight: how much each of them counts.
        catalogue: P(cause) by row, summing to 1.
        expected: P(works | cause) of each cure by the catalogue.
    """
    share, cure = catalogue, expected
    course: list[float] = []
    for _ in range(ROUNDS):
        seen = _look(board, share, cure)
        course.append(_worth(seen, weight, (share, cure), catalogue, expected))
        mass = weight[board.case] * seen.causes
        worked, tried = _credit(board, mass, cure, seen.missed)
        fresh_share = _shares(board, mass, catalogue)
        fresh_cure = np.clip(
            (CURE_CASES * expected + worked) / (CURE_CASES + tried), STRAY, SURELY
        )
        moved = max(_moved(share, fresh_share), _moved(cure, fresh_cure))
        share, cure = fresh_share, fresh_cure
        if moved < _RESTS:
            break
    seen = _look(board, share, cure)
    course.append(_worth(seen, weight, (share, cure), catalogue, expected))
    tries = _credit(board, weight[board.case] * seen.causes, cure, seen.missed)
    return Taught(share, cure, tries, tuple(course))


def causes_of(board: Board, share: Array, cure: Array) -> tuple[Numbers, Numbers, Array]:
    """Return report, cause and share of the causes that have a hundredth at least."""
    causes = _look(board, share, cure).causes
    shown = np.flatnonzero(causes >= _SHOWN)
    return board.case[shown], board.row[shown], np.round(causes[shown], 4)


class _Seen(NamedTuple):
    """P(cause) of each pair, P(nothing of the deed worked), and the likelihood of each case."""

    causes: Array
    missed: Array
    total: Array


def _look(board: Board, share: Array, cure: Array) -> _Seen:
    """The expectation: how likely each cause of each case is."""
    like = board.known * share[board.row]
    missed = board.deed_missed_else
    if len(missed):
        missed = missed * np.multiply.reduceat(1.0 - cure[board.try_cure], board.deed_starts)
        told = np.where(board.deed_worked, 1.0 - missed, missed)
        like[board.pairs_done] *= np.multiply.reduceat(told, board.pair_starts)
    if not len(like):
        return _Seen(like, missed, like)
    total = np.maximum(np.add.reduceat(like, board.case_starts), 1e-300)
    return _Seen(like / total[board.case], missed, total)


def _credit(board: Board, mass: Array, cure: Array, missed: Array) -> tuple[Array, Array]:
    """Weighted successes and tries of each cure; credit goes to what was likely to work."""
    tried = mass[board.deed_pair][board.try_deed]
    mine = np.where(board.deed_worked, 1.0 / np.maximum(1.0 - missed, 1e-300), 0.0)
    worked = tried * cure[board.try_cure] * mine[board.try_deed]
    count = len(cure)
    return _sums(board.try_cure, worked, count), _sums(board.try_cure, tried, count)


def _shares(board: Board, mass: Array, catalogue: Array) -> Array:
    share = PRIOR_CASES * catalogue + _sums(board.row, mass, len(catalogue))
    return np.asarray(share / share.sum())


def _sums(places: NDArray[np.intp], values: Array, count: int) -> Array:
    """Sums by place, added up in the order of the cases."""
    return np.bincount(places, values, minlength=count).astype(np.float64)


def _worth(
    seen: _Seen,
    weight: Array,
    held_true: tuple[Array, Array],
    catalogue: Array,
    expected: Array,
) -> float:
    """The log likelihood with the catalogue's pseudo-cases: what each round must raise."""
    (share, cure), held = held_true, catalogue > 0
    return float(
        weight @ np.log(seen.total)
        + PRIOR_CASES * (catalogue[held] @ np.log(share[held]))
        + CURE_CASES * (expected @ np.log(cure) + (1.0 - expected) @ np.log1p(-cure))
    )


def _moved(old: Array, new: Array) -> float:
    return float(np.abs(new - old).max(initial=0.0))
