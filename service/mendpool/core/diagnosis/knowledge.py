"""The catalogue as arrays: weights of causes, likelihoods of results, cures of remedies.

Rows are causes in the catalogue's order; the last row is "something else".
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from mendpool.core.catalogue.admits import admits
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.model import Cause, Check, Remedy
from mendpool.core.catalogue.sets import ANY_KVA, KindShare
from mendpool.core.diagnosis.facts import KIND_FIELDS
from mendpool.core.diagnosis.kind_tables import KindTables
from mendpool.core.diagnosis.kinds_at_once import KindsAtOnce
from mendpool.core.record.machine import NOT_KNOWN, Machine

Array = NDArray[np.float64]

COST_MINUTES = (0.0, 10.0, 25.0, 60.0, 150.0, 400.0)
"""What parts of each cost band are worth in minutes, so that money and time are one unit.
Common practice: an owner's hour against the price of a small set."""


@dataclass(frozen=True, slots=True)
class Weights:
    """For one kind of set: `joint[c, s]` is how often cause c comes as complaint s."""

    joint: Array
    prior: Array
    share_of_symptom: Array
    admitted: NDArray[np.bool_]


class Knowledge:
    """One catalogue, ready for arithmetic. Make one and keep it."""

    def __init__(self, catalogue: Catalogue) -> None:
        self.catalogue = catalogue
        self.causes: tuple[Cause, ...] = catalogue.causes
        self.keys: tuple[str, ...] = tuple(c.key for c in self.causes)
        self.row: Mapping[str, int] = {key: i for i, key in enumerate(self.keys)}
        # "Something else" has no name and stands before all that have one.
        self.rank = np.argsort(np.argsort(np.array([*self.keys, ""])))
        self.rows_of_component: dict[str, list[int]] = {}
        self.remedies: dict[tuple[str, str], list[tuple[int, Remedy]]] = {}
        for i, cause in enumerate(self.causes):
            self.rows_of_component.setdefault(cause.component, []).append(i)
            for remedy in cause.remedies:
                fix = (cause.component, remedy.action)
                self.remedies.setdefault(fix, []).append((i, remedy))
        self.symptoms: tuple[str, ...] = tuple(catalogue.symptoms)
        self.column: Mapping[str, int] = {code: i for i, code in enumerate(self.symptoms)}
        self._tables = KindTables(catalogue)
        self._shares = np.array([s.share for s in catalogue.symptoms.values()])
        self.kinds_at_once = KindsAtOnce(self._tables, self._shares)
        self.results: Mapping[str, tuple[tuple[str, ...], Array]] = {
            code: self._likelihood(check) for code, check in catalogue.checks.items()
        }
        self.checks_by_place = _by_place(catalogue)
        self.weights = lru_cache(maxsize=512)(self._weights)
        self.checks_for = lru_cache(maxsize=512)(self._checks_for)
        # All result tables in one, so that every check is looked at in a single product;
        # causes in rows, since some of them are taken out for every question.
        self._stacked = np.vstack([table for _, table in self.results.values()]).T.copy()
        lengths = [len(codes) for codes, _ in self.results.values()]
        self._symptoms_of_causes: Array | None = None
        ends = np.cumsum(lengths).tolist()
        self._begins = np.array([0, *ends[:-1]], dtype=np.intp)
        self._slices = {
            code: slice(begin, end)
            for code, begin, end in zip(self.results, [0, *ends[:-1]], ends, strict=True)
        }
        self.walk_rounds = tuple(c for c in catalogue.checks.values() if c.walkround)

    @staticmethod
    def machine_of(kind: tuple[str | int | None, ...]) -> Machine:
        """Return a set of which only its kind is known."""
        return Machine().model_copy(update=dict(zip(KIND_FIELDS, kind, strict=True)))

    def kind_key(self, machine: Machine) -> tuple[str | int | None, ...]:
        """Return the set's kind as a key for `weights`."""
        return tuple(machine.kind(field) for field in KIND_FIELDS)

    @property
    def any_kind(self) -> tuple[str | int | None, ...]:
        """The key of a set of which nothing is known."""
        return (None,) * len(KIND_FIELDS)

    def symptoms_of_causes(self) -> Array:
        """Return P(symptom | cause) on sets in general: causes in rows, each summing to 1."""
        if self._symptoms_of_causes is None:
            joint = self.weights(self.any_kind).joint[:-1] + 1e-6
            self._symptoms_of_causes = joint / joint.sum(axis=1, keepdims=True)
        return self._symptoms_of_causes

    def told_by(self, rows: Sequence[int]) -> "ToldBy":
        """Return what every check tells of some causes, "something else" among them."""
        return ToldBy(self._stacked[list(rows)].T, self._slices, self._begins)

    def _checks_for(self, kind: tuple[str | int | None, ...]) -> tuple[Check, ...]:
        """The checks that a set of this kind can have, but for the walk-round."""
        machine = self.machine_of(kind)
        return tuple(
            check
            for check in self.catalogue.checks.values()
            if not check.walkround and admits(check.only, machine)
        )

    def rows_of(self, key: str) -> list[int]:
        """Return the rows a ``component/failure`` or ``component`` stands for."""
        if key in self.row:
            return [self.row[key]]
        return self.rows_of_component.get(key.split("/", 1)[0], [])

    def _weights(self, kind: tuple[str | int | None, ...]) -> Weights:
        known = {
            field: value
            for field, value in zip(KIND_FIELDS, kind, strict=True)
            if value is not None and value != NOT_KNOWN
        }
        causes, possible = self._tables.admitted(known)
        raw = np.zeros((len(self.causes) + 1, len(self.symptoms)))
        raw[:-1] = np.where(causes[:, None], self._tables.raw(known), 0.0)
        totals = raw.sum(axis=0)
        scale = np.where((totals > 0) & possible, self._shares / np.maximum(totals, 1e-12), 0.0)
        joint = raw * scale
        joint /= max(joint.sum(), 1e-12)
        admitted = np.append(causes, True)
        return Weights(joint, joint.sum(axis=1), joint.sum(axis=0), admitted)

    def _likelihood(self, check: Check) -> tuple[tuple[str, ...], Array]:
        """P(result | cause) for each result (rows) and cause (columns, the last "else")."""
        codes = tuple(check.found)
        usual = np.array([max(found.usual, 0.5) for found in check.found.values()])
        named = np.full((len(codes), len(self.causes) + 1), np.nan)
        for r, found in enumerate(check.found.values()):
            for key in sorted(found.likely, key=lambda k: "/" in k):
                named[r, self.rows_of(key)] = found.likely[key] / 100.0
        left = 1.0 - np.nansum(named, axis=0)
        missing = np.isnan(named)
        spread = np.where(missing, usual[:, None], 0.0)
        totals = spread.sum(axis=0)
        spread = spread / np.where(totals > 0, totals, 1.0) * np.maximum(left, 0.0)
        table = np.where(missing, spread, named)
        table = np.clip(table, 0.01, None)
        return codes, table / table.sum(axis=0)


