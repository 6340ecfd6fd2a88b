"""How many spares to keep, from how many failed and how long until more can be had."""

from collections.abc import Callable
from itertools import accumulate, count
from math import exp, fsum, log
from typing import Annotated

from pydantic import Field

from mendpool.core.catalogue.tables import Tables
from mendpool.core.readings.refuse import refused
from mendpool.core.record.fields import Record
from mendpool.core.workings.amounts import Takes
from mendpool.core.workings.worked import Step, Sum, figure, shown, text

MOST = 1000
"""More spares than any pool of small sets keeps."""
_JEFFREYS = 0.5

Pmf = Callable[[float, int], float]
"""The next probability from the last one and its place."""


class Spares(Record):
    """Inputs of `spares`."""

    failures: Annotated[int, Field(strict=True, ge=0, le=10_000)]
    watched_h: Annotated[float, Takes("h", 0, 1e9, above=True)]
    ahead_h: Annotated[float, Takes("h", 0, 1e9, above=True)]
    confidence_percent: Annotated[float, Takes("%", 50, 99.9)] = 90.0


def spares(given: Spares, _tables: Tables) -> Sum:
    """Work out how many spares to keep.

    Raises:
        RefusedInput: a demand past any shelf.
    """
    shape = given.failures + _JEFFREYS
    wanted = given.confidence_percent / 100
    expected = shape * given.ahead_h / given.watched_h
    if expected > MOST / 2:
        raise refused("/ahead_h", f"about {expected:.3g} would fail: that is no spares box")
    keep, chance = stock(negative_binomial(shape, given.watched_h, given.ahead_h), wanted)
    plain, _ = stock(poisson(given.failures * given.ahead_h / given.watched_h), wanted)
    met = fill_rate(negative_binomial(shape, given.watched_h, given.ahead_h), keep, expected)
    return Sum(
        outcome="keep",
        answer=figure("spares", float(keep), ""),
        steps=(
            Step(
                formula="expected = (failures + 1/2) x ahead/watched",
                numbers=(
                    f"({given.failures} + 1/2) x {text(given.ahead_h)}/"
                    f"{text(given.watched_h)} = {text(expected)}"
                ),
            ),
            Step(
                formula="least s with P(demand <= s) >= sureness, negative binomial",
                numbers=f"P(demand <= {keep}) = {text(chance)} >= {text(wanted)}",
            ),
        ),
        words={
            "keep": keep, "chance": shown(100 * chance, 3), "plain": plain,
            "fill": shown(100 * met, 3),
        },
        also=(
            figure("expected", expected, ""),
            figure("chance", 100 * chance, "%"),
            figure("met_from_shelf", 100 * met, "%"),
        ),
        notes=(*(() if given.failures else ("none-failed",)), "plain", "fill"),
    )  # fmt: skip


def negative_binomial(shape: float, watched: float, ahead: float) -> tuple[float, Pmf]:
    """Return P(0) and the step to the next, of the demand over a time ahead.

    Failures come at a rate that is known only as far as `shape` failures in `watched` tell
    (Gamma); the demand ahead then follows a negative binomial law.
    """
    none = exp(shape * (log(watched) - log(watched + ahead)))
    share = ahead / (watched + ahead)
    return none, lambda p, x: p * (shape + x) / (x + 1) * share


def poisson(mean: float) -> tuple[float, Pmf]:
    """Return P(0) and the step to the next, where the rate is known for sure."""
    return exp(-mean), lambda p, x: p * mean / (x + 1)


def stock(law: tuple[float, Pmf], wanted: float) -> tuple[int, float]:
    """Return the fewest spares that meet the demand with the chance wanted, and that chance.

    >>> stock(poisson(8.0), 0.90)[0]
    12
    """
    none, following = law
    chance = p = none
    for spare in count():
        if chance >= wanted or spare >= MOST:
            return spare, chance
        p = following(p, spare)
        chance += p
    raise AssertionError  # pragma: no cover - count() does not end


def fill_rate(law: tuple[float, Pmf], keep: int, expected: float) -> float:
    """Return the share of calls met from the shelf: 1 − expected back orders / demand."""
    none, following = law
    chances = list(accumulate(range(keep), following, initial=none))
    # Back orders past the shelf: E[demand] − Σ_{x ≤ s} x·P(x) − s·P(demand > s).
    met = fsum(x * p for x, p in enumerate(chances)) + keep * (1 - fsum(chances))
    return min(1.0, met / expected)
