"""Weights of causes and symptoms by kind of set, as arrays that multiply.

A question's kind is one of thousands; each is the usual table times what each thing known of
the set changes, so that a kind never met before costs microseconds.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from mendpool.core.catalogue.admits import admits
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.model import SetKind
from mendpool.core.catalogue.rules import field_of
from mendpool.core.record.machine import Machine

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]


class KindTables:
    """The catalogue's weights, causes in rows and symptoms in columns, by thing known."""

    def __init__(self, catalogue: Catalogue) -> None:
        self._only_of_causes = [
            (catalogue.components[cause.component].only, cause.only)
            for cause in catalogue.causes
        ]
        self._only_of_symptoms = [(symptom.only,) for symptom in catalogue.symptoms.values()]
        column = {code: i for i, code in enumerate(catalogue.symptoms)}
        self.usual = np.zeros((len(catalogue.causes), len(column)))
        self._times: dict[tuple[str, str], Array] = {}
        fields: dict[str, str | None] = {}
        for row, cause in enumerate(catalogue.causes):
            for symptom, weights in cause.symptoms.items():
                usual = weights["usual"]
                self.usual[row, column[symptom]] = usual
                for code, weight in weights.items():
                    if code == "usual" or usual <= 0:
                        continue
                    if code not in fields:
                        fields[code] = field_of(catalogue, code)
                    field = fields[code]
                    if field is not None:
                        times = self._times.setdefault((field, code), np.ones_like(self.usual))
                        times[row, column[symptom]] = weight / usual
        self.causes_out = lru_cache(maxsize=512)(self._causes_out)
        self.symptoms_out = lru_cache(maxsize=512)(self._symptoms_out)

    def raw(self, kind: Mapping[str, str | int]) -> Array:
        """Return the weights on a set of this kind, causes that it can't have among them."""
        raw = self.usual.copy()
        for field, value in kind.items():
            times = self.times(field, value)
            if times is not None:
                raw *= times
        return raw

    def times(self, field: str, value: str | int) -> Array | None:
        """Return what knowing this multiplies the usual weights by; None for nothing."""
        return self._times.get((field, str(value)))

    def admitted(self, kind: Mapping[str, str | int]) -> tuple[Flags, Flags]:
        """Return which causes, and which symptoms, a set of this kind can have."""
        causes = np.ones(len(self._only_of_causes), dtype=bool)
        symptoms = np.ones(len(self._only_of_symptoms), dtype=bool)
        for field, value in kind.items():
            causes &= ~self.causes_out(field, value)
            symptoms &= ~self.symptoms_out(field, value)
        return causes, symptoms

    def _causes_out(self, field: str, value: str | int) -> Flags:
        return _ruled_out(self._only_of_causes, field, value)

    def _symptoms_out(self, field: str, value: str | int) -> Flags:
        return _ruled_out(self._only_of_symptoms, field, value)


def _ruled_out(entries: Sequence[Sequence[SetKind]], field: str, value: str | int) -> Flags:
    """Which entries are about other sets than those whose field has this value."""
    machine = Machine().model_copy(update={field: value})
    return np.array([not all(admits(only, machine) for only in all_of) for all_of in entries])
