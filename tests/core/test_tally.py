"""Counts over all reports: what fails on sets of a kind, how long fixes hold."""

import random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.evidence.durability import Watched, holding_at
from mendpool.core.evidence.failing import Failures, failing
from mendpool.core.evidence.holding import best_followed, durability
from mendpool.core.evidence.intervals import wilson
from mendpool.core.evidence.tally import tally_of

from tests.factories import make_attempt, make_case, make_seen

FIX = ("brushes", "replace")
BELT = ("carburettor/gummed",)


def what_fails(cases: list[Any], **kind: str) -> Failures:
    return failing(tally_of(cases, ("oil-switch",)), kind, lambda _: True, 30)


class TestWhatFails:
    def test_counts_come_first_and_the_share_is_of_known_faults(self) -> None:
        cases = [make_case(group=n) for n in range(6)]
        cases += [make_case(group=n, causes=BELT) for n in range(6, 9)]
        cases += [make_case(group=9, causes=(), attempts=())]  # nobody knows what it was
        found = what_fails(cases)
        assert (found.reports, found.people, found.known) == (10, 10, 9)
        first, second = found.items
        assert (first.component, first.failure, first.reports) == ("brushes", "worn", 6)
        assert first.share == pytest.approx(6 / 9, abs=1e-4)
        low, high = wilson(6, 9)
        assert (first.low, first.high) == pytest.approx((low, high), abs=1e-4)
        assert first.says == (
            f"At fault in 6 of 9 repairs, from 6 people; 90 % range {round(100 * low)} to "
            f"{round(100 * high)} %."
        )
        assert second.reports == 3

    def test_one_persons_many_do_not_pass_for_many_peoples(self) -> None:
        """Methods D2: ten reports of one person weigh 10 / (1 + 9 × 0.3) = 2.7."""
        cases = [make_case(group=1, causes=BELT) for _ in range(10)]
        cases += [make_case(group=n) for n in range(2, 6)]
        loud = what_fails(cases).items[0]
        assert (loud.component, loud.reports, loud.people) == ("carburettor", 10, 1)
        weight = 10 / 3.7
        assert loud.share == pytest.approx(weight / (weight + 4), abs=1e-4)

    def test_who_nobody_vouched_for_counts_for_less(self) -> None:
        cases = [make_case(group=1), make_case(group=2, causes=BELT, vouched=False)]
        by_part = {one.component: one.share for one in what_fails(cases).items}
        assert by_part["carburettor"] == pytest.approx(0.3 / 1.3, abs=1e-4)

    def test_few_repairs_are_said_to_be_too_few(self) -> None:
        assert "too few" in what_fails([make_case()]).items[0].says

    def test_sets_known_to_be_others_are_left_out(self) -> None:
        cases = [
            make_case(kind={"fuel": "diesel"}),
            make_case(kind={"fuel": "petrol"}, causes=BELT),
            make_case(kind={"excitation": "capacitor"}, causes=("capacitor/open",)),
        ]
        found = what_fails(cases, fuel="diesel")
        assert {one.component for one in found.items} == {"brushes", "capacitor"}
        both = what_fails(cases, fuel="diesel", excitation="brushed-avr")
        assert {one.component for one in both.items} == {"brushes"}

    def test_what_no_such_set_has_is_left_out(self) -> None:
        cases = [make_case(), make_case(causes=BELT)]
        tally = tally_of(cases, ())
        found = failing(tally, {}, lambda component: component != "carburettor", 30)
        assert [one.component for one in found.items] == ["brushes"]
        assert found.known == 1

    def test_only_the_month_of_the_repair_is_counted_and_only_where_it_is_known(self) -> None:
        cases = [
            make_case(happened="2025-03"),
            make_case(happened="2026-03"),
            make_case(happened="2026-12"),
            make_case(happened=None),
            make_case(
                happened="2026-01", group=77
            ),  # of another pool: the year is all there is
        ]
        tally = tally_of(cases, (), elsewhere={77})
        found = failing(tally, {}, lambda _: True, 30)
        assert found.by_month == (0, 0, 2, 0, 0, 0, 0, 0, 0, 0, 0, 1)
        assert found.items[0].by_month == found.by_month
        assert found.reports == 5

    def test_a_healthy_set_is_no_trouble(self) -> None:
        found = what_fails([make_case(outcome="well", causes=(), attempts=())])
        assert (found.reports, found.known, found.items) == (0, 0, ())

    @pytest.mark.parametrize(
        "case",
        [
            {"defeated": True},
            {"attempts": (make_attempt("oil-switch", "remove"),)},
            {"attempts": (make_attempt("avr", "bypass"),)},
        ],
    )
    def test_a_get_by_names_no_part_and_is_no_fix(self, case: dict[str, Any]) -> None:
        told = make_case(causes=(), followups=(make_seen(),), **case)
        assert what_fails([told]).items == ()
        assert best_followed(tally_of([told], ("oil-switch",)), 9) == []

    def test_two_faults_of_one_repair_count_for_each(self) -> None:
        found = what_fails([make_case(causes=("brushes/worn", "avr/failed", "brushes/worn"))])
        assert [(one.component, one.reports) for one in found.items] == [
            ("avr", 1),
            ("brushes", 1),
        ]

    def test_nothing_held_is_nothing_found(self) -> None:
        found = what_fails([])
        assert (found.reports, found.people, sum(found.by_month), found.items) == (0, 0, 0, ())


