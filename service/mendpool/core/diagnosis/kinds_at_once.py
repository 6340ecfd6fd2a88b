"""What the catalogue says of many kinds of sets at once: the figures of `Knowledge.weights`.

A fit asks about tens of thousands of kinds. Few causes come with few symptoms each, so only
those pairs are worked out.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mendpool.core.diagnosis.facts import KIND_FIELDS
from mendpool.core.diagnosis.kind_tables import KindTables
from mendpool.core.record.machine import NOT_KNOWN

Array = NDArray[np.float64]
Kind = Mapping[str, str | int]


class OfKinds(NamedTuple):
    """By kind of set, in rows.

    Args:
        prior: P(cause), "something else" apart.
        rate: P(symptom | cause) for each pair of them that there is.
        admitted: whether a set of that kind can have the cause.
    """

    prior: Array
    rate: Array
    admitted: NDArray[np.bool_]


class KindsAtOnce:
    """The catalogue's pairs of cause and symptom.

    Args:
        tables: the catalogue's weights by thing known.
        shares: how often sets come with each symptom.
    """

    def __init__(self, tables: KindTables, shares: Array) -> None:
        self._tables, self._shares = tables, shares
        self.cause, self.symptom = np.nonzero(tables.usual > 0)
        self._usual = tables.usual[self.cause, self.symptom]
        self._by_symptom = np.argsort(self.symptom, kind="stable")
        self._symptoms, self._symptom_starts = np.unique(
            self.symptom[self._by_symptom], return_index=True
        )
        self._causes, self._cause_starts = np.unique(self.cause, return_index=True)

    def of(self, kinds: Sequence[Kind]) -> OfKinds:
        """Return the figures of these kinds, in their order."""
        raw, causes, possible = self._raw(kinds)
        raw *= causes[:, self.cause]
        totals = np.zeros((len(kinds), len(self._shares)))
        totals[:, self._symptoms] = np.add.reduceat(
            raw[:, self._by_symptom], self._symptom_starts, axis=1
        )
        scale = np.where((totals > 0) & possible, self._shares / np.maximum(totals, 1e-12), 0.0)
        joint = raw * scale[:, self.symptom]
        joint /= np.maximum(joint.sum(axis=1, keepdims=True), 1e-12)
        prior = self.by_cause(joint)
        rate = joint / np.maximum(prior, 1e-12)[:, self.cause]
        return OfKinds(prior, rate, causes)

    def by_cause(self, pairs: Array) -> Array:
        """Add up what stands at the pairs, in rows, by cause."""
        sums = np.zeros((len(pairs), len(self._tables.usual)))
        sums[:, self._causes] = np.add.reduceat(pairs, self._cause_starts, axis=1)
        return sums

    def _raw(self, kinds: Sequence[Kind]) -> tuple[Array, NDArray[np.bool_], NDArray[np.bool_]]:
        raw = np.repeat(self._usual[None, :], len(kinds), axis=0)
        causes = np.ones((len(kinds), len(self._tables.usual)), dtype=np.bool_)
        possible = np.ones((len(kinds), len(self._shares)), dtype=np.bool_)
        for known, rows in _by_thing_known(kinds).items():
            times = self._tables.times(*known)
            if times is not None:
                raw[rows] *= times[self.cause, self.symptom]
            causes[rows] &= ~self._tables.causes_out(*known)
            possible[rows] &= ~self._tables.symptoms_out(*known)
        return raw, causes, possible


def _by_thing_known(kinds: Sequence[Kind]) -> dict[tuple[str, str | int], list[int]]:
    """The places of the kinds of which each thing is known, field by field in order."""
    places: dict[tuple[str, str | int], list[int]] = {}
    for field in KIND_FIELDS:
        for row, kind in enumerate(kinds):
            value = kind.get(field)
            if value is not None and value != NOT_KNOWN:
                places.setdefault((field, value), []).append(row)
    return places
