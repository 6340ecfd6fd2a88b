"""The steps to take: safe, possible on this set, and nothing asked twice."""

from itertools import product

import pytest

from mendpool.core.catalogue.admits import admits
from mendpool.core.diagnosis.board import LAST_RESORT
from mendpool.core.diagnosis.plan import Plan
from mendpool.core.record.answer import Step
from mendpool.core.record.machine import Machine
from mendpool.core.record.report import Attempt

from tests.core.asking import asked, believed, facts_of, planned
from tests.core.planning import (
    ANSWERED,
    CHECKS,
    ENGINE,
    SYMPTOMS,
    WALK_ROUND,
    checks_of,
    fixes_of,
    plan,
)
from tests.factories import make_attempt, make_case

KINDS = (
    Machine(fuel="petrol", excitation="inverter", cooling="air", starting="recoil", phases=1),
    Machine(fuel="petrol", excitation="capacitor", cooling="air", starting="electric"),
    Machine(fuel="diesel", excitation="brushed-avr", cooling="air", starting="electric"),
    Machine(
        fuel="diesel", excitation="brushless-pmg", cooling="liquid", starting="remote",
        phases=3, control="auto-start", governor="electronic", duty="standby",
    ),
    Machine(fuel="lpg", cooling="air", starting="electric", control="auto-start"),
    Machine(),
)  # fmt: skip


# --- sixty complaints on six kinds of set


@pytest.fixture(scope="module")
def plans() -> dict[tuple[str, int], Plan]:
    return {
        (symptom, number): plan(machine=machine, symptoms={symptom: 1.0})
        for symptom, (number, machine) in product(SYMPTOMS, enumerate(KINDS))
    }


def test_every_plan_ends_with_a_call_and_calls_once(plans: dict[tuple[str, int], Plan]) -> None:
    assert len(plans) == 60
    for made in plans.values():
        assert [step.do for step in made.steps].count("call") == 1
        assert made.steps[-1].do == "call"
        assert {step.do for step in made.steps} <= {"test", "fix", "prove", "call"}


def test_no_plan_is_expected_to_take_longer_than_calling_someone(
    plans: dict[tuple[str, int], Plan],
) -> None:
    walk = CHECKS[WALK_ROUND].minutes
    for made in plans.values():
        assert 0 < made.expected <= LAST_RESORT + walk


def test_the_walk_round_comes_first(plans: dict[tuple[str, int], Plan]) -> None:
    for made in plans.values():
        assert made.steps[0].check == WALK_ROUND
        assert "What changed last?" in made.steps[0].says
        assert checks_of(made).count(WALK_ROUND) == 1


def test_no_step_is_for_another_kind_of_set(plans: dict[tuple[str, int], Plan]) -> None:
    for (_, number), made in plans.items():
        for code in checks_of(made):
            assert admits(CHECKS[code].only, KINDS[number])
        for component, _ in fixes_of(made):
            assert component is not None
            assert admits(ENGINE.catalogue.components[component].only, KINDS[number])


def test_how_it_is_done_is_told_for_a_cause_that_the_set_can_have(
    plans: dict[tuple[str, int], Plan],
) -> None:
    """No word of stale petrol to the owner of a gas set."""
    for (_, number), made in plans.items():
        for step in made.steps:
            told_of = [
                cause
                for cause in ENGINE.catalogue.causes
                if cause.component == step.component
                and any(remedy.says == step.how for remedy in cause.remedies)
            ]
            if step.do == "fix":
                assert any(admits(cause.only, KINDS[number]) for cause in told_of)


def test_how_it_is_done_is_told_for_the_likeliest_cause(
    plans: dict[tuple[str, int], Plan],
) -> None:
    for (symptom, number), made in plans.items():
        facts = facts_of(machine=KINDS[number], symptoms={symptom: 1.0})
        chance = believed(ENGINE, facts).probability
        for step in (s for s in made.steps if s.do == "fix"):
            ways = {
                remedy.says: chance[row] * remedy.works
                for row, cause in enumerate(ENGINE.catalogue.causes)
                for remedy in cause.remedies
                if (cause.component, remedy.action) == (step.component, step.action)
            }
            assert step.how is not None
            assert ways[step.how] == pytest.approx(max(ways.values()))


def test_no_step_is_taken_twice(plans: dict[tuple[str, int], Plan]) -> None:
    for made in plans.values():
        assert len(set(checks_of(made))) == len(checks_of(made))
        assert len(set(fixes_of(made))) == len(fixes_of(made))


