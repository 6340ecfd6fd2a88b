"""What the catalogue says of many kinds of sets at once: the figures of `Knowledge.weights`.

A fit asks about tens of thousands of kinds. Of what is known of a set only some of it changes
anything, and few causes come with few symptoms each: so few kinds are told apart, and only
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
Numbers = NDArray[np.int64]
Kind = Mapping[str, str | int]
Known = tuple[str, str | int]

_AT_ONCE = 64


class OfKinds(NamedTuple):
    """Figures of the kinds that differ, in rows.

    Args:
        row: of each kind asked about.
        prior: P(cause), "something else" apart.
        admitted: whether a set of that kind can have the cause.
        scale: by symptom, what a weight is multiplied by to be P(cause and symptom).
        known: what is known of such sets, as rows of `times`.
        times: what knowing it multiplies the weight of each pair by.
    """

    row: Numbers
    prior: Array
    admitted: NDArray[np.bool_]
    scale: Array
    known: Numbers
    times: Array


class KindsAtOnce:
    """The catalogue's pairs of cause and symptom.

    Args:
        tables: the catalogue's weights by thing known.
        shares: how often sets come with each symptom.
    """

    def __init__(self, tables: KindTables, shares: Array) -> None:
        self._tables, self._shares = tables, shares
        symptom, cause = np.nonzero(tables.usual.T > 0)
        self.symptom, self.cause = symptom.astype(np.int64), cause.astype(np.int64)
        self.usual = tables.usual[cause, symptom]
        self.begins = np.searchsorted(self.symptom, np.arange(len(shares) + 1))

    def of(self, kinds: Sequence[Kind]) -> OfKinds:
        """Return the figures of these kinds."""
        matters = {(f, v) for kind in kinds for f, v in kind.items() if self._matters(f, v)}
        things = sorted(matters, key=repr)
        told = [tuple(item for item in _items(kind) if item in matters) for kind in kinds]
        differing = sorted(set(told), key=repr)
        place = {kind: row for row, kind in enumerate(differing)}
        number = {thing: row for row, thing in enumerate(things)}
        known = np.full((len(differing), len(KIND_FIELDS)), len(things), dtype=np.int64)
        for row, kind in enumerate(differing):
            known[row, : len(kind)] = [number[thing] for thing in kind]
        times = np.ones((len(things) + 1, len(self.usual)))
        causes = np.ones((len(things) + 1, len(self._tables.usual)), dtype=np.bool_)
        possible = np.ones((len(things) + 1, len(self._shares)), dtype=np.bool_)
        for row, thing in enumerate(things):
            changed = self._tables.times(*thing)
            if changed is not None:
                times[row] = changed[self.cause, self.symptom]
            causes[row] = ~self._tables.causes_out(*thing)
            possible[row] = ~self._tables.symptoms_out(*thing)
        admitted = np.asarray(causes[known].all(axis=1), dtype=np.bool_)
        can_show = np.asarray(possible[known].all(axis=1), dtype=np.bool_)
        prior, scale = self._shared(known, times, admitted, can_show)
        rows = np.array([place[kind] for kind in told], dtype=np.int64)
        return OfKinds(rows, prior, admitted, scale, known, times)

    def rates(self, of: OfKinds, row: Numbers, pair: Numbers) -> Array:
        """Return P(symptom | cause) of pairs, on sets of the kinds in these rows."""
        cause = self.cause[pair]
        weight = self.usual[pair] * of.admitted[row, cause]
        for field in range(of.known.shape[1]):
            weight *= of.times[of.known[row, field], pair]
        weight *= of.scale[row, self.symptom[pair]]
        return np.asarray(weight / np.maximum(of.prior[row, cause], 1e-12))

    def _matters(self, field: str, value: str | int) -> bool:
        """Tell whether it changes anything that this is known of a set."""
        if field not in KIND_FIELDS or value == NOT_KNOWN:
            return False
        if self._tables.times(field, value) is not None:
            return True
        out = self._tables.causes_out(field, value), self._tables.symptoms_out(field, value)
        return bool(out[0].any() or out[1].any())

    def _shared(
        self,
        known: Numbers,
        times: Array,
        admitted: NDArray[np.bool_],
        possible: NDArray[np.bool_],
    ) -> tuple[Array, Array]:
        """P(cause), and the scale of each symptom, of kinds by what is known of them."""
        prior = np.zeros(admitted.shape)
        scales = np.zeros(possible.shape)
        filled = np.flatnonzero(np.diff(self.begins))
        by_cause = np.argsort(self.cause, kind="stable")
        causes, starts = np.unique(self.cause[by_cause], return_index=True)
        for begin in range(0, len(known), _AT_ONCE):
            rows = slice(begin, begin + _AT_ONCE)
            raw = self.usual * admitted[rows][:, self.cause]
            for field in range(known.shape[1]):
                raw *= times[known[rows, field]]
            totals = np.zeros((len(raw), len(self._shares)))
            totals[:, filled] = np.add.reduceat(raw, self.begins[filled], axis=1)
            scale = np.where(
                (totals > 0) & possible[rows], self._shares / np.maximum(totals, 1e-12), 0.0
            )
            raw *= scale[:, self.symptom]
            total = np.maximum(raw.sum(axis=1, keepdims=True), 1e-12)
            prior[rows, causes] = np.add.reduceat(raw[:, by_cause], starts, axis=1) / total
            scales[rows] = scale / total
        return prior, scales


def _items(kind: Kind) -> list[Known]:
    return [(field, kind[field]) for field in KIND_FIELDS if field in kind]
