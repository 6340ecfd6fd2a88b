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

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mendpool.core.evidence.attempts_board import STRAY, SURELY, Board, CauseTable, Row, lay_out
from mendpool.core.evidence.bayes import Array
from mendpool.core.evidence.case import Case

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
    catalogue = np.asarray(expected.share, dtype=np.float64)
    catalogue = catalogue / max(float(catalogue.sum()), 1e-300)
    weight = np.array([weights[case.id] for case in held], dtype=np.float64)
    board = lay_out(held, expected, catalogue, likelihoods, protections)
    share, cure = catalogue, board.cure
    course: list[float] = []
    for _ in range(ROUNDS):
        seen = _look(board, share, cure)
        course.append(_worth(seen, weight, share, cure, board, catalogue))
        mass = weight[board.case] * seen.causes
        worked, tried = _credit(board, mass, cure, seen.missed)
        fresh_share = _shares(board, mass, catalogue)
        fresh_cure = np.clip(
            (CURE_CASES * board.cure + worked) / (CURE_CASES + tried), STRAY, SURELY
        )
        moved = max(_moved(share, fresh_share), _moved(cure, fresh_cure))
        share, cure = fresh_share, fresh_cure
        if moved < _RESTS:
            break
    seen = _look(board, share, cure)
    course.append(_worth(seen, weight, share, cure, board, catalogue))
    worked, tried = _credit(board, weight[board.case] * seen.causes, cure, seen.missed)
    return Learned(
        causes=_told(held, board, seen.causes),
        share=tuple(round(p, 9) for p in share.tolist()),
        cures={key: round(float(q), 6) for key, q in zip(board.keys, cure, strict=True)},
        tries={
            key: (round(float(won), 6), round(float(all_), 6))
            for key, won, all_ in zip(board.keys, worked, tried, strict=True)
        },
        course=tuple(course),
    )


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
    count = len(board.cure)
    return _sums(board.try_cure, worked, count), _sums(board.try_cure, tried, count)


def _shares(board: Board, mass: Array, catalogue: Array) -> Array:
    share = PRIOR_CASES * catalogue + _sums(board.row, mass, len(catalogue))
    return np.asarray(share / share.sum())


def _sums(places: NDArray[np.intp], values: Array, count: int) -> Array:
    """Sums by place, added up in the order of the cases."""
    return np.bincount(places, values, minlength=count).astype(np.float64)


def _worth(
    seen: _Seen, weight: Array, share: Array, cure: Array, board: Board, catalogue: Array
) -> float:
    """The log likelihood with the catalogue's pseudo-cases: what each round must raise."""
    held = catalogue > 0
    return float(
        weight @ np.log(seen.total)
        + PRIOR_CASES * (catalogue[held] @ np.log(share[held]))
        + CURE_CASES * (board.cure @ np.log(cure) + (1.0 - board.cure) @ np.log1p(-cure))
    )


def _moved(old: Array, new: Array) -> float:
    return float(np.abs(new - old).max(initial=0.0))


def _told(held: Sequence[Case], board: Board, causes: Array) -> dict[str, dict[Row, float]]:
    told: dict[str, dict[Row, float]] = {case.id: {} for case in held}
    for pair in np.flatnonzero(causes >= _SHOWN).tolist():
        told[held[board.case[pair]].id][int(board.row[pair])] = round(float(causes[pair]), 4)
    return told