class TestHowLongItHolds:
    def test_a_share_needs_five_followed_and_three_seen_that_long(self) -> None:
        seen = [make_seen(12)] * 4
        few = durability(tally_of([make_case(followups=(s,)) for s in seen], ()), FIX)
        assert (few.followed, few.steps) == (4, ())
        assert all(at.share is None for at in few.at)
        seen = [make_seen(12)] * 4 + [make_seen(4, "returned")]
        enough = durability(tally_of([make_case(followups=(s,)) for s in seen], ()), FIX)
        shares = {at.months: (at.share, at.at_risk) for at in enough.at}
        assert shares[12] == (0.8, 4)
        assert shares[24] == (None, 0), "nobody looked so late"
        assert shares[3][0] == 1.0

    def test_the_curve_ends_where_too_few_were_seen(self) -> None:
        """One that came back after all the others were lost sight of is no fall to nothing."""
        seen = [make_seen(6)] * 5 + [make_seen(4, "returned"), make_seen(13, "returned")]
        found = durability(tally_of([make_case(followups=(s,)) for s in seen], ()), FIX)
        assert [(step.months, step.at_risk) for step in found.steps] == [(4, 7)]
        assert found.failed == 2

    def test_silence_is_counted_apart(self) -> None:
        cases = [make_case(), make_case(), make_case(followups=(make_seen(),))]
        found = durability(tally_of(cases, ()), FIX)
        assert (found.followed, found.silent) == (1, 2)
        assert found.says.endswith("; 2 others never heard from.")

    def test_a_fix_nobody_followed_says_so(self) -> None:
        found = durability(tally_of([], ()), FIX)
        assert (found.followed, found.says) == (0, "No follow-ups yet.")
        assert [at.months for at in found.at] == [3, 6, 12, 24]

    def test_what_was_not_cured_by_it_is_not_its_follow_up(self) -> None:
        case = make_case(
            attempts=(make_attempt("avr", result="no-change"), make_attempt()),
            followups=(make_seen(),),
        )
        tally = tally_of([case], ())
        assert [(one.component, one.action) for one in best_followed(tally, 9)] == [FIX]

    def test_the_most_followed_is_first_and_parts_can_be_asked_for(self) -> None:
        avr = (make_attempt("avr"),)
        cases = [make_case(followups=(make_seen(n),)) for n in (3, 5)]
        cases += [make_case(attempts=avr, followups=(make_seen(),))]
        tally = tally_of(cases, ())
        assert [one.component for one in best_followed(tally, 9)] == ["brushes", "avr"]
        assert [one.component for one in best_followed(tally, 9, "avr")] == ["avr"]
        assert best_followed(tally, 9, None, "clean") == []
        assert len(best_followed(tally, 1)) == 1


watched = st.lists(
    st.builds(Watched, st.integers(0, 30).map(float), st.booleans()), max_size=40
)


@given(watched, st.integers(0, 36))
def test_the_curve_is_the_textbook_product(seen: list[Watched], months: int) -> None:
    """Kaplan and Meier 1958: the product over failures of 1 less failed by at risk."""
    share = 1.0
    for time in sorted({w.months for w in seen if w.failed and w.months <= months}):
        at_risk = [w for w in seen if w.months >= time]
        share *= 1 - sum(w.failed and w.months == time for w in at_risk) / len(at_risk)
    at = holding_at(seen, months)
    if at is None:
        assert seen == []
        return
    assert at.share == pytest.approx(share)
    assert 0 <= at.low <= at.share + 1e-9
    assert at.share - 1e-9 <= at.high <= 1


@given(st.integers(0, 10_000))
def test_the_order_of_reports_changes_no_figure(seed: int) -> None:
    """Service and copy hold them in different orders, and give the same bytes."""
    chosen = random.Random(seed)
    cases = [
        make_case(
            group=chosen.randrange(5),
            vouched=chosen.random() < 0.6,
            kind={"fuel": chosen.choice(("diesel", "petrol"))},
            causes=chosen.choice((BELT, ("brushes/worn",), ("avr",), ())),
            followups=chosen.choice(((), (make_seen(7),), (make_seen(2, "returned"),))),
        )
        for _ in range(25)
    ]
    mixed = chosen.sample(cases, len(cases))
    one, other = tally_of(cases, ()), tally_of(mixed, ())
    for kind in ({}, {"fuel": "diesel"}):
        told = [failing(tally, kind, lambda _: True, 30) for tally in (one, other)]
        assert told[0] == told[1]
    assert best_followed(one, 9) == best_followed(other, 9)
