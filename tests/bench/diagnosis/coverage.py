"""Do the 90 % ranges hold the true success of a fix on sets like the asker's?

Two truths, because two questions can be meant: how often the fix works *when members try
it* on such complaints (they try some things late, on hard cases only), and how often it
would cure such a complaint tried *first*. The ranges are made from the former.
"""

from collections import defaultdict
from collections.abc import Sequence
from typing import NamedTuple

from tests.bench.diagnosis.judged import Shown
from tests.bench.diagnosis.simulator.pool import Drawn, Simulator

LEAST_TRIES = 40
_A_TRY = ("fixed", "improved", "no-change", "worse")
_BANDS = ((1, 2), (3, 5), (6, 15), (16, 10**9))

Cell = tuple[str, str | None, str, str]


class Covered(NamedTuple):
    """How many ranges were judged, and the share that hold each of the two truths."""

    tried: str
    ranges: int
    as_tried: float
    as_first: float
    width: float


def true_rates(simulator: Simulator, repairs: int) -> dict[Cell, float]:
    """Return how often each fix works as members try it, by complaint and excitation."""
    counts: dict[Cell, list[int]] = defaultdict(lambda: [0, 0])
    for machine, fault, work in simulator.tries(repairs):
        for one in work:
            if one.result in _A_TRY:
                count = counts[(fault.symptom, machine.excitation, *one.fix)]
                count[0] += one.result == "fixed"
                count[1] += 1
    return {cell: won / n for cell, (won, n) in counts.items() if n >= LEAST_TRIES}


def coverage(
    simulator: Simulator,
    questions: Sequence[Drawn],
    shown: Sequence[Shown],
    rates: dict[Cell, float],
) -> list[Covered]:
    """Return the coverage, in all and by how often the fix had been tried."""
    rows = []
    for one in shown:
        drawn = questions[one.question]
        rate = rates.get((drawn.fault.symptom, drawn.machine.excitation, *one.fix))
        if rate is not None:
            rows.append((one, rate, _as_first(simulator, drawn, one.fix)))
    told = [_covered("all", rows)]
    for low, high in _BANDS:
        band = [row for row in rows if low <= row[0].tried <= high]
        told.append(_covered(f"{low} to {high}" if high < 10**9 else f"{low} up", band))
    return told


def _as_first(simulator: Simulator, drawn: Drawn, fix: tuple[str, str]) -> float:
    """P(the fix cures a complaint like this one), over the world's own causes of it."""
    world = simulator.world
    column = world.joint(drawn.machine)[:, world.knowledge.column[drawn.fault.symptom]]
    rows = world.knowledge.rows_of_component.get(fix[0], ())
    cured = sum(float(column[row]) * world.cure(row, fix) for row in rows)
    return cured / max(float(column.sum()), 1e-12)


def _covered(name: str, rows: Sequence[tuple[Shown, float, float]]) -> Covered:
    n = len(rows)
    if not n:
        return Covered(name, 0, float("nan"), float("nan"), float("nan"))
    return Covered(
        name,
        n,
        sum(s.low <= rate <= s.high for s, rate, _ in rows) / n,
        sum(s.low <= first <= s.high for s, _, first in rows) / n,
        sum(s.high - s.low for s, _, _ in rows) / n,
    )
