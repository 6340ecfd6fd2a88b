"""What to do next, against brute force and small published answers."""

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.diagnosis.decide import (
    Options,
    base_value,
    choose,
    expected_cost_of_order,
    order_by_ratio,
)

CALL = 240.0


def options(cures: list[list[float]], costs: list[float], last: float = CALL) -> Options:
    return Options(np.array(cures), np.array(costs), [], [], last)


def brute_force(belief: np.ndarray, o: Options) -> float:
    """The best order and the best place to give up, by trying them all."""
    repairs = range(len(o.repair_costs))
    best = o.last_resort * float(belief.sum())
    for length in range(1, len(o.repair_costs) + 1):
        for order in permutations(repairs, length):
            left, cost = belief.copy(), 0.0
            for a in order:
                cost += float(left.sum()) * float(o.repair_costs[a])
                left = left * (1 - o.cures[a])
            best = min(best, cost + float(left.sum()) * o.last_resort)
    return best


@given(st.data())
def test_with_one_repair_for_each_fault_the_base_policy_is_the_optimum(
    data: st.DataObject,
) -> None:
    """Kadane and Simon 1977: p/c is optimal where each fault has one repair and no tests."""
    n = data.draw(st.integers(1, 5))
    weights = np.array(data.draw(st.lists(st.floats(0.05, 1), min_size=n + 1, max_size=n + 1)))
    costs = data.draw(st.lists(st.floats(1, 120), min_size=n, max_size=n))
    works = data.draw(st.lists(st.floats(0.2, 1), min_size=n, max_size=n))
    cures = [[works[i] if i == j else 0.0 for j in range(n)] + [0.0] for i in range(n)]
    o, belief = options(cures, costs), weights / weights.sum()
    found = float(base_value(belief[None, :], o, list(range(n)))[0])
    assert found == pytest.approx(brute_force(belief, o), rel=1e-9)


def test_giving_up_comes_after_the_best_prefix_not_at_the_first_poor_ratio() -> None:
    """Two even faults, costs 4 and 4, last resort 7: doing both costs 6, stopping at once 7
    (the trap of treating the last resort as one more action)."""
    o = options([[1.0, 0.0], [0.0, 1.0]], [4.0, 4.0], last=7.0)
    assert float(base_value(np.array([[0.5, 0.5]]), o, [0, 1])[0]) == pytest.approx(6.0)


@given(st.data())
def test_looking_ahead_is_never_worse_than_the_base_policy(data: st.DataObject) -> None:
    n, a, t = 4, 3, 2
    cell = st.floats(0.05, 0.95)
    belief = np.array(data.draw(st.lists(st.floats(0.05, 1), min_size=n, max_size=n)))
    belief /= belief.sum()
    cures = np.array([data.draw(st.lists(cell, min_size=n, max_size=n)) for _ in range(a)])
    tests = []
    for _ in range(t):
        low = np.array(data.draw(st.lists(cell, min_size=n, max_size=n)))
        tests.append(np.array([low, 1 - low]))
    costs = np.array(data.draw(st.lists(st.floats(1, 90), min_size=a, max_size=a)))
    o = Options(cures, costs, tests, [5.0, 9.0], CALL)
    choice = choose(belief, o, range(a), range(t))
    assert choice.expected <= choice.base + 1e-6 * choice.base


def test_a_test_that_tells_nothing_changes_nothing() -> None:
    belief = np.array([0.5, 0.3, 0.2])
    useless = np.full((2, 3), 0.5)
    o = options([[1, 0, 0], [0, 1, 0]], [20.0, 30.0])
    with_test = Options(o.cures, o.repair_costs, [useless], [1.0], CALL)
    plain, offered = choose(belief, o, [0, 1], []), choose(belief, with_test, [0, 1], [0])
    assert (offered.do, offered.which) == (plain.do, plain.which)
    assert offered.expected == pytest.approx(plain.expected)


def test_a_free_perfect_test_is_taken_before_a_dear_repair() -> None:
    belief = np.array([0.5, 0.5])
    perfect = np.array([[1.0, 0.0], [0.0, 1.0]])
    o = Options(
        np.array([[1.0, 0.0], [0.0, 1.0]]), np.array([60.0, 60.0]), [perfect], [0.001], CALL
    )
    choice = choose(belief, o, [0, 1], [0])
    assert choice.do == "test"
    assert choice.base - choice.expected == pytest.approx(30.0, abs=0.01)


@given(st.floats(0.1, 50))
def test_scaling_every_cost_keeps_the_choice(scale: float) -> None:
    belief = np.array([0.45, 0.35, 0.2])
    tell = np.array([[0.9, 0.2, 0.3], [0.1, 0.8, 0.7]])
    cures = np.array([[0.9, 0.0, 0.0], [0.1, 0.8, 0.0]])
    costs = np.array([40.0, 25.0])
    plain = choose(belief, Options(cures, costs, [tell], [4.0], CALL), [0, 1], [0])
    scaled = choose(
        belief, Options(cures, costs * scale, [tell], [4.0 * scale], CALL * scale), [0, 1], [0]
    )
    assert (plain.do, plain.which) == (scaled.do, scaled.which)


@given(
    st.lists(st.tuples(st.floats(0.01, 0.3), st.floats(1, 60)), min_size=1, max_size=6),
)
def test_falling_probability_over_cost_is_the_cheapest_order(
    pairs: list[tuple[float, float]],
) -> None:
    chances, costs = [p for p, _ in pairs], [c for _, c in pairs]
    ours = expected_cost_of_order(chances, costs, order_by_ratio(chances, costs))
    best = min(
        expected_cost_of_order(chances, costs, o) for o in permutations(range(len(pairs)))
    )
    assert ours == pytest.approx(best, rel=1e-9)
