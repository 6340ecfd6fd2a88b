"""What a step costs in minutes: the work, its parts, the wait for them, the cover before it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.model import Check, Remedy
from mendpool.core.diagnosis.cures import Fix
from mendpool.core.diagnosis.fixes import minutes_of
from mendpool.core.diagnosis.hands import Hands
from mendpool.core.diagnosis.knowledge import COST_MINUTES, Knowledge

_UNKNOWN_MINUTES = 60.0
_WORK_LEFT = 0.5
"""With the cover off, at least this share of a step's minutes is left: it is no step else."""


@dataclass(frozen=True, slots=True)
class Price:
    """What a fix takes.

    Args:
        minutes: of work, its cover included; None where nobody knows.
        parts: minutes that its parts count for.
        band: cost band of its parts.
        wait: minutes of waiting for a part not at hand.
        opens: the cover it lies behind.
        saved: minutes of it that are the cover's.
        hazards: how many topics of caution come with it.
    """

    minutes: float | None
    parts: float
    band: int
    wait: float
    opens: str | None
    saved: float
    hazards: int

    @property
    def total(self) -> float:
        """All in minutes, as the plan weighs it."""
        work = max(1.0, self.minutes if self.minutes is not None else _UNKNOWN_MINUTES)
        return work + self.parts + self.wait


def price_of(
    fix: Fix,
    knowledge: Knowledge,
    probability: Sequence[float],
    reported_minutes: Mapping[Fix, Sequence[float]],
    hands: Hands,
) -> Price:
    """Return what a fix takes on this set, done for its likeliest cause.

    Args:
        probability: of each cause, by row.
    """
    component, action = fix
    catalogue = knowledge.catalogue
    minutes = minutes_of(fix, reported_minutes.get(fix, ()), knowledge) or None
    ways = _ways(fix, knowledge, probability)
    first = min(ways)[-1] if ways else None
    band = min([remedy.cost for *_, remedy in ways], default=0)
    opens = first.opens if first is not None else None
    return Price(
        minutes=minutes,
        parts=COST_MINUTES[band],
        band=band,
        wait=hands.wait(component, first, action, catalogue),
        opens=opens,
        saved=cover_minutes(opens, minutes or _UNKNOWN_MINUTES, catalogue),
        hazards=len(first.cautions) if first is not None else 0,
    )


def cover_minutes(opens: str | None, minutes: float, catalogue: Catalogue) -> float:
    """Return how many of a step's minutes are those of its cover."""
    if opens is None:
        return 0.0
    return min(catalogue.openings[opens].minutes, (1.0 - _WORK_LEFT) * minutes)


def remedies_of(fix: Fix, knowledge: Knowledge, probability: Sequence[float]) -> list[Remedy]:
    """The ways to do a fix on this set, the one for its likeliest cause first."""
    return [remedy for *_, remedy in sorted(_ways(fix, knowledge, probability))]


def _ways(
    fix: Fix, knowledge: Knowledge, probability: Sequence[float]
) -> list[tuple[float, int, int, Remedy]]:
    """The ways to do a fix on this set, after what they are put in order by."""
    return [
        # No two have the row and the place in common, so that ways are never compared.
        (-p * remedy.works, row, place, remedy)
        for place, (row, remedy) in enumerate(knowledge.remedies.get(fix, ()))
        if (p := probability[row]) > 0
    ]


def runs_the_set(check: Check) -> bool:
    """Tell whether a check is made with the engine turning: covers that must be on go on."""
    return check.state in ("running", "cranking")
