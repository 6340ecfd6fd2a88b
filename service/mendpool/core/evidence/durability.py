"""Does a repair hold? Kaplan-Meier on follow-ups, with honest ranges for few of them."""

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from mendpool.core.evidence.case import Case
from mendpool.core.evidence.intervals import wilson


class Watched(NamedTuple):
    """One followed repair: months it was seen, and whether it failed at the end of them."""

    months: float
    failed: bool


def watched(case: Case) -> Watched | None:
    """Return how long a repair was seen to hold; None where nobody said what came of it.

    One that came back failed then, whatever was said of it after. A part changed for another
    reason was good until then.
    """
    if not case.followups:
        return None
    returned = [f for f in case.followups if f.state == "returned"]
    end = returned[0] if returned else case.followups[-1]
    return Watched(float(end.months), bool(returned))


class HoldingAt(NamedTuple):
    """Share still holding at a time, its range, and how many were seen that long.

    Args:
        failed: by that time; `came_back` are all that did, later ones too.
    """

    share: float
    low: float
    high: float
    followed: int
    failed: int
    seen_that_long: int
    came_back: int


def survival(watched: Iterable[Watched]) -> list[tuple[float, float, float]]:
    """Return the Kaplan-Meier curve as (months, share holding, Greenwood variance) steps.

    Source:
        Kaplan and Meier 1958; Greenwood 1926.
    """
    return survival_of(Counter(watched))


def survival_of(counts: Mapping[Watched, int]) -> list[tuple[float, float, float]]:
    """Return the same of repairs that are counted already, however many they are."""
    steps: list[tuple[float, float, float]] = []
    holding, total = 1.0, 0.0
    for time in sorted({w.months for w in counts if w.failed}):
        at_risk = sum(times for w, times in counts.items() if w.months >= time)
        failed = counts[Watched(time, failed=True)]
        holding *= 1 - failed / at_risk
        if at_risk > failed:
            total += failed / (at_risk * (at_risk - failed))
        steps.append((time, holding, holding * holding * total))
    return steps


def holding_at(watched: Iterable[Watched], months: float) -> HoldingAt | None:
    """Return the share still holding at `months` with its 90 % range; None if none followed.

    The upper limit is Wilson's with the effective number of Cutler and Ederer, the lower
    with the smaller of that and Peto's (Dorey and Korn, Stat. Med. 6:679, 1987): close to
    its nominal coverage from five repairs on, where log-log limits are far from it.
    """
    return holding_of(Counter(watched), months)


def holding_of(counts: Mapping[Watched, int], months: float) -> HoldingAt | None:
    """Return the same of repairs that are counted already."""
    followed = sum(counts.values())
    if not followed:
        return None
    share, variance = 1.0, 0.0
    for time, at, spread in survival_of(counts):
        if time <= months:
            share, variance = at, spread
    seen = sum(times for w, times in counts.items() if w.months >= months)
    failed = sum(times for w, times in counts.items() if w.failed and w.months <= months)
    if failed == 0:
        low, high = wilson(seen, seen)
    else:
        effective = share * (1 - share) / variance if variance > 0 else float(followed)
        peto = seen / share if share > 0 else float(seen)
        high = wilson(share * effective, effective)[1]
        few = min(effective, peto)
        low = wilson(share * few, few)[0] if few > 0 else 0.0
    came_back = sum(times for w, times in counts.items() if w.failed)
    return HoldingAt(share, low, high, followed, failed, seen, came_back)
