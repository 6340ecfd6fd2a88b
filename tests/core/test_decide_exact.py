"""Our one step of lookahead, followed to the end, against the optimum of small instances."""

from dataclasses import replace
from random import Random

import numpy as np
import pytest

from mendpool.core.diagnosis.decide import Choice, Manner, Options, choose

from tests.bench.diagnosis.exact import (
    cheapest_first,
    followed,
    most_likely_first,
    optimum,
    ratio_first,
)

FAULTS, REPAIRS, TESTS = 6, 6, 3
INSTANCES = 40


def instance(seed: int) -> tuple[np.ndarray, Options]:
    """Six faults, six repairs some of which cure two, three tests of two or three results."""
    rng = Random(seed)
    belief = np.array([rng.gammavariate(0.8, 1) + 0.02 for _ in range(FAULTS)])
    cures = np.zeros((REPAIRS, FAULTS))
    for a in range(REPAIRS):
        cures[a, a % FAULTS] = rng.uniform(0.6, 1.0)
        if rng.random() < 0.3:
            cures[a, rng.randrange(FAULTS)] = rng.uniform(0.3, 0.9)
    tests = []
    for _ in range(TESTS):
        table = np.array(
            [
                [rng.gammavariate(0.4, 1) + 0.03 for _ in range(FAULTS)]
                for _ in range(rng.choice((2, 3)))
            ]
        )
        tests.append(table / table.sum(axis=0))
    costs = np.array([rng.uniform(5, 120) for _ in range(REPAIRS)])
    minutes = [rng.uniform(2, 20) for _ in range(TESTS)]
    return belief / belief.sum(), Options(cures, costs, tests, minutes, rng.uniform(150, 400))


@pytest.fixture(scope="module")
def judged() -> list[tuple[float, float, np.ndarray, Options]]:
    """Ours followed and the optimum, for every instance."""
    return [
        (followed(belief, options), optimum(belief, options), belief, options)
        for belief, options in (instance(seed) for seed in range(INSTANCES))
    ]


def test_ours_followed_is_within_ten_per_cent_of_the_optimum_each_time(judged: list) -> None:
    """Bounds of the methods, section 4: below 10 % each, below 2 % in the mean."""
    over = [ours / best - 1 for ours, best, _, _ in judged]
    assert min(over) >= -1e-9
    assert max(over) < 0.10
    assert sum(over) / len(over) < 0.02


def test_preferring_by_manners_costs_little(judged: list) -> None:
    """Cheaper, undoable and safer first among equals, at every step to the end."""
    over = []
    for number, (_, best, belief, options) in enumerate(judged):
        rng = Random(f"manners {number}")
        polite = replace(
            options,
            repair_manners=[
                Manner(rng.randrange(5), rng.random() < 0.5, rng.randrange(4))
                for _ in range(REPAIRS)
            ],
            test_manners=[Manner(hazards=rng.randrange(4)) for _ in range(TESTS)],
        )
        over.append(followed(belief, polite) / best - 1)
    assert max(over) < 0.10
    assert sum(over) / len(over) < 0.02


def test_the_simpler_orders_cost_more_in_the_mean(judged: list) -> None:
    ours = sum(o / best for o, best, _, _ in judged)
    for order in (most_likely_first, cheapest_first, ratio_first):
        assert sum(order(b, o) / best for _, best, b, o in judged) > ours * 1.02


def test_the_optimum_of_a_worked_case_is_right() -> None:
    """Two even faults, repairs of 60, a perfect test of 10: test, then the right repair, 70;
    without the test 60 + half of 60 is 90."""
    belief = np.array([0.5, 0.5])
    cures, costs = np.eye(2), np.array([60.0, 60.0])
    with_test = Options(cures, costs, [np.eye(2)], [10.0], 500.0)
    without = Options(cures, costs, [], [], 500.0)
    assert optimum(belief, with_test) == pytest.approx(70.0)
    assert optimum(belief, without) == pytest.approx(90.0)
    assert followed(belief, with_test) == pytest.approx(70.0)


def test_shared_faults_fool_the_ratio_and_not_the_optimum() -> None:
    """Weights 1, 3, 4; a cures 1 and 2 for 3, b 1 and 3 for 4, d 2 and 3 for 5: the greedy
    order costs 43/8, the best 40/8 (the worked case of methods section 4)."""
    belief = np.array([1, 3, 4]) / 8
    cures = np.array([[1.0, 1, 0], [1, 0, 1], [0, 1, 1]])
    options = Options(cures, np.array([3.0, 4.0, 5.0]), [], [], 100.0)
    assert optimum(belief, options) == pytest.approx(40 / 8)
    assert ratio_first(belief, options) == pytest.approx(43 / 8)


def test_following_a_fool_costs_what_a_fool_costs() -> None:
    """The follower follows: whoever gives up at once pays the last resort."""
    belief, options = instance(3)

    def give_up(*_: object) -> Choice:
        return Choice("last", -1, 0.0, 0.0, 0.0)

    assert followed(belief, options, give_up) == pytest.approx(options.last_resort)
    assert followed(belief, options, choose) < options.last_resort


def test_too_large_an_instance_is_refused() -> None:
    cures = np.eye(15)
    options = Options(cures, np.ones(15), [np.ones((2, 15)) / 2], [1.0], 300.0)
    with pytest.raises(ValueError, match="too many"):
        optimum(np.full(15, 1 / 15), options)
