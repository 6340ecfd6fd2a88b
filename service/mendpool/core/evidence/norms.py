"""What good sets read: the middle and the spread, people counted once each."""

from collections.abc import Iterable, Sequence
from statistics import median
from typing import NamedTuple

from mendpool.core.evidence.case import Case

LEAST_PEOPLE = 3
"""Fewer people than this are not spoken of: what one of them reads would show."""


class Norm(NamedTuple):
    """The median of what people's good sets read, the median distance from it, and counts."""

    middle: float
    spread: float
    people: int
    readings: int


def norms(cases: Iterable[Case]) -> dict[str, Norm]:
    """Return the norm under each key that enough people have a good reading for.

    A person stands for one reading, the median of all that person's, so that nobody's sets
    outweigh the others'.
    """
    by_key: dict[str, dict[int, list[float]]] = {}
    for case in cases:
        for reading in case.healthy:
            for key in reading.keys:
                by_key.setdefault(key, {}).setdefault(case.group, []).append(reading.value)
    return {
        key: norm_of(
            [median(values) for values in people.values()], sum(map(len, people.values()))
        )
        for key, people in sorted(by_key.items())
        if len(people) >= LEAST_PEOPLE
    }


def norm_of(values: Sequence[float], readings: int) -> Norm:
    """Return the norm of one value a person."""
    middle = median(values)
    spread = median([abs(value - middle) for value in values])
    return Norm(round(middle, 6), round(spread, 6), len(values), readings)
