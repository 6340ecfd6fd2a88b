"""How much each term tells causes apart, times how rare it is."""

from collections.abc import Sequence

import numpy as np

from mendpool.core.evidence.bayes import Array
from mendpool.core.evidence.sums import UNIT, Sparse, Units

WEIGHT_TOP = 100
NEVER_SEEN = 5
"""The weight of a term the fit has never seen: rare, but of what, nobody knows."""

_PSEUDO = 8.0
_RARE_ALONE = 0.03
_TELLS_MOST = 8.0
"""Of the squared divergence, in nats squared; more counts as this much."""


def weights_of_terms(
    terms: Sequence[str], df: Units, reports: int, of_parts: Sparse, totals: Units
) -> dict[str, int]:
    """How much a term shifts the parts at fault (squared divergence), times its rarity (idf).

    Kullback-Leibler divergence of P(component | term) from P(component), shrunk towards none
    by eight pseudo-reports. Squared, a few telling terms outweigh any number of usual ones;
    a little of the rarity alone orders a pool too small to have taught anything. Chosen of
    some twenty forms by the order of reports on the simulator's tuning world 11.

    Args:
        terms: by number.
        df: in how many reports each is.
        reports: how many there are.
        of_parts: weighted count of a term under a part at fault, under
            ``term × parts + part``.
        totals: weighted count of the parts.

    Returns:
        Weights from 1 to `WEIGHT_TOP` of the terms that come at all.
    """
    held = np.flatnonzero(df > 0)
    rare = np.log(1 + (reports - df[held] + 0.5) / (df[held] + 0.5))
    rare /= np.log(1 + (reports + 0.5) / 0.5)
    tells = _divergence(len(terms), of_parts, totals)[held]
    value = (tells**2 / _TELLS_MOST + _RARE_ALONE) * rare
    weights = np.rint(WEIGHT_TOP * np.minimum(1.0, value)).astype(np.int64)
    weights = np.maximum(1, weights)
    return dict(sorted(zip((terms[n] for n in held.tolist()), weights.tolist(), strict=True)))


def _divergence(count: int, of_parts: Sparse, totals: Units) -> Array:
    """Divergence of the parts under each term from those of the pool."""
    grand = int(totals.sum())
    if not grand or not len(of_parts.keys):
        return np.zeros(count)
    base = totals / grand
    term, part = np.divmod(of_parts.keys, len(totals))
    under = of_parts.sums * UNIT
    mass = np.bincount(term, under, minlength=count)
    here = base[part]
    p = (under + _PSEUDO * here) / (mass[term] + _PSEUDO)
    told = np.bincount(term, p * np.log(p / here), minlength=count)
    # Of all parts that never came with the term, p ÷ base is the same.
    left = 1.0 - np.bincount(term, here, minlength=count)
    ratio = _PSEUDO / (mass + _PSEUDO)
    return np.where(mass > 0, told + np.maximum(left, 0.0) * ratio * np.log(ratio), 0.0)
