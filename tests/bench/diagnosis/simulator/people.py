"""Members of different skill, who try things in their usual order until it runs."""

from math import exp
from random import Random
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mendpool.core.diagnosis.knowledge import Array
from mendpool.core.record.machine import Machine

from tests.bench.diagnosis.simulator.world import Fault, World

_HABITS = {  # what everybody tries too early
    "spark-plug": 3.0, "avr": 2.5, "battery": 2.0, "carburettor": 1.8, "fuel-filter": 2.0,
    "fuel": 1.5, "oil": 1.5, "brushes": 1.5, "capacitor": 1.5, "air-filter": 1.5,
}  # fmt: skip
_TESTED_FIRST = 0.25
_NO_GOOD = 0.04
_TOGETHER = 0.07
_BETTER = 0.2
_UNTHINKABLE = 1e-4

Fix = tuple[str, str]


class Member(NamedTuple):
    """Someone who reports: skill 0 to 1, patience in attempts, own pet suspects by seed."""

    group: int
    skill: float
    patience: int
    seed: int


class Try(NamedTuple):
    """One attempt as it truly went."""

    row: int
    fix: Fix
    result: str
    minutes: float
    with_next: bool


class _Fixes(NamedTuple):
    """The remedies of a kind of set, laid out."""

    rows: NDArray[np.int64]
    fixes: list[Fix]
    components: list[str]
    prices: Array
    habits: Array
    cures: Array


class People:
    """Draws members and what they do."""

    def __init__(self, world: World, count: int, seed: int) -> None:
        rng = Random(f"people {seed}")
        self._world = world
        self.members = [
            Member(n + 1, rng.betavariate(2, 2), rng.choice((1, 2, 3, 3, 4, 5, 6)), seed + n)
            for n in range(count)
        ]
        self._held: dict[object, _Fixes] = {}
        self._pets: dict[int, dict[str, float]] = {}
        self._share = [1 / (n + 3) for n in range(count)]

    def draw(self, rng: Random) -> Member:
        """Return a member; a few write most of the reports."""
        return rng.choices(self.members, weights=self._share)[0]

    def work(self, fault: Fault, machine: Machine, member: Member, rng: Random) -> list[Try]:
        """Return what the member does, in order, until it runs or they stop."""
        done: list[Try] = []
        for row, fix in self.order(fault, machine, member, rng)[: 3 * member.patience]:
            if len(done) >= member.patience:
                break
            done.append(self._one(row, fix, fault, member, rng))
            if done[-1].result == "fixed":
                break
        return _together(done, rng)

    def order(
        self, fault: Fault, machine: Machine, member: Member, rng: Random
    ) -> list[tuple[int, Fix]]:
        """Return the fixes in the order this member thinks of them.

        Skill sharpens what the complaint tells and half of it what is truly wrong (they can
        look at the set, we can't); habit, pet suspects and a cheap first go do the rest.
        """
        column = self._world.knowledge.column[fault.symptom]
        joint = self._world.joint(machine)[:, column]
        believed = joint / max(joint.sum(), 1e-12)
        if fault.row != self._world.unlisted:
            seen = np.zeros_like(believed)
            seen[fault.row] = 1.0
            believed = (1 - 0.35 * member.skill) * believed + 0.35 * member.skill * seen
        rows, fixes, components, prices, habits, cures = self._fixes(machine)
        pets = self._pets_of(member)
        pet = np.array([pets[component] for component in components])
        luck = np.array([exp(rng.gauss(0, 0.4)) for _ in rows])
        cheap = (prices + 10) ** -(0.25 + 0.5 * member.skill)
        sharp = believed[rows] ** (0.5 + 0.6 * member.skill)
        score = sharp * cures * pet * habits ** (1.2 - member.skill) * cheap * luck
        best: dict[Fix, tuple[int, Fix]] = {}
        for place in np.argsort(-score, kind="stable"):
            if believed[rows[place]] <= _UNTHINKABLE:
                continue
            best.setdefault(fixes[place], (int(rows[place]), fixes[place]))
        return list(best.values())

    def _fixes(self, machine: Machine) -> _Fixes:
        key = self._world.knowledge.kind_key(machine)
        held = self._held.get(key)
        if held is None:
            pairs = self._world.fixes(machine)
            held = self._held[key] = _Fixes(
                np.array([row for row, _ in pairs]),
                [fix for _, fix in pairs],
                [fix[0] for _, fix in pairs],
                np.array([self._world.price(fix) for _, fix in pairs]),
                np.array([_HABITS.get(fix[0], 1.0) for _, fix in pairs]),
                np.array([self._world.cure(row, fix) for row, fix in pairs]),
            )
        return held

    def _pets_of(self, member: Member) -> dict[str, float]:
        """How much this member overrates each part."""
        held = self._pets.get(member.seed)
        if held is None:
            rng = Random(f"pets {member.seed}")
            spread = 1.2 - member.skill
            parts = self._world.knowledge.rows_of_component
            held = {part: exp(rng.gauss(0, spread)) for part in sorted(parts)}
            if member.group:
                self._pets[member.seed] = held
        return held

    def _one(self, row: int, fix: Fix, fault: Fault, member: Member, rng: Random) -> Try:
        works = self._world.cure(fault.row, fix)
        minutes = round(
            self._world.price(fix) * exp(rng.gauss(0.4 - 0.6 * member.skill, 0.3)), 1
        )
        if works == 0.0:
            looked = rng.random() < _TESTED_FIRST * (0.5 + member.skill)
            return Try(row, fix, "found-good" if looked else "no-change", minutes, False)
        if fix[1] == "replace" and rng.random() < _NO_GOOD:
            return Try(row, fix, "part-no-good", minutes, False)
        if rng.random() < works:
            return Try(row, fix, "fixed", minutes, False)
        better = rng.random() < _BETTER
        return Try(row, fix, "improved" if better else "no-change", minutes, False)


def _together(done: list[Try], rng: Random) -> list[Try]:
    """Now and then the last two are done at once, and nobody knows which of them helped."""
    if len(done) >= 2 and done[-1].result == "fixed" and rng.random() < _TOGETHER:
        done[-2] = done[-2]._replace(result="fixed", with_next=True)
    return done
