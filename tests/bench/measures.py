"""Measures of a ranking and of a forecast, for the benches."""

from collections.abc import Sequence
from math import log, log2


def dcg(gains: Sequence[float], base: float = 2.0, *, original: bool = False) -> list[float]:
    """Return discounted cumulated gain at each rank.

    Args:
        original: the form of 2002 (no discount before rank `base`, log_base(rank) from
            there), instead of the usual log2(rank + 1).

    Source:
        Järvelin and Kekäläinen, ACM TOIS 20:422 (2002).
    """
    total, curve = 0.0, []
    for rank, gain in enumerate(gains, start=1):
        if original:
            total += gain if rank < base else gain / (log(rank) / log(base))
        else:
            total += gain / log2(rank + 1)
        curve.append(total)
    return curve


def ndcg(
    gains: Sequence[float], ideal: Sequence[float], at: int, *, original: bool = False
) -> float:
    """Return DCG over that of the ideal order at a rank; `ideal` holds every relevant gain."""
    best = dcg(sorted(ideal, reverse=True)[:at], original=original)
    got = dcg(list(gains)[:at], original=original)
    return got[-1] / best[-1] if got and best and best[-1] > 0 else 0.0


def log_loss(probability_of_truth: Sequence[float]) -> float:
    """Return the mean of -ln p(truth), p bounded below by 1e-9."""
    return -sum(log(max(p, 1e-9)) for p in probability_of_truth) / len(probability_of_truth)


def brier(outcomes: Sequence[float], forecasts: Sequence[float]) -> float:
    """Return the mean squared error of probability forecasts of a yes or no."""
    return sum((f - o) ** 2 for o, f in zip(outcomes, forecasts, strict=True)) / len(outcomes)


def average_precision(relevant_ranks: Sequence[int], relevant: int) -> float:
    """Return average precision from the ranks at which relevant ones stand."""
    return sum((i + 1) / rank for i, rank in enumerate(sorted(relevant_ranks))) / relevant


def reciprocal_rank(rank: int | None) -> float:
    """Return 1 over the rank of the first right one, 0 where there is none."""
    return 0.0 if rank is None else 1.0 / rank
