"""Rates by family of set: few reports lean on their class, and that on the pool."""

from collections.abc import Sequence
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.evidence.case import Case
from mendpool.core.evidence.families import (
    FixRates,
    Level,
    expected_rate,
    group_of,
    rates_of_fixes,
    strength_by_moments,
)
from mendpool.core.evidence.intervals import shrunk_mean

from tests.factories import make_attempt, make_case, make_id

KINDS = (
    {"fuel": "petrol", "excitation": "brushed-avr"},
    {"fuel": "diesel", "excitation": "brushed-avr"},
    {"fuel": "petrol", "excitation": "capacitor"},
    {"fuel": "petrol"},
    {},
)


def tried(number: int, kind: object, result: str, **changes: object) -> Case:
    attempts = (make_attempt("avr", result=result),)
    return make_case(id=str(make_id(number)), kind=kind, attempts=attempts, **changes)


def of(cases: Sequence[Case]) -> FixRates:
    return rates_of_fixes(cases, {case.id: 1.0 for case in cases})["avr replace"]


# --- counting


def test_a_fix_is_counted_over_the_pool_its_class_and_its_family() -> None:
    rates = of(
        [
            tried(1, KINDS[0], "fixed"),
            tried(2, KINDS[1], "no-change"),
            tried(3, KINDS[2], "improved"),
            tried(4, KINDS[3], "fixed"),
            tried(5, KINDS[4], "fixed"),
        ]
    )
    assert rates.pool == (3.0, 5.0)
    by_class, by_family = rates.levels
    assert by_class.groups == {"brushed-avr": (1.0, 2.0), "capacitor": (0.0, 1.0)}
    assert by_family.groups == {
        "petrol brushed-avr": (1.0, 1.0),
        "diesel brushed-avr": (0.0, 1.0),
        "petrol capacitor": (0.0, 1.0),
    }


def test_things_done_together_share_the_try_and_the_credit() -> None:
    both = make_case(attempts=(make_attempt("avr", shared=2), make_attempt(shared=2)))
    assert of([both]).pool == (0.5, 0.5)


def test_what_is_no_try_and_no_fix_is_not_counted() -> None:
    idle = [
        tried(1, KINDS[0], "found-good"),
        tried(2, KINDS[0], "part-no-good"),
        tried(3, KINDS[0], "fixed", defeated=True),
        make_case(attempts=(make_attempt("avr", "bypass"), make_attempt("avr", "test"))),
    ]
    assert rates_of_fixes(idle, {case.id: 1.0 for case in idle}) == {}


@given(st.randoms(use_true_random=False), st.integers(1, 12))
def test_cases_in_any_order_give_the_same(rng: Random, count: int) -> None:
    results = ("fixed", "no-change")
    cases = [tried(n, rng.choice(KINDS), rng.choice(results)) for n in range(count)]
    weights = {case.id: rng.random() for case in cases}
    other = list(cases)
    rng.shuffle(other)
    assert rates_of_fixes(other, weights) == rates_of_fixes(cases, weights)


def test_a_group_is_named_only_where_all_of_it_is_known() -> None:
    assert group_of({"fuel": "petrol", "phases": 1}, ("fuel", "phases")) == "petrol 1"
    assert group_of({"fuel": "petrol"}, ("fuel", "phases")) is None


# --- how alike the groups are


def test_single_tries_tell_no_spread() -> None:
    assert strength_by_moments([(1.0, 1.0), (0.0, 1.0), (1.0, 1.0)]) == 10.0


@pytest.mark.parametrize(
    "groups", [[], [(3.0, 5.0)], [(0.0, 4.0), (0.0, 9.0)], [(4.0, 4.0), (9.0, 9.0)]]
)
def test_where_nothing_varies_ten_tries_are_taken(groups: list[tuple[float, float]]) -> None:
    assert strength_by_moments(groups) == 10.0


def test_groups_far_apart_lean_little_and_groups_alike_lean_much() -> None:
    apart = [(0.0, 20.0), (20.0, 20.0), (1.0, 20.0), (19.0, 20.0)]
    alike = [(10.0, 20.0), (11.0, 20.0), (9.0, 20.0), (10.0, 20.0)]
    assert strength_by_moments(apart) == 2.0
    assert strength_by_moments(alike) == 20.0


def test_the_strength_is_found_again_from_groups_that_were_drawn_with_it() -> None:
    """Beta(3, 3), so 6; three hundred groups of eight."""
    rng = Random(11)
    groups = []
    for _ in range(300):
        rate = rng.betavariate(3, 3)
        groups.append((float(sum(rng.random() < rate for _ in range(8))), 8.0))
    assert strength_by_moments(groups) == pytest.approx(6.0, abs=1.5)