def test_a_get_by_or_a_test_is_never_offered_for_a_fix(
    plans: dict[tuple[str, int], Plan],
) -> None:
    for made in plans.values():
        assert not [a for _, a in fixes_of(made) if a in {"bypass", "test", "substitute"}]


def test_every_step_tells_what_to_do(plans: dict[tuple[str, int], Plan]) -> None:
    for made in plans.values():
        for step in made.steps:
            assert step.says
            if step.do == "test":
                assert step.how
                assert step.expect
                assert len(step.results) >= 2
            if step.do == "fix":
                assert step.how
                assert step.minutes
                assert step.chance is not None
                assert 0 < step.chance <= 1


def test_opening_a_protection_is_followed_by_proving_it() -> None:
    switch = Attempt(component="oil-switch", action="test", result="found-bad")
    facts = facts_of(symptoms={"low-oil-pressure": 1.0}, tried=(switch,))
    steps = planned(ENGINE, facts).steps
    opened = [n for n, step in enumerate(steps) if step.component == "oil-switch"]
    assert [steps[n].do for n in opened[:2]] == ["fix", "prove"]
    assert "prove" in steps[opened[1]].says


def test_only_a_protection_is_to_be_proved(plans: dict[tuple[str, int], Plan]) -> None:
    protections = set(ENGINE.catalogue.sets.protections)
    opened = set(ENGINE.catalogue.sets.needs_proving)
    for made in plans.values():
        for step, after in zip(made.steps, made.steps[1:], strict=False):
            if step.do == "fix" and step.component in protections and step.action in opened:
                assert (after.do, after.component) == ("prove", step.component)
            if step.do == "prove":
                assert step.component in protections


def test_a_breaker_that_is_only_reset_needs_no_proving() -> None:
    steps = planned(ENGINE, facts_of(found={"walk-round": "breaker-off"})).steps
    (reset,) = [
        n for n, s in enumerate(steps) if (s.component, s.action) == ("main-breaker", "reset")
    ]
    assert steps[reset + 1].do != "prove"


def test_a_set_that_must_not_be_run_is_not_run(plans: dict[tuple[str, int], Plan]) -> None:
    for (symptom, _), made in plans.items():
        for code in checks_of(made):
            assert CHECKS[code].state not in ENGINE.catalogue.symptoms[symptom].cannot


def test_what_the_first_steps_touch_is_handed_on_for_cautions(
    plans: dict[tuple[str, int], Plan],
) -> None:
    for made in plans.values():
        assert WALK_ROUND in made.soon.checks
        assert made.soon.checks <= set(checks_of(made))
        assert made.soon.components <= {c for c, _ in fixes_of(made)}


# --- what it is worth


def steps(made: Plan, do: str) -> list[Step]:
    return [step for step in made.steps if step.do == do]


def test_a_test_says_what_it_is_expected_to_save() -> None:
    first = steps(plan(found=ANSWERED), "test")[0]
    assert first.saves is not None
    assert first.saves > 0
    if first.saves >= 1:
        assert "expected to save about" in first.says


def test_the_more_is_known_the_less_it_takes() -> None:
    vague = plan(symptoms={}, found=ANSWERED).expected
    said = plan(found=ANSWERED).expected
    found_bad = plan(
        found=ANSWERED, tried=(Attempt(component="brushes", action="test", result="found-bad"),)
    ).expected
    assert found_bad < said < vague


def test_a_part_found_bad_is_seen_to_first() -> None:
    found_bad = (Attempt(component="brushes", action="test", result="found-bad"),) * 2
    made = plan(found={**ANSWERED, "brush-length": "low"}, tried=found_bad)
    assert fixes_of(made)[0][0] == "brushes"


def test_reported_minutes_are_planned_with() -> None:
    """New brushes that took others four hours are no first step any more."""

    def after(minutes: float) -> float:
        cases = [
            make_case(group=i, terms=("s:no-output", f"w:a{i}", "k:fuel=diesel"),
                      attempts=(make_attempt(minutes=minutes),))
            for i in range(6)
        ]  # fmt: skip
        question = {
            "machine": {"fuel": "diesel", "excitation": "brushed-avr"},
            "symptoms": ["no-output"],
        }
        return asked(ENGINE, question, cases).expected_minutes

    assert after(240) > after(10)


def test_the_same_facts_make_the_same_plan() -> None:
    assert plan() == plan()
