"""Measures of a ranking and of a forecast, for the benches."""

from collections.abc import Callable, Sequence
from itertools import pairwise
from math import log, log2
from random import Random
from typing import NamedTuple


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


def stein(values: Sequence[float], variance: float) -> tuple[float, float]:
    """Return the grand mean, and the share of each value's distance from it that is kept.

    The service shrinks counts by pseudo-trials; this says how many the published example has.

    Source:
        James and Stein 1961, as in Efron and Morris, Sci. Am. 236(5):119 (1977).
    """
    mean = sum(values) / len(values)
    spread = sum((v - mean) ** 2 for v in values)
    return mean, 1 - (len(values) - 3) * variance / spread


class MurphySplit(NamedTuple):
    """Reliability (small is good), resolution (large is good) and uncertainty."""

    reliability: float
    resolution: float
    uncertainty: float

    @property
    def brier(self) -> float:
        """The score that the three make up, exact where each bin holds one forecast."""
        return self.reliability - self.resolution + self.uncertainty


def murphy_split(
    forecasts: Sequence[float], observed: Sequence[float], weights: Sequence[float]
) -> MurphySplit:
    """Split the Brier score of binned forecasts.

    Args:
        forecasts: mean forecast of each bin.
        observed: share of the event in each bin.
        weights: forecasts in each bin, counts or shares.

    Source:
        Murphy, J. Appl. Meteorol. 12:595 (1973).
    """
    total = sum(weights)
    shares = [w / total for w in weights]
    base = sum(w * o for w, o in zip(shares, observed, strict=True))
    reliability = sum(
        w * (f - o) ** 2 for w, f, o in zip(shares, forecasts, observed, strict=True)
    )
    resolution = sum(w * (o - base) ** 2 for w, o in zip(shares, observed, strict=True))
    return MurphySplit(reliability, resolution, base * (1 - base))


class Bin(NamedTuple):
    """A bin of forecasts; `low` and `high` bound what is seen if the forecasts are true."""

    count: int
    forecast: float
    observed: float
    low: float
    high: float


class Reliability(NamedTuple):
    """Bins of about equal mass, the mean gap between said and seen, and its null.

    `null` is the gap that 95 % of true forecasters stay under with so many questions: the
    gap of a true one is not zero.
    """

    bins: tuple[Bin, ...]
    gap: float
    null: float

    @property
    def inside(self) -> bool:
        """Whether the gap is one that a true forecaster could have."""
        return self.gap <= self.null


def reliability(
    questions: Sequence[Sequence[float]],
    truths: Sequence[int | None],
    bins: int = 10,
    runs: int = 400,
    seed: int = 1,
) -> Reliability:
    """Compare what was said with what came true, and with what chance alone would do.

    Args:
        questions: for each question the probabilities of causes that exclude one another.
        truths: the place of the true one among them, None where it is none of them.
    """
    flat = sorted((p, q, c) for q, row in enumerate(questions) for c, p in enumerate(row))
    edges = [round(len(flat) * b / bins) for b in range(bins + 1)]
    groups = [flat[a:b] for a, b in pairwise(edges) if b > a]
    place = {(q, c): g for g, group in enumerate(groups) for _, q, c in group}
    said = [sum(p for p, _, _ in group) / len(group) for group in groups]
    seen = _seen(place, truths, groups)
    rng = Random(seed)
    drawn = [_seen(place, [_one(row, rng) for row in questions], groups) for _ in range(runs)]
    shown = []
    for g, group in enumerate(groups):
        values = sorted(run[g] for run in drawn)
        low, high = values[round(0.025 * (runs - 1))], values[round(0.975 * (runs - 1))]
        shown.append(Bin(len(group), said[g], seen[g], low, high))
    gaps = sorted(_gap(said, run, groups) for run in drawn)
    return Reliability(tuple(shown), _gap(said, seen, groups), gaps[round(0.95 * (runs - 1))])


def bootstrap(
    values: Sequence[float],
    of: Callable[[Sequence[float]], float] | None = None,
    resamples: int = 500,
    seed: int = 1,
) -> tuple[float, float]:
    """Return the 95 % percentile interval of a figure over resampled questions.

    Args:
        of: the figure; the mean if not given.

    Source:
        Efron, Ann. Stat. 7:1 (1979), percentile form.
    """
    figure = of or (lambda sample: sum(sample) / len(sample))
    rng = Random(seed)
    n = len(values)
    drawn = sorted(
        figure([values[rng.randrange(n)] for _ in range(n)]) for _ in range(resamples)
    )
    return drawn[round(0.025 * (resamples - 1))], drawn[round(0.975 * (resamples - 1))]


def _seen(
    place: dict[tuple[int, int], int],
    truths: Sequence[int | None],
    groups: Sequence[Sequence[object]],
) -> list[float]:
    counts = [0] * len(groups)
    for question, truth in enumerate(truths):
        if truth is not None:
            counts[place[(question, truth)]] += 1
    return [count / len(group) for count, group in zip(counts, groups, strict=True)]


def _gap(
    said: Sequence[float], seen: Sequence[float], groups: Sequence[Sequence[object]]
) -> float:
    total = sum(len(group) for group in groups)
    return sum(abs(s - o) * len(g) for s, o, g in zip(said, seen, groups, strict=True)) / total


def _one(row: Sequence[float], rng: Random) -> int | None:
    luck = rng.random()
    for place, p in enumerate(row):
        luck -= p
        if luck < 0:
            return place
    return None