tries = st.floats(0.05, 30)
shares = st.floats(0, 1)
cells = st.tuples(shares, tries).map(lambda pair: (pair[0] * pair[1], pair[1]))


@given(st.lists(cells, max_size=12))
def test_the_strength_keeps_its_bounds(groups: list[tuple[float, float]]) -> None:
    assert 2.0 <= strength_by_moments(groups) <= 20.0


# --- what a set's own counts lean on


def test_a_fix_that_nobody_tried_is_even() -> None:
    assert expected_rate(None, KINDS[0]) == (0.5, 10.0)


def test_a_family_of_its_own_is_counted_once() -> None:
    """Three of three, and nothing else in the pool: as if shrunk towards a half alone."""
    rates = of([tried(n, KINDS[0], "fixed") for n in range(3)])
    mean, _ = expected_rate(rates, KINDS[0])
    assert mean == pytest.approx(shrunk_mean(3, 3, 0.5, rates.levels[1].strength))


def test_each_level_leans_on_the_rest_of_the_next() -> None:
    rates = FixRates(
        (26.0, 40.0),
        (
            Level(10.0, {"brushed-avr": (20.0, 24.0), "capacitor": (6.0, 16.0)}),
            Level(5.0, {"petrol brushed-avr": (2.0, 4.0), "diesel brushed-avr": (18.0, 20.0)}),
        ),
    )
    pool = shrunk_mean(6, 16, 0.5, 2)
    in_class = shrunk_mean(18, 20, pool, 10)
    family = shrunk_mean(2, 4, in_class, 5)
    assert expected_rate(rates, KINDS[0]) == (pytest.approx(family), 5.0)


def test_a_set_whose_kind_is_not_known_leans_on_the_pool() -> None:
    rates = of([tried(n, KINDS[0], "fixed") for n in range(6)])
    mean, strength = expected_rate(rates, {})
    assert mean == pytest.approx(shrunk_mean(6, 6, 0.5, 2))
    assert strength == 10.0


@given(st.data())
def test_an_expected_rate_is_a_share_and_grows_with_success(data: st.DataObject) -> None:
    count = data.draw(st.integers(1, 10))
    kinds = data.draw(st.lists(st.sampled_from(KINDS), min_size=count, max_size=count))
    results = data.draw(
        st.lists(st.sampled_from(("fixed", "no-change")), min_size=count, max_size=count)
    )
    cases = [tried(n, k, r) for n, (k, r) in enumerate(zip(kinds, results, strict=True))]
    asked = data.draw(st.sampled_from(KINDS))
    mean, strength = expected_rate(of(cases), asked)
    assert 0 < mean < 1
    assert 2 <= strength <= 20
    all_well = [tried(n, k, "fixed") for n, k in enumerate(kinds)]
    none_well = [tried(n, k, "no-change") for n, k in enumerate(kinds)]
    assert (
        expected_rate(of(none_well), asked)[0] <= 0.5 <= expected_rate(of(all_well), asked)[0]
    )


def test_shrinking_errs_less_than_raw_rates_and_than_one_pooled_rate() -> None:
    """Methods, section 2: thirty groups of about three, true rates of Beta(6, 3), root mean
    square error raw .30, shrunk .14, pooled .15; ten of about ten .19 (Jeffreys .15), .12."""
    rng = Random(2)
    raw = shrunk = pooled = 0.0
    for _ in range(60):
        true = [rng.betavariate(6, 3) for _ in range(30)]
        sizes = [rng.randint(1, 5) for _ in true]
        won = [
            sum(rng.random() < p for _ in range(n)) for p, n in zip(true, sizes, strict=True)
        ]
        groups = {
            f"g{i}": (float(k), float(n))
            for i, (k, n) in enumerate(zip(won, sizes, strict=True))
        }
        total = (float(sum(won)), float(sum(sizes)))
        rates = FixRates(total, (Level(strength_by_moments(groups.values()), groups),))
        for i, p in enumerate(true):
            told, _ = expected_rate(rates, {"excitation": f"g{i}"}, (("excitation",),))
            raw += (won[i] / sizes[i] - p) ** 2
            shrunk += (told - p) ** 2
            pooled += (total[0] / total[1] - p) ** 2
    n = 60 * 30
    assert (shrunk / n) ** 0.5 == pytest.approx(0.14, abs=0.01)
    assert (raw / n) ** 0.5 > 0.27
    assert shrunk < pooled
