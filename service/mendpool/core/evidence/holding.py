"""How long each fix holds, by all reports: Kaplan and Meier's curve with numbers at risk."""

from collections.abc import Mapping
from typing import NamedTuple

from mendpool.core.evidence import figures
from mendpool.core.evidence.durability import HoldingAt, Watched, holding_of, survival_of
from mendpool.core.evidence.tally import Fix, Tally
from mendpool.core.evidence.words import holding_in_words

AT_MONTHS = (3, 6, 12, 24)
YEAR = 12
_FEWEST, _SEEN_LEAST = 5, 3
"""No share from fewer followed repairs, nor from fewer seen that long (see `words`)."""
_STEPS_MOST = 240


class Step(NamedTuple):
    """A step of the curve: from `months` on so many hold; `at_risk` were seen that long."""

    months: int
    share: float
    low: float
    high: float
    at_risk: int


class At(NamedTuple):
    """How many still hold at a time; no share where too few were seen to tell.

    Args:
        followed: repairs that anything was told of.
        at_risk: how many of them were seen that long.
    """

    months: int
    share: float | None
    low: float | None
    high: float | None
    followed: int
    at_risk: int


class Durability(NamedTuple):
    """How long a fix holds.

    Args:
        followed, failed: repairs that were followed, and of those the ones that came back.
        silent: cured repairs that nobody told more of.
        steps: the curve, as long as three were seen at least; none where too few were followed.
        at: how many hold after 3, 6, 12 and 24 months.
    """

    component: str
    action: str
    followed: int
    failed: int
    silent: int
    steps: tuple[Step, ...]
    at: tuple[At, ...]
    says: str


def durability(tally: Tally, fix: Fix) -> Durability:
    """Return how long a fix holds; of one that nobody followed, that nobody did."""
    seen = tally.held.get(fix, {})
    followed = sum(seen.values())
    curve = survival_of(seen)[:_STEPS_MOST] if followed >= _FEWEST else []
    at = {months: holding_of(seen, months) for months in AT_MONTHS}
    longest = int(max((one.months for one in seen), default=0))
    silent = tally.silent.get(fix, 0)
    return Durability(
        component=fix[0],
        action=fix[1],
        followed=followed,
        failed=sum(times for one, times in seen.items() if one.failed),
        silent=silent,
        steps=tuple(
            step
            for months, _, _ in curve
            if (step := _step(seen, int(months))).at_risk >= _SEEN_LEAST
        ),
        at=tuple(_at(months, found, followed) for months, found in at.items()),
        says=holding_in_words(at[YEAR], silent, longest),
    )


def best_followed(
    tally: Tally, most: int, component: str | None = None, action: str | None = None
) -> list[Durability]:
    """Return the fixes that most repairs were followed of, those first.

    Args:
        tally: the counts.
        most: how many at most.
        component, action: only of this part, or done this way.
    """
    fixes = [
        (-sum(seen.values()), fix)
        for fix, seen in tally.held.items()
        if component in (None, fix[0]) and action in (None, fix[1])
    ]
    return [durability(tally, fix) for _, fix in sorted(fixes)[:most]]


def at_year(one: Durability) -> At:
    """Return how many hold at twelve months."""
    return one.at[AT_MONTHS.index(YEAR)]


def _step(seen: Mapping[Watched, int], months: int) -> Step:
    at = holding_of(seen, months)
    if at is None:  # pragma: no cover - there is a step, so something was seen
        raise ValueError(months)
    share, low, high = map(figures.share, (at.share, at.low, at.high))
    return Step(months, share, low, high, at.seen_that_long)


def _at(months: int, found: HoldingAt | None, followed: int) -> At:
    if found is None:
        return At(months, None, None, None, followed, 0)
    if followed < _FEWEST or found.seen_that_long < _SEEN_LEAST:
        return At(months, None, None, None, followed, found.seen_that_long)
    share, low, high = map(figures.share, (found.share, found.low, found.high))
    return At(months, share, low, high, followed, found.seen_that_long)
