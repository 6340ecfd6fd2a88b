"""What to do next: one step of lookahead over tests and repairs.

The base policy is the p/c sequence of repairs, recomputed after each failure, with the last
resort placed after the best prefix. Looking one step ahead over tests and repairs on top of
it stays within a few per cent of the exact optimum on small instances (Heckerman, Breese
and Rommelse 1995; Kadane and Simon 1977 for the base).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from mendpool.core.diagnosis.knowledge import Array

_LONGEST = 12
Do = Literal["test", "repair", "last"]


@dataclass(frozen=True, slots=True)
class Options:
    """What could be done.

    Args:
        cures: P(repair works | cause), repairs in rows, causes in columns.
        repair_costs: minutes, by repair.
        tests: for each test, P(result | cause) with results in rows.
        test_costs: minutes, by test.
        last_resort: minutes the last resort counts for; it always ends it.
    """

    cures: Array
    repair_costs: Array
    tests: Sequence[Array]
    test_costs: Sequence[float]
    last_resort: float


@dataclass(frozen=True, slots=True)
class Choice:
    """The next step.

    Args:
        do, which: what, and which of its kind.
        expected: minutes in all when it is done first.
        base: minutes in all by repairs alone.
        runner_up: minutes in all with the next best step first.
        next_best: what and which that step is; the last resort where there is none.
    """

    do: Do
    which: int
    expected: float
    base: float
    runner_up: float
    next_best: tuple[Do, int] = ("last", -1)


def base_value(beliefs: Array, options: Options, open_repairs: Sequence[int]) -> Array:
    """Return expected minutes of the best prefix of the p/c sequence, for each belief.

    Args:
        beliefs: one belief a row; rows need not sum to 1 (they scale).
    """
    left = beliefs.copy()
    alive = left.sum(axis=1)
    cost = np.zeros(len(left))
    best = options.last_resort * alive
    if not open_repairs:
        return np.asarray(best)
    cures = options.cures[list(open_repairs)]
    costs = options.repair_costs[list(open_repairs)]
    used = np.zeros((len(left), len(cures)), dtype=bool)
    rows = np.arange(len(left))
    for _ in range(min(_LONGEST, len(cures))):
        ratio = np.where(used, -1.0, (left @ cures.T) / costs)
        pick = ratio.argmax(axis=1)
        used[rows, pick] = True
        cost += alive * costs[pick]
        left = left * (1.0 - cures[pick])
        alive = left.sum(axis=1)
        best = np.minimum(best, cost + alive * options.last_resort)
    return np.asarray(best)


def choose(
    belief: Array, options: Options, open_repairs: Sequence[int], open_tests: Sequence[int]
) -> Choice:
    """Return the step with the least expected minutes; a repair before a test on a tie."""
    hypotheses = [belief[None, :]]
    hypotheses += [(belief * (1.0 - options.cures[a]))[None, :] for a in open_repairs]
    spans: list[tuple[int, int]] = []
    row = 1 + len(open_repairs)
    for t in open_tests:
        table = options.tests[t]
        hypotheses.append(belief * table)
        spans.append((row, row + len(table)))
        row += len(table)
    values = base_value(np.vstack(hypotheses), options, open_repairs)
    mass = float(belief.sum())
    found: list[tuple[float, Do, int]] = []
    # A repair that failed stays open in the base: a second try of it has next to no chance
    # left there, so leaving it in costs nothing and saves a pass for each repair.
    for i, a in enumerate(open_repairs):
        found.append(
            (float(options.repair_costs[a]) * mass + float(values[1 + i]), "repair", a)
        )
    for (start, end), t in zip(spans, open_tests, strict=True):
        found.append((options.test_costs[t] * mass + float(values[start:end].sum()), "test", t))
    found.append((options.last_resort * mass, "last", -1))
    # min() keeps the first of equals: repairs before tests before giving up.
    best = min(found, key=lambda option: round(option[0], 9))
    others = [option for option in found if option[1:] != best[1:]]
    second = min(others, key=lambda option: round(option[0], 9), default=best)
    return Choice(best[1], best[2], best[0], float(values[0]), second[0], second[1:])


def expected_cost_of_order(
    chances: Sequence[float], costs: Sequence[float], order: Sequence[int]
) -> float:
    """Return the expected cost of doing actions in an order until one works.

    Single fault, perfect actions, each checked before the next: the sum of each cost times
    the probability that it is reached.

    Source:
        Gluss, Oper. Res. 7:468 (1959); Kadane and Simon (1977).
    """
    left, total = 1.0, 0.0
    for action in order:
        total += left * costs[action]
        left -= chances[action]
    return total


def order_by_ratio(chances: Sequence[float], costs: Sequence[float]) -> list[int]:
    """Return the actions by falling probability over cost, the optimum of that model."""
    return sorted(range(len(chances)), key=lambda i: (-chances[i] / costs[i], i))
