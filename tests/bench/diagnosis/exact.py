"""The exact optimum of small instances, and what our own choice costs when followed on them.

Same beliefs, same costs, same actions, each at most once: the only difference is how far
one looks ahead. A state is which repairs have failed, what each test showed and which covers
are off.
"""

from collections.abc import Callable, Sequence
from functools import cache
from math import prod

import numpy as np

from mendpool.core.diagnosis.covers import Opened
from mendpool.core.diagnosis.decide import Choice, Options, base_value, choose
from mendpool.core.diagnosis.knowledge import Array

MOST_STATES = 25_000

_NOT_MADE = -1
Value = Callable[[int, tuple[int, ...], Opened], float]
Pick = Callable[[Array, Options, Sequence[int], Sequence[int], Opened], Choice]
_CLOSED: Opened = frozenset()


def optimum(belief: Array, options: Options) -> float:
    """Return the expected minutes of the best policy there is, by dynamic programming.

    Raises:
        ValueError: for an instance with too many states.
    """
    states = 2 ** len(options.repair_costs) * prod(len(t) + 1 for t in options.tests)
    if states > MOST_STATES:
        raise ValueError(f"{states} states are too many")

    @cache
    def value(failed: int, shown: tuple[int, ...], opened: Opened) -> float:
        left = _left(belief, options, failed, shown)
        mass = float(left.sum())
        if mass < 1e-12:
            return 0.0
        best = options.last_resort * mass
        for a in _open_repairs(options, failed):
            best = min(best, _repaired(value, failed, shown, opened, a, options, mass))
        for t in _open_tests(shown):
            best = min(best, _tested(value, failed, shown, opened, t, options, mass))
        return best

    return value(0, (_NOT_MADE,) * len(options.tests), _CLOSED)


def followed(belief: Array, options: Options, pick: Pick = choose) -> float:
    """Return the expected minutes when a choice is followed to the end, made anew each time."""

    @cache
    def value(failed: int, shown: tuple[int, ...], opened: Opened) -> float:
        left = _left(belief, options, failed, shown)
        mass = float(left.sum())
        if mass < 1e-12:
            return 0.0
        step = pick(left, options, _open_repairs(options, failed), _open_tests(shown), opened)
        if step.do == "last":
            return options.last_resort * mass
        if step.do == "repair":
            return _repaired(value, failed, shown, opened, step.which, options, mass)
        return _tested(value, failed, shown, opened, step.which, options, mass)

    return value(0, (_NOT_MADE,) * len(options.tests), _CLOSED)


def in_order(belief: Array, options: Options, order: Sequence[int]) -> float:
    """Return the expected minutes of repairs in an order, given up after the best prefix."""
    left, cost = belief.copy(), 0.0
    best = options.last_resort * float(left.sum())
    for a in order:
        cost += float(left.sum()) * float(options.repair_costs[a])
        left = left * (1 - options.cures[a])
        best = min(best, cost + float(left.sum()) * options.last_resort)
    return best


def most_likely_first(belief: Array, options: Options) -> float:
    """Return the expected minutes of going by the chance that a repair cures."""
    return in_order(
        belief, options, [int(a) for a in np.argsort(-(options.cures @ belief), kind="stable")]
    )


def cheapest_first(belief: Array, options: Options) -> float:
    """Return the expected minutes of going by cost alone."""
    return in_order(
        belief, options, [int(a) for a in np.argsort(options.repair_costs, kind="stable")]
    )


def ratio_first(belief: Array, options: Options) -> float:
    """Return the expected minutes by repairs alone, chance over cost, recomputed."""
    return float(base_value(belief[None, :], options, range(len(options.repair_costs)))[0])


def _left(belief: Array, options: Options, failed: int, shown: tuple[int, ...]) -> Array:
    left = belief.copy()
    for a in range(len(options.repair_costs)):
        if failed >> a & 1:
            left = left * (1 - options.cures[a])
    for t, result in enumerate(shown):
        if result != _NOT_MADE:
            left = left * options.tests[t][result]
    return left


def _repaired(
    value: Value,
    failed: int,
    shown: tuple[int, ...],
    opened: Opened,
    a: int,
    options: Options,
    mass: float,
) -> float:
    after = options.covers.after_repair(opened, a) if options.covers else opened
    return options.repair_cost(a, opened) * mass + value(failed | 1 << a, shown, after)


def _tested(
    value: Value,
    failed: int,
    shown: tuple[int, ...],
    opened: Opened,
    t: int,
    options: Options,
    mass: float,
) -> float:
    after = options.covers.after_test(opened, t) if options.covers else opened
    return options.test_cost(t, opened) * mass + sum(
        value(failed, (*shown[:t], result, *shown[t + 1 :]), after)
        for result in range(len(options.tests[t]))
    )


def _open_repairs(options: Options, failed: int) -> list[int]:
    return [a for a in range(len(options.repair_costs)) if not failed >> a & 1]


def _open_tests(shown: tuple[int, ...]) -> list[int]:
    return [t for t, result in enumerate(shown) if result == _NOT_MADE]
