"""What people look at before they ask: some of it, mostly cheap, not always right."""

from collections.abc import Iterable
from random import Random
from typing import NamedTuple

import numpy as np

from mendpool.core.catalogue.admits import admits
from mendpool.core.catalogue.model import Check
from mendpool.core.errors import RefusedInput
from mendpool.core.readings.judge import judge
from mendpool.core.readings.parse import understand
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import ReadingGiven
from mendpool.core.record.report import Observation

from tests.bench.diagnosis.simulator.world import Fault, World

_HOW_MANY = (0, 1, 2, 2, 3, 3, 4, 5)
_SEES = (0.2, 0.5)  # chance that a look goes to the place of the fault, and more by skill
_NEAR = 4
_WALK_ROUND = 0.3
_AS_FIGURE = 0.7  # of readings are given as a figure, the rest as low, within or high
_GRID = [
    round(10**exponent * step, 6)
    for exponent in range(-3, 4)
    for step in (1, 1.5, 2.2, 3.3, 4.7, 6.8)
]
_NEAR_RATED = (0.3, 0.5, 0.7, 0.8, 0.88, 0.94, 0.98, 1.0, 1.02, 1.05, 1.08, 1.15, 1.25, 1.4)


class Looked(NamedTuple):
    """What was looked at: as figures, as observations, and as check and result."""

    readings: list[ReadingGiven]
    observations: list[Observation]
    results: tuple[tuple[str, str], ...]


class Looks:
    """Draws what was measured."""

    def __init__(self, world: World) -> None:
        self._world = world
        self._catalogue = world.knowledge.catalogue
        self._worth: dict[tuple[object, str], tuple[list[str], list[float]]] = {}
        self._figures: dict[tuple[object, ...], list[float]] = {}

    def draw(self, fault: Fault, machine: Machine, skill: float, rng: Random) -> Looked:
        """Return what was looked at before anything was taken apart."""
        codes, weights = self._worth_asking(machine, fault.symptom)
        chosen: list[str] = []
        near = self._about(machine, fault)
        for _ in range(rng.choice(_HOW_MANY)):
            if near and rng.random() < _SEES[0] + _SEES[1] * skill:
                chosen.append(rng.choice(near))
                continue
            powers = [w ** (0.8 + 1.2 * skill) for w in weights]
            code = rng.choices(codes, weights=powers)[0]
            chosen.append(code)
        if rng.random() < _WALK_ROUND:
            chosen += [c.code for c in self._catalogue.checks.values() if c.walkround]
        return self._told(dict.fromkeys(chosen), fault, machine, rng)

    def _told(
        self, chosen: Iterable[str], fault: Fault, machine: Machine, rng: Random
    ) -> Looked:
        looked: list[tuple[str, str]] = []
        readings: list[ReadingGiven] = []
        observations: list[Observation] = []
        for code in chosen:
            check = self._catalogue.checks[code]
            found = self._world.draw_result(code, fault.row, machine, rng)
            looked.append((code, found))
            figures = self._figures_for(check, found, machine)
            if check.reading is not None and figures and rng.random() < _AS_FIGURE:
                readings.append(
                    ReadingGiven(
                        quantity=check.reading.quantity,
                        point=check.reading.point,
                        condition=check.reading.condition,
                        value=rng.choice(figures),
                    )
                )
            else:
                observations.append(Observation(check=code, found=found))
        return Looked(readings, observations, tuple(looked))

    def _about(self, machine: Machine, fault: Fault) -> list[str]:
        """The checks that tell most of what is truly wrong: who stands at the set sees it."""
        barred = set(self._catalogue.symptoms[fault.symptom].cannot)
        told = []
        for check in self._catalogue.checks.values():
            if check.walkround or check.tells or check.state in barred:
                continue
            if admits(check.only, machine):
                table = self._world.results[check.code][1]
                gap = float(np.abs(table[:, fault.row] - table.mean(axis=1)).sum())
                told.append((-gap / (check.minutes + 10), check.code))
        return [code for _, code in sorted(told)[:_NEAR]]

    def _worth_asking(self, machine: Machine, symptom: str) -> tuple[list[str], list[float]]:
        """The checks that tell something about this complaint, cheap ones first in mind."""
        key = (self._world.knowledge.kind_key(machine), symptom)
        held = self._worth.get(key)
        if held is None:
            column = self._world.joint(machine)[:, self._world.knowledge.column[symptom]]
            belief = np.append(column, 0.03 * max(column.sum(), 1e-9))
            belief = belief / belief.sum()
            barred = set(self._catalogue.symptoms[symptom].cannot)
            codes, weights = [], []
            for check in self._catalogue.checks.values():
                if check.walkround or check.tells or check.state in barred:
                    continue
                if not admits(check.only, machine):
                    continue
                table = self._world.results[check.code][1]
                spread = float((np.abs(table - (table @ belief)[:, None]) @ belief).sum())
                codes.append(check.code)
                weights.append(max(spread, 1e-4) / (check.minutes + 5))
            held = self._worth[key] = (codes, weights)
        return held

    def _figures_for(self, check: Check, found: str, machine: Machine) -> list[float]:
        """Figures that are judged so on this set: by the judge itself, tried over a grid."""
        if check.reading is None:
            return []
        key = (check.code, found, machine.rated_volts, machine.rated_hz, machine.fuel,
               machine.rated_kva, machine.phases)  # fmt: skip
        held = self._figures.get(key)
        if held is None:
            grid = list(_GRID)
            for rated in (machine.rated_volts, machine.rated_hz):
                grid += [round((rated or 0) * share, 1) for share in _NEAR_RATED]
            held = [v for v in grid if self._verdict(check, v, machine) == found]
            # The middle ones: a figure a million times too high is no mistake people make.
            held = sorted(held, key=lambda v: (abs(np.log10(max(v, 1e-4)) - 1), v))[:8]
            self._figures[key] = held
        return held

    def _verdict(self, check: Check, value: float, machine: Machine) -> str | None:
        assert check.reading is not None
        given = ReadingGiven(
            quantity=check.reading.quantity,
            point=check.reading.point,
            condition=check.reading.condition,
            value=value,
        )
        try:
            reading = understand(
                given, self._catalogue.vocabulary, machine, self._catalogue.reading_words
            )
        except RefusedInput:
            return None
        return judge(reading, machine, self._catalogue.limits).judged.verdict
