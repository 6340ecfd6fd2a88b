"""How much reports prove: intervals, weights, durability, words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.evidence.durability import Watched, holding_at, survival
from mendpool.core.evidence.intervals import unseen_share, wilson
from mendpool.core.evidence.weights import contributor_factor, weigh
from mendpool.core.evidence.words import Counts, fix_in_words, holding_in_words

from tests.factories import make_case

# The table of the methods' screens page: Wilson 90 % in whole per cents.
WILSON_90 = {
    (0, 1): (0, 73), (1, 1): (27, 100), (0, 2): (0, 57), (1, 2): (12, 88), (2, 2): (43, 100),
    (0, 3): (0, 47), (3, 3): (53, 100), (4, 5): (44, 95), (5, 5): (65, 100), (7, 9): (50, 92),
    (9, 9): (77, 100), (14, 20): (52, 84), (45, 60): (65, 83),
}  # fmt: skip


@pytest.mark.parametrize(("counts", "expected"), WILSON_90.items())
def test_the_range_of_few_reports_is_as_wide_as_it_must_be(
    counts: tuple[int, int], expected: tuple[int, int]
) -> None:
    low, high = wilson(*counts)
    assert (round(low * 100), round(high * 100)) == expected


def test_nothing_tried_is_nothing_known() -> None:
    assert wilson(0, 0) == (0.0, 1.0)


@given(st.integers(1, 60), st.data())
def test_more_reports_with_the_same_share_narrow_the_range(
    tried: int, data: st.DataObject
) -> None:
    worked = data.draw(st.integers(0, tried))
    low, high = wilson(worked, tried)
    tighter_low, tighter_high = wilson(worked * 4, tried * 4)
    assert 0 <= low <= worked / tried <= high <= 1
    assert tighter_high - tighter_low < high - low


def test_a_hundred_reports_of_one_person_weigh_no_more_than_three() -> None:
    cases = [make_case(group=7) for _ in range(100)]
    weights = weigh(cases, {case.id: 1.0 for case in cases})
    assert sum(weights.values()) < 1 / 0.3
    assert contributor_factor(1.0) == 1.0


def test_an_account_nobody_vouched_for_counts_a_third() -> None:
    known, new = make_case(group=1), make_case(group=2, vouched=False)
    weights = weigh([known, new], {known.id: 1.0, new.id: 1.0})
    assert weights[new.id] == pytest.approx(0.3 * weights[known.id])


def test_one_report_does_not_make_everything_unseen() -> None:
    assert unseen_share([1.0]) == 1.0
    assert unseen_share([1.0], pseudo=12) == pytest.approx(1 / 13)


def test_silence_is_not_success() -> None:
    """Nine followed of twenty, one failed: only those seen that long speak."""
    watched = [Watched(12, False)] * 8 + [Watched(5, True)]
    at = holding_at(watched, 12)
    assert at is not None
    assert (at.followed, at.failed, at.seen_that_long) == (9, 1, 8)
    assert "11 others never heard from" in holding_in_words(at, 11, 12)


def test_no_share_is_given_from_fewer_than_five_followed_repairs() -> None:
    at = holding_at([Watched(9, False), Watched(7, False)], 12)
    assert holding_in_words(at, 0, 9) == "2 followed: 2 good, longest 9 months."


def test_what_came_back_later_is_never_said_to_be_good() -> None:
    """The figure is of twelve months, the words of all that was heard."""
    once = holding_at([Watched(13, True)], 12)
    assert (
        holding_in_words(once, 1, 13)
        == "1 repair followed: came back; 1 other never heard from."
    )
    few = holding_at([Watched(24, True), Watched(24, False), Watched(6, False)], 12)
    assert holding_in_words(few, 0, 24) == "3 followed: 2 good, longest 24 months."
    many = [Watched(18, True)] + [Watched(18, False)] * 6
    said = holding_in_words(holding_at(many, 12), 0, 18)
    assert said.startswith("7 followed, none failed in the first 12 months; at least ")


def test_a_curve_only_falls() -> None:
    steps = survival([Watched(3, True), Watched(5, False), Watched(6, True), Watched(9, True)])
    shares = [share for _, share, _ in steps]
    assert shares == sorted(shares, reverse=True)
    assert shares[-1] == 0.0


def said(worked: int, tried: int, **more: float) -> str:
    low, high = wilson(worked, tried)
    counts = Counts(worked, tried, people=min(tried, 6), cured=worked, repairs=22)
    return fix_in_words(counts, (low, high), more.get("chance", 0.6), None)


def test_nothing_tried_is_said_to_be_a_guess() -> None:
    assert "that is a guess" in said(0, 0)
    assert "6 in 10" in said(0, 0)


def test_one_report_is_said_to_prove_little() -> None:
    assert said(1, 1).startswith("Tried once, it worked. One report proves little")
    assert "27 to 100 %" in said(1, 1)


def test_two_reports_give_no_single_percentage() -> None:
    assert said(2, 2).startswith("Worked 2 of 2 times, from 2 people; 90 % range 43 to 100 %.")


def test_enough_reports_give_counts_people_and_range() -> None:
    assert said(7, 9) == (
        "Worked 7 of the 9 times it was tried (78 %), from 6 people; 90 % range 50 to 92 %."
        " It was the cure in 7 of 22 repairs like yours."
    )
