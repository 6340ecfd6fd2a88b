"""What good sets read: the middle and the spread, people counted once each."""

from collections.abc import Iterable, Sequence
from statistics import median
from typing import NamedTuple

import numpy as np

from mendpool.core.evidence.case import Case
from mendpool.core.evidence.ledger import Block, Numbers, ledger_of

LEAST_PEOPLE = 3
"""Fewer people than this are not spoken of: what one of them reads would show."""


class Norm(NamedTuple):
    """The median of what people's good sets read, the median distance from it, and counts."""

    middle: float
    spread: float
    people: int
    readings: int


class GoodOnes:
    """Good readings by place, a person standing for one in each.

    That is the median of all that person's, so that nobody's sets outweigh the others'.
    """

    def __init__(self, places: Sequence[str]) -> None:
        """Collect readings at the places of these names."""
        self._places = places
        self._place: list[Numbers] = [np.zeros(0, np.int64)]
        self._person: list[Numbers] = [np.zeros(0, np.int64)]
        self._reads = [np.zeros(0)]

    def add(self, block: Block, person: Numbers) -> None:
        """Add the good readings of a block, and whose they are."""
        good = block.ragged("healthy", "place")
        self._place.append(good.entries.astype(np.int64))
        self._person.append(person[good.owners])
        self._reads.append(block["reads"])

    def norms(self) -> dict[str, Norm]:
        """Return the norm at each place that enough people have a good reading for."""
        place, person = np.concatenate(self._place), np.concatenate(self._person)
        reads = np.concatenate(self._reads)
        order = np.lexsort((reads, person, place))
        place, person, reads = place[order], person[order], reads[order]
        key = (place << 32) | person
        starts = np.flatnonzero(np.concatenate([[True], key[1:] != key[:-1]])[: len(key)])
        counts = np.diff(np.append(starts, len(key)))
        middles = (reads[starts + (counts - 1) // 2] + reads[starts + counts // 2]) / 2
        found: dict[str, Norm] = {}
        numbers, firsts, people = np.unique(
            place[starts], return_index=True, return_counts=True
        )
        for number, first, many in zip(
            numbers.tolist(), firsts.tolist(), people.tolist(), strict=True
        ):
            if many >= LEAST_PEOPLE:
                theirs = slice(first, first + many)
                readings = int(counts[theirs].sum())
                found[self._places[number]] = norm_of(middles[theirs].tolist(), readings)
        return dict(sorted(found.items()))


def norms(cases: Iterable[Case]) -> dict[str, Norm]:
    """Return the norm under each key that enough people have a good reading for."""
    ledger = ledger_of(cases)
    good = GoodOnes(ledger.names["place"].names)
    for block in ledger.blocks():
        good.add(block, block["group"])
    return good.norms()


def norm_of(values: Sequence[float], readings: int) -> Norm:
    """Return the norm of one value a person."""
    middle = median(values)
    spread = median([abs(value - middle) for value in values])
    return Norm(round(middle, 6), round(spread, 6), len(values), readings)