@dataclass(frozen=True, slots=True)
class ToldBy:
    """P(result | cause) of every check, over some causes.

    Args:
        table: results of one check after the other in rows.
        slices: where those of each check are.
        begins: where they begin.
    """

    table: Array
    slices: Mapping[str, slice]
    begins: NDArray[np.intp]

    def results_of(self, check: str) -> Array:
        """Return P(result | cause) of a check, results in rows."""
        return self.table[self.slices[check]]

    def spreads(self, belief: Array) -> dict[str, float]:
        """Return how far each check's results are spread by the causes believed in.

        Returns:
            By check code: the mean absolute difference of P(result | cause) from P(result),
            summed over the results; 0 for a check that can tell nothing here.
        """
        mean = self.table @ belief
        apart = self.table - mean[:, None]
        np.abs(apart, out=apart)
        sums = np.add.reduceat(apart @ belief, self.begins).tolist()
        return dict(zip(self.slices, sums, strict=True))


def _by_place(catalogue: Catalogue) -> dict[tuple[str, str], list[Check]]:
    """The checks that a reading can answer, by quantity and point."""
    places: dict[tuple[str, str], list[Check]] = {}
    for check in catalogue.checks.values():
        if check.reading is not None:
            place = (check.reading.quantity, check.reading.point)
            places.setdefault(place, []).append(check)
    return places


def possible_kinds(catalogue: Catalogue, machine: Machine, field: str) -> dict[str, float]:
    """Return the shares of a field's codes among sets like this whose own is not known.

    Empty when it is known, or when the catalogue has no mix for it.
    """
    if machine.kind(field) is not None:
        return {}
    for entry in catalogue.sets.mix.get(field, ()):
        if _entry_fits(entry, machine):
            total = sum(entry.shares.values())
            return {code: value / total for code, value in entry.shares.items() if value > 0}
    return {}


def _entry_fits(entry: KindShare, machine: Machine) -> bool:
    """An entry that asks for a figure does not fit a set whose figure is not known."""
    if entry.fuel and machine.fuel not in entry.fuel:
        return False
    if entry.phases and machine.phases not in entry.phases:
        return False
    kva = machine.rated_kva or machine.rated_kw
    if kva is None:
        return entry.kva_from <= 0 and entry.kva_to >= ANY_KVA
    return entry.kva_from <= kva < entry.kva_to
