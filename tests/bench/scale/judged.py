"""How good an order of reports is, and how sure a difference of two orders is."""

from collections.abc import Mapping, Sequence
from math import log2

import numpy as np

from tests.bench.scale.sides import TOP

_IDEAL = sum(1 / log2(place + 2) for place in range(TOP))
_TIMES = 2000


def ndcg(found: Sequence[int], causes: Sequence[str], cause: str) -> float:
    """Return nDCG@10, binary: relevant has the same true cause, the ideal is ten of them.

    Järvelin and Kekäläinen 2002, with the discount 1 / log2(1 + place). Fewer than ten
    found are not padded, so an order that shows fewer can't reach 1.
    """
    gains = (
        1 / log2(place + 2)
        for place, number in enumerate(found[:TOP])
        if causes[number - 1] == cause
    )
    return sum(gains) / _IDEAL


def interval(
    ours: Mapping[int, float], theirs: Mapping[int, float]
) -> tuple[float, float, float, int]:
    """Return the mean difference on the questions both were asked, its 95 % interval, how many.

    Paired bootstrap over questions (Efron and Tibshirani 1993, chapter 13, percentiles).
    """
    both = sorted(ours.keys() & theirs.keys())
    gaps = np.array([ours[q] - theirs[q] for q in both])
    if not len(gaps):
        return 0.0, 0.0, 0.0, 0
    drawn = np.random.default_rng(7).integers(0, len(gaps), (_TIMES, len(gaps)))
    low, high = np.percentile(gaps[drawn].mean(axis=1), [2.5, 97.5])
    return float(gaps.mean()), float(low), float(high), len(both)
