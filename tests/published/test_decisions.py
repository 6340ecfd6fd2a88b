"""Published decisions, and worked ones, through `choose` and the base policy.

Status as in the methods' table: seen in print, or from memory.
"""

from itertools import permutations

import numpy as np
import pytest

from mendpool.core.diagnosis.covers import Covers
from mendpool.core.diagnosis.decide import (
    Choice,
    Options,
    base_value,
    choose,
    expected_cost_of_order,
    order_by_ratio,
)

from tests.bench.diagnosis.exact import followed, optimum

NEVER = 1e6
"""A last resort nobody would take: the published orders have none."""


def perfect(costs: list[float], last: float = NEVER) -> Options:
    return Options(np.eye(len(costs)), np.array(costs), [], [], last)


@pytest.mark.parametrize(
    ("chances", "costs", "order", "expected"),
    [
        # cs.stackexchange question 144646: seen in print, both orders.
        ([0.8, 0.2], [3, 2], (0, 1), 3.4),
        ([0.8, 0.2], [3, 2], (1, 0), 4.4),
        # Ottosen and Jensen, four actions: from memory.
        ([0.45, 0.25, 0.20, 0.10], [10, 30, 50, 60], (0, 1, 2, 3), 47.5),
    ],
)
def test_expected_cost_of_a_published_order(
    chances: list[float], costs: list[float], order: tuple[int, ...], expected: float
) -> None:
    assert expected_cost_of_order(chances, costs, order) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("chances", "costs", "expected"),
    [([0.8, 0.2], [3.0, 2.0], 3.4), ([0.45, 0.25, 0.20, 0.10], [10.0, 30.0, 50.0, 60.0], 47.5)],
)
def test_the_base_policy_and_the_choice_come_to_the_published_best(
    chances: list[float], costs: list[float], expected: float
) -> None:
    belief, options = np.array(chances), perfect(costs)
    everything = range(len(costs))
    assert order_by_ratio(chances, costs) == list(everything)
    assert base_value(belief[None, :], options, everything)[0] == pytest.approx(expected)
    choice = choose(belief, options, everything, [])
    assert (choice.do, choice.which, choice.expected) == (
        "repair",
        0,
        pytest.approx(expected),
    )
    assert followed(belief, options) == pytest.approx(expected)


def test_the_trap_of_the_last_resort() -> None:
    """Even faults, 4 and 4, last resort 7: both cost 6; stopping by p/c at once costs 7."""
    belief, options = np.array([0.5, 0.5]), perfect([4.0, 4.0], last=7.0)
    choice = choose(belief, options, [0, 1], [])
    assert (choice.do, choice.expected) == ("repair", pytest.approx(6.0))
    assert choice.next_best != ("last", -1)
    assert followed(belief, options) == pytest.approx(6.0)


def test_shared_faults_our_lookahead_finds_the_optimum_where_the_greedy_order_does_not() -> (
    None
):
    """Min-sum set cover: weights 1, 3, 4; a{1,2} for 3, b{1,3} for 4, d{2,3} for 5. Greedy
    43/8 = 5.375, best 40/8 = 5.0; one step of lookahead, followed, comes to 5.0."""
    belief = np.array([1, 3, 4]) / 8
    cures = np.array([[1.0, 1, 0], [1, 0, 1], [0, 1, 1]])
    options = Options(cures, np.array([3.0, 4.0, 5.0]), [], [], NEVER)
    assert base_value(belief[None, :], options, range(3))[0] == pytest.approx(5.375)
    assert optimum(belief, options) == pytest.approx(5.0)
    assert followed(belief, options) == pytest.approx(5.0)
    assert choose(belief, options, range(3), []).expected == pytest.approx(5.0)


def opening(last: float = NEVER) -> tuple[np.ndarray, Options]:
    """A and B, .3 each for 2 behind a cover of 10; C, .4 for 12 (methods section 4, ii)."""
    covers = Covers([True], [0, 0, -1], [10.0, 10.0, 0.0])
    options = Options(np.eye(3), np.array([12.0, 12.0, 12.0]), [], [], last, covers)
    return np.array([0.3, 0.3, 0.4]), options


