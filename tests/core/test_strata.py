"""Two fixes compared within kinds of set, where the heap would turn their order round."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.evidence.strata import crude_rate, mix_of, orders_disagree, standardised_rate

# The first is the better on either kind, and mostly tried where nothing works well.
CLEANED = {"petrol": (9.0, 10.0), "diesel": (12.0, 40.0)}
REPLACED = {"petrol": (32.0, 40.0), "diesel": (2.0, 10.0)}

kinds = st.sampled_from(("petrol", "diesel", "lpg"))
counts = st.tuples(st.floats(0, 1), st.floats(0.1, 50)).map(lambda c: (c[0] * c[1], c[1]))
strata = st.dictionaries(kinds, counts, min_size=1)


def test_a_heap_can_turn_the_order_round() -> None:
    mix = mix_of(CLEANED, REPLACED)
    assert mix == {"diesel": 50.0, "petrol": 50.0}
    assert crude_rate(CLEANED) < crude_rate(REPLACED)  # type: ignore[operator]
    assert standardised_rate(CLEANED, mix) == pytest.approx(0.6)
    assert standardised_rate(REPLACED, mix) == pytest.approx(0.5)
    assert orders_disagree(CLEANED, REPLACED, mix)


def test_an_asker_whose_kind_is_known_is_answered_within_it() -> None:
    assert standardised_rate(CLEANED, {"diesel": 1.0}) == pytest.approx(0.3)
    assert orders_disagree(CLEANED, REPLACED, {"petrol": 1.0})


@pytest.mark.parametrize(
    "mix", [{}, {"petrol": 0.0}, {"lpg": 1.0}, {"petrol": 1.0, "lpg": 0.1}]
)
def test_nothing_is_made_up_for_a_kind_it_was_never_tried_on(mix: dict[str, float]) -> None:
    assert standardised_rate(CLEANED, mix) is None
    assert not orders_disagree(CLEANED, REPLACED, mix)


def test_what_was_never_tried_has_no_rate() -> None:
    assert crude_rate({}) is None
    assert not orders_disagree({}, CLEANED, {"petrol": 1.0})


@given(strata)
def test_its_own_mix_gives_the_crude_rate_back(fix: dict[str, tuple[float, float]]) -> None:
    assert standardised_rate(fix, mix_of(fix)) == pytest.approx(crude_rate(fix))


@given(strata, st.floats(0.01, 100))
def test_a_mix_of_any_scale_is_the_same_mix(
    fix: dict[str, tuple[float, float]], scale: float
) -> None:
    mix = mix_of(fix)
    scaled = {kind: scale * share for kind, share in mix.items()}
    assert standardised_rate(fix, scaled) == pytest.approx(standardised_rate(fix, mix))


@given(strata, strata)
def test_which_of_two_is_named_first_is_nothing(
    a: dict[str, tuple[float, float]], b: dict[str, tuple[float, float]]
) -> None:
    mix = mix_of(a, b)
    assert orders_disagree(a, b, mix) == orders_disagree(b, a, mix)
    assert not orders_disagree(a, a, mix)
