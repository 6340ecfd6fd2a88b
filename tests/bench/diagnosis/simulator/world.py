"""The truth of one made-up world: near the catalogue, and different from it on purpose.

Everything comes from one seed. Joint weights of cause and symptom are off by a log-normal
factor, one cause in twenty is five times commoner and one in twenty five times rarer than
the catalogue says, some symptoms come from causes it does not list them under, and results
of checks and cures of remedies are off as well.
"""

from math import exp, log
from random import Random
from typing import NamedTuple

import numpy as np

from mendpool.core.diagnosis.beliefs import cure_of
from mendpool.core.diagnosis.knowledge import COST_MINUTES, Array, Knowledge
from mendpool.core.record.machine import Machine

TUNING = 20261
"""The seed to look at while changing anything."""

HELD_OUT = 77003
"""The seed of the closing note. Nobody tunes on it: run it once, report it, leave it."""

_SPREAD = 0.6  # a cell of the joint table is off by a factor of 1.8, one standard deviation
_BOOSTED = _RARER = 0.05
_BOOST = 5.0
_LINKS = 60
_LINK_SHARE = 0.15
_RESULT_SPREAD = 0.4
_CURE_SPREAD = 0.6
_UNLISTED = 0.03  # of faults are none that the catalogue knows
_NOTHING_LEARNED = 0.06  # of results say nothing of the fault (wrong place, flat meter)
_ANYTHING = 0.02  # of results are plain wrong


class Fault(NamedTuple):
    """What is truly wrong: its row (the last stands for none that is listed), its symptom."""

    row: int
    symptom: str
    others: tuple[str, ...]


class World:
    """One truth. The same seed gives the same world."""

    def __init__(self, knowledge: Knowledge, seed: int) -> None:
        self.knowledge = knowledge
        self.unlisted = len(knowledge.keys)
        self._rng = Random(f"world {seed}")
        rows, columns = len(knowledge.keys), len(knowledge.symptoms)
        self._noise = np.array(
            [[exp(self._rng.gauss(0, _SPREAD)) for _ in range(columns)] for _ in range(rows)]
        )
        count = round(_BOOSTED * rows)
        moved = self._rng.sample(range(rows), count + round(_RARER * rows))
        self.boosted = tuple(knowledge.keys[row] for row in moved[:count])
        self._noise[moved[:count]] *= _BOOST
        self._noise[moved[count:]] /= _BOOST
        self._links = [
            (self._rng.randrange(rows), self._rng.randrange(columns)) for _ in range(_LINKS)
        ]
        self._joint: dict[object, Array] = {}
        self.results = {
            code: (codes, self._off(table))
            for code, (codes, table) in knowledge.results.items()
        }
        self._cures: dict[tuple[int, str], float] = {}
        self._seed = seed

    def _off(self, table: Array) -> Array:
        factors = [[exp(self._rng.gauss(0, _RESULT_SPREAD)) for _ in row] for row in table]
        moved = table * np.array(factors)
        return np.asarray(moved / moved.sum(axis=0))

    def joint(self, machine: Machine) -> Array:
        """Return how often each cause (rows) comes as each complaint on such a set."""
        key = self.knowledge.kind_key(machine)
        if key not in self._joint:
            weights = self.knowledge.weights(key)
            joint = weights.joint[:-1] * self._noise
            for row, column in self._links:
                if weights.admitted[row] and weights.share_of_symptom[column] > 0:
                    joint[row, column] += _LINK_SHARE * joint[row].max()
            self._joint[key] = joint / joint.sum()
        return self._joint[key]

    def draw_fault(self, machine: Machine, rng: Random) -> Fault:
        """Draw what is wrong with a set of this kind, and what it shows."""
        joint = self.joint(machine)
        column = _drawn(joint.sum(axis=0), rng)
        row = self.unlisted
        if rng.random() >= _UNLISTED:
            flat = _drawn(joint.ravel(), rng)
            row, column = divmod(flat, joint.shape[1])
        others: list[str] = []
        usual = joint.sum(axis=0) if row == self.unlisted else joint[row]
        for chance in (0.35, 0.12):
            left = usual.copy()
            left[[column, *(self.knowledge.column[c] for c in others)]] = 0.0
            if rng.random() < chance and left.sum() > 0:
                others.append(self.knowledge.symptoms[_drawn(left, rng)])
        return Fault(row, self.knowledge.symptoms[column], tuple(others))

    def draw_result(self, check: str, row: int, machine: Machine, rng: Random) -> str:
        """Draw what a check shows on a set with this fault."""
        tells = self.knowledge.catalogue.checks[check].tells
        codes, table = self.results[check]
        if tells is not None:
            return str(machine.kind(tells))
        luck = rng.random()
        if luck < _ANYTHING:
            return codes[rng.randrange(len(codes))]
        column = table[:, row] if luck > _ANYTHING + _NOTHING_LEARNED else table.mean(axis=1)
        return codes[_drawn(column, rng)]

    def cure(self, row: int, fix: tuple[str, str]) -> float:
        """Return how often a fix truly cures this fault."""
        component, action = fix
        if row == self.unlisted or self.knowledge.causes[row].component != component:
            return 0.0
        key = (row, action)
        if key not in self._cures:
            said = min(max(cure_of(self.knowledge, row, action), 0.02), 0.97)
            off = Random(f"{self._seed} {self.knowledge.keys[row]} {action}").gauss(
                0, _CURE_SPREAD
            )
            self._cures[key] = 1 / (1 + exp(-(log(said / (1 - said)) + off)))
        return self._cures[key]

    def comes_back(self, row: int, fix: tuple[str, str]) -> float:
        """Return how likely a cure fails within a year: 3 to 35 per cent."""
        key = f"{self._seed} back {row} {fix}"
        return 0.03 + 0.32 * Random(key).random() ** 2

    def price(self, fix: tuple[str, str]) -> float:
        """Return minutes a fix takes, parts as minutes: the same for whoever does it."""
        return _prices(self.knowledge).get(fix, 60.0)

    def fixes(self, machine: Machine) -> list[tuple[int, tuple[str, str]]]:
        """Return the remedies that a set of this kind can have, with the row of each."""
        admitted = self.knowledge.weights(self.knowledge.kind_key(machine)).admitted
        return [
            (row, (cause.component, remedy.action))
            for row, cause in enumerate(self.knowledge.causes)
            if admitted[row]
            for remedy in cause.remedies
        ]


def _prices(knowledge: Knowledge) -> dict[tuple[str, str], float]:
    held = getattr(knowledge, "_bench_prices", None)
    if held is None:
        held = {}
        found: dict[tuple[str, str], list[tuple[float, float]]] = {}
        for cause in knowledge.causes:
            for remedy in cause.remedies:
                pair = (remedy.minutes, COST_MINUTES[remedy.cost])
                found.setdefault((cause.component, remedy.action), []).append(pair)
        for fix, pairs in found.items():
            minutes = sorted(m for m, _ in pairs)[len(pairs) // 2]
            held[fix] = max(1.0, minutes) + min(parts for _, parts in pairs)
        knowledge._bench_prices = held
    return held


def _drawn(weights: Array, rng: Random) -> int:
    """Draw a place by weight."""
    sums = np.cumsum(weights)
    return int(
        np.searchsorted(sums, rng.random() * sums[-1], side="right").clip(0, len(sums) - 1)
    )