def test_a_shared_cover_goes_as_a_block() -> None:
    """A, B, C costs 18.2 and C first 19.8; by p/c alone C would go first."""
    belief, options = opening()
    assert base_value(belief[None, :], options, range(3))[0] == pytest.approx(18.2)
    choice = choose(belief, options, range(3), [])
    assert (choice.do, choice.which) == ("repair", 0)
    assert choice.expected == pytest.approx(18.2)
    assert followed(belief, options) == optimum(belief, options) == pytest.approx(18.2)

    def by_ratio(left: np.ndarray, o: Options, repairs: list[int], *_: object) -> Choice:
        ratio = {a: float(o.cures[a] @ left) / float(o.repair_costs[a]) for a in repairs}
        best = max(ratio, key=lambda a: ratio[a])
        return Choice("repair", best, 0.0, 0.0, 0.0)

    assert followed(belief, options, by_ratio) == pytest.approx(19.8)


def test_a_cover_that_is_off_costs_nothing_more() -> None:
    belief, options = opening()
    off = frozenset({0})
    # 2, then 2 with .7 left, then 12 with .4 left.
    assert base_value(belief[None, :], options, range(3), off)[0] == pytest.approx(8.2)
    assert choose(belief, options, range(3), [], off).expected == pytest.approx(8.2)


# --- the oil wildcatter: drill (70) for nothing, 120 or 270; a sounding for 10


DRY_WET_SOAKING = np.array([0.5, 0.3, 0.2])
SOUNDING = np.array([[0.6, 0.3, 0.1], [0.3, 0.4, 0.4], [0.1, 0.3, 0.5]])
"""P(no structure, open, closed | dry, wet, soaking): from memory."""
RICHEST = 270.0


def wildcatter(tests: list[np.ndarray], costs: list[float]) -> Options:
    """Not drilling is the last resort; it costs the 270 that a soaking well would bring, so
    that minutes are 270 less what is won. Drilling costs 70 and "cures" what share it brings.
    """
    brings = np.array([[0.0, 120.0, 270.0]]) / RICHEST
    return Options(brings, np.array([70.0]), tests, costs, RICHEST)


def won(choice: Choice) -> float:
    return RICHEST - choice.expected


def test_the_oil_wildcatter() -> None:
    """20 without the sounding, 22.5 with it: Raiffa 1968, Shenoy 1992 (22.5 seen in print)."""
    without = choose(DRY_WET_SOAKING, wildcatter([], []), [0], [])
    assert (without.do, won(without)) == ("repair", pytest.approx(20.0))
    sounded = choose(DRY_WET_SOAKING, wildcatter([SOUNDING], [10.0]), [0], [0])
    assert (sounded.do, won(sounded)) == ("test", pytest.approx(22.5))
    free = choose(DRY_WET_SOAKING, wildcatter([SOUNDING], [0.0]), [0], [0])
    assert won(free) - won(without) == pytest.approx(12.5), "what the sounding is worth"
    told = choose(DRY_WET_SOAKING, wildcatter([np.eye(3)], [0.0]), [0], [0])
    assert won(told) - won(without) == pytest.approx(35.0), "what knowing would be worth"
    dear = choose(DRY_WET_SOAKING, wildcatter([SOUNDING], [13.0]), [0], [0])
    assert dear.do == "repair", "not for more than it is worth"
    assert RICHEST - optimum(DRY_WET_SOAKING, wildcatter([SOUNDING], [10.0])) == pytest.approx(
        22.5
    )


def test_no_order_of_the_published_four_is_cheaper() -> None:
    chances, costs = [0.45, 0.25, 0.20, 0.10], [10.0, 30.0, 50.0, 60.0]
    assert min(
        expected_cost_of_order(chances, costs, order) for order in permutations(range(4))
    ) == pytest.approx(47.5)
