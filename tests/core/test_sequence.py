"""The order of repairs: against a plain loop, every permutation, every subset, every belief."""

from itertools import chain, combinations, permutations
from random import Random

import numpy as np
import pytest

from mendpool.core.diagnosis.covers import Covers
from mendpool.core.diagnosis.decide import Options, base_value, choose
from mendpool.core.diagnosis.sequence import groups_of

from tests.bench.diagnosis.exact import followed, optimum

FAULTS = 9


def drawn(seed: int, repairs: int, *, shared: float = 0.4) -> tuple[np.ndarray, Options]:
    """Repairs of which some share a cause, tests of two or three results."""
    rng = Random(seed)
    belief = np.array([rng.gammavariate(0.8, 1) + 0.02 for _ in range(FAULTS)])
    cures = np.zeros((repairs, FAULTS))
    for a in range(repairs):
        cures[a, a % (FAULTS - 1)] = rng.uniform(0.3, 1.0)
        if rng.random() < shared:
            cures[a, rng.randrange(FAULTS - 1)] = rng.uniform(0.2, 0.9)
    tests = []
    for _ in range(5):
        shape = [[rng.gammavariate(0.4, 1) + 0.03 for _ in range(FAULTS)]] * 1
        while len(shape) < rng.choice((2, 3)):
            shape.append([rng.gammavariate(0.4, 1) + 0.03 for _ in range(FAULTS)])
        table = np.array(shape)
        tests.append(table / table.sum(axis=0))
    costs = np.array([rng.uniform(5, 120) for _ in range(repairs)])
    options = Options(cures, costs, tests, [rng.uniform(2, 20) for _ in tests], 250.0)
    return belief / belief.sum(), options


def plain_base(belief: np.ndarray, o: Options, repairs: list[int]) -> float:
    """The same policy as a plain loop: the best ratio, again after each failure."""
    left, cost = belief.copy(), 0.0
    best = o.last_resort * float(left.sum())
    open_now = list(repairs)
    while open_now:
        ratio = {a: float(o.cures[a] @ left) / float(o.repair_costs[a]) for a in open_now}
        pick = max(open_now, key=lambda a: (ratio[a], -a))
        cost += float(left.sum()) * float(o.repair_costs[pick])
        left = left * (1.0 - o.cures[pick])
        best = min(best, cost + float(left.sum()) * o.last_resort)
        open_now.remove(pick)
    return best


def plain_choice(belief: np.ndarray, o: Options) -> tuple[str, int, float]:
    repairs = list(range(len(o.repair_costs)))
    mass = float(belief.sum())
    found = [
        (
            float(o.repair_costs[a]) * mass
            + plain_base(belief * (1 - o.cures[a]), o, [r for r in repairs if r != a]),
            "repair",
            a,
        )
        for a in repairs
    ]
    for t, table in enumerate(o.tests):
        after = sum(plain_base(belief * row, o, repairs) for row in table)
        found.append((o.test_costs[t] * mass + after, "test", t))
    found.append((o.last_resort * mass, "last", -1))
    value, do, which = min(found, key=lambda f: round(f[0], 9))
    return do, which, value


def test_all_beliefs_at_once_give_what_a_plain_loop_gives() -> None:
    for seed in range(60):
        belief, o = drawn(seed, repairs=4 + seed % 9)
        repairs = [a for a in range(len(o.repair_costs)) if a % 4 != seed % 4]
        beliefs = np.vstack([belief, *(belief * row for table in o.tests for row in table)])
        ours = base_value(beliefs, o, repairs)
        plain = [plain_base(row, o, repairs) for row in beliefs]
        assert ours == pytest.approx(plain, rel=1e-9)


def test_the_choice_is_that_of_a_plain_loop() -> None:
    """The batched form and the plain one, 300 times over."""
    for seed in range(300):
        belief, o = drawn(seed, repairs=3 + seed % 10)
        choice = choose(belief, o, range(len(o.repair_costs)), range(len(o.tests)))
        do, which, value = plain_choice(belief, o)
        assert (choice.do, choice.which) == (do, which), seed
        assert choice.expected == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_of_all_orders_of_seven_perfect_repairs_none_is_cheaper(seed: int) -> None:
    """Kadane and Simon 1977: one repair a fault, no tests. 5,040 orders and where to stop."""
    rng = np.random.default_rng(seed)
    belief, costs = rng.dirichlet(np.ones(8)), rng.uniform(2, 90, 7)
    last = float(rng.uniform(60, 400))
    o = Options(np.eye(7, 8), costs, [], [], last)
    orders = np.array(list(permutations(range(7))))
    chance = belief[:7][orders]
    before = 1.0 - np.cumsum(chance, axis=1) + chance
    spent = np.cumsum(costs[orders] * before, axis=1)
    best = min(last, float((spent + last * (before - chance)).min()))
    assert base_value(belief[None, :], o, range(7))[0] == pytest.approx(best, rel=1e-9)
    assert choose(belief, o, range(7), []).expected == pytest.approx(best, rel=1e-9)
    assert followed(belief, o) == pytest.approx(best, rel=1e-9)


