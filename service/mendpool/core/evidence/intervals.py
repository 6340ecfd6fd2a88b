"""Intervals for a success share, and what few reports can and can't show."""

from collections.abc import Iterable
from math import sqrt

Z_90 = 1.6448536269514722
Z_95 = 1.959963984540054


def wilson(worked: float, tried: float, z: float = Z_90) -> tuple[float, float]:
    """Return the Wilson score interval for a share; counts may be weighted sums.

    Args:
        worked: successes, 0 to `tried`.
        tried: trials; 0 gives (0, 1), since nothing is known.
        z: normal quantile; `Z_90` for a two-sided 90 % range.

    Source:
        Wilson 1927; Newcombe, Stat. Med. 17:857 (1998), method 3.
    """
    if tried <= 0:
        return 0.0, 1.0
    share = worked / tried
    z2 = z * z
    middle = (share + z2 / (2 * tried)) / (1 + z2 / tried)
    half = z * sqrt(share * (1 - share) / tried + z2 / (4 * tried * tried)) / (1 + z2 / tried)
    low = 0.0 if worked <= 0 else max(0.0, middle - half)
    high = 1.0 if worked >= tried else min(1.0, middle + half)
    return low, high


def difference(
    worked_a: float, tried_a: float, worked_b: float, tried_b: float, z: float = Z_95
) -> tuple[float, float]:
    """Return Newcombe's hybrid interval for share A less share B.

    Source:
        Newcombe, Stat. Med. 17:873 (1998), method 10.
    """
    a, b = worked_a / tried_a, worked_b / tried_b
    low_a, high_a = wilson(worked_a, tried_a, z)
    low_b, high_b = wilson(worked_b, tried_b, z)
    low = a - b - sqrt((a - low_a) ** 2 + (high_b - b) ** 2)
    high = a - b + sqrt((high_a - a) ** 2 + (b - low_b) ** 2)
    return low, high


def shrunk_mean(worked: float, tried: float, mean: float, strength: float) -> float:
    """Return the posterior mean of a share under a beta prior of so many pseudo-trials.

    Source:
        Beta-binomial update, NUREG/CR-6823: (a + x) / (a + b + n).
    """
    return (mean * strength + worked) / (strength + tried)


def unseen_share(counts: Iterable[float], pseudo: float = 0.0) -> float:
    """Return Good and Turing's share of kinds never seen: kinds seen once over all seen.

    Args:
        counts: how often each kind was seen.
        pseudo: sightings the catalogue counts for, so that one report alone does not
            make everything unseen.

    Source:
        Good, Biometrika 40:237 (1953).
    """
    seen = [count for count in counts if count > 0]
    total = sum(seen) + pseudo
    once = sum(1 for count in seen if count == 1)
    return once / total if total > 0 else 0.0