def test_the_best_prefix_is_the_best_subset() -> None:
    """200 instances, every subset of six in its best order."""
    for seed in range(200):
        rng = np.random.default_rng(seed)
        belief, costs = rng.dirichlet(np.ones(7)), rng.uniform(2, 90, 6)
        last = float(rng.uniform(30, 300))
        o = Options(np.eye(6, 7), costs, [], [], last)
        best = last
        subsets = chain.from_iterable(combinations(range(6), n) for n in range(1, 7))
        for subset in subsets:
            order = sorted(subset, key=lambda a: -belief[a] / costs[a])
            left = spent = 0.0
            left = 1.0
            for a in order:
                spent += left * costs[a]
                left -= belief[a]
            best = min(best, spent + left * last)
        assert base_value(belief[None, :], o, range(6))[0] == pytest.approx(best, rel=1e-9)


def test_repairs_that_share_causes_are_one_group() -> None:
    cures = np.array(
        [[1, 0, 0, 0], [0, 1, 0, 0], [0, 0.5, 0.5, 0], [0, 0, 1, 0], [0, 0, 0, 1.0]]
    )
    assert groups_of(cures).tolist() == [0, 1, 1, 1, 4]
    assert groups_of(np.eye(3)).tolist() == [0, 1, 2]


# --- covers


def behind_covers(seed: int, *, stays: bool) -> tuple[np.ndarray, Options]:
    """Five perfect repairs, three behind one cover and two behind another."""
    rng = np.random.default_rng(seed)
    belief = rng.dirichlet(np.ones(6))
    opening = rng.uniform(2, 30, 2)
    of = [0, 0, 0, 1, 1]
    costs = rng.uniform(2, 40, 5) + opening[of]
    covers = Covers([stays, stays], of, opening[of].tolist())
    return belief, Options(np.eye(5, 6), costs, [], [], float(rng.uniform(80, 300)), covers)


def test_behind_covers_blocks_come_to_the_optimum() -> None:
    """Horn 1972: with one repair a fault the best block first is the best order of all."""
    for seed in range(60):
        belief, o = behind_covers(seed, stays=True)
        best = optimum(belief, o)
        assert base_value(belief[None, :], o, range(5))[0] == pytest.approx(best, rel=2e-3)
        assert followed(belief, o) == pytest.approx(best, rel=2e-3)


def test_what_must_be_closed_to_run_the_set_is_shared_by_no_two_repairs() -> None:
    for seed in range(20):
        belief, o = behind_covers(seed, stays=False)
        alone = Options(o.cures, o.repair_costs, [], [], o.last_resort)
        ours = base_value(belief[None, :], o, range(5))[0]
        assert ours == pytest.approx(base_value(belief[None, :], alone, range(5))[0])
        assert optimum(belief, o) == pytest.approx(ours)


def test_a_look_behind_a_cover_pays_for_the_repair_behind_it() -> None:
    """The same look and repair, once behind one cover and once each behind its own."""
    tell = np.array([[0.95, 0.05, 0.5], [0.05, 0.95, 0.5]])
    cures, costs = np.eye(2, 3), np.array([50.0, 60.0])
    belief = np.array([0.45, 0.45, 0.1])

    def value(cover_of_the_test: int, *, stays: bool) -> float:
        covers = Covers(
            [stays, stays], [0, -1], [10.0, 0.0], [cover_of_the_test], [10.0], [False]
        )
        o = Options(cures, costs, [tell], [14.0], 300.0, covers)
        choice = choose(belief, o, [0, 1], [0])
        assert choice.do == "test"
        assert followed(belief, o) == pytest.approx(optimum(belief, o))
        return choice.expected

    for stays in (True, False):
        shared, apart = value(0, stays=stays), value(1, stays=stays)
        # The cover is saved where the result sends one to the first repair: about half.
        assert 3.0 < apart - shared < 10.0


def test_a_test_that_runs_the_set_closes_what_must_be_closed() -> None:
    covers = Covers([True, False], [0, 1], [3, 4], [0, 1, -1], [3, 4, 0], [False, False, True])
    both = frozenset({0, 1})
    assert covers.after_test(frozenset(), 1) == {1}
    assert covers.after_test(both, 2) == {0}
    assert covers.after_repair(both, 1) == {0}
    assert covers.saved(both, repair=1) == 4
    assert covers.saved(frozenset(), test=0) == 0
    off = covers.off_after(both, np.array([0, 1]), np.array([1, 2]), np.array([2, 1]))
    assert off.tolist() == [[1, 1], [1, 0], [1, 0], [1, 1], [1, 1], [1, 0]]
