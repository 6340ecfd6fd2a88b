"""The steps to take: safe, possible on this set, and nothing asked twice."""

from itertools import product
from typing import Any

import pytest

from mendpool.core.catalogue.admits import admits
from mendpool.core.diagnosis.board import LAST_RESORT
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.diagnosis.plan import Plan
from mendpool.core.record.answer import Step
from mendpool.core.record.machine import Machine
from mendpool.core.record.report import Attempt

from tests.core.asking import BRUSHED, asked, believed, facts_of, planned
from tests.engines import packaged_engine
from tests.factories import make_attempt, make_case

ENGINE = packaged_engine()
CHECKS = ENGINE.catalogue.checks
WALK_ROUND = "walk-round"
ANSWERED = {WALK_ROUND: "all-right"}

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
SYMPTOMS = (
    "no-output", "low-voltage", "trips-rcd", "no-crank", "cranks-no-start", "overheats",
    "stops-running", "hunting", "no-transfer", "oil-leak",
)  # fmt: skip


def plan(**facts: Any) -> Plan:
    return planned(ENGINE, facts_of(**facts))


def checks_of(made: Plan) -> list[str]:
    return [step.check for step in made.steps if step.check is not None]


def fixes_of(made: Plan) -> list[tuple[str | None, str | None]]:
    return [(step.component, step.action) for step in made.steps if step.do == "fix"]


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


# --- nothing is asked that was told


def test_an_answered_walk_round_is_not_asked_again() -> None:
    made = plan(found=ANSWERED)
    assert WALK_ROUND not in checks_of(made)
    assert made.steps


def test_nothing_answered_is_asked_again_to_the_very_end() -> None:
    """Answer whatever is asked first with its usual result, until nothing is asked."""
    found: dict[str, str] = {}
    for _ in range(30):
        asked_for = checks_of(plan(found=found))
        assert not set(asked_for) & set(found)
        if not asked_for:
            break
        results = CHECKS[asked_for[0]].found
        found[asked_for[0]] = max(results, key=lambda code: results[code].usual)
    assert len(found) >= 5


@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_whatever_came_of_a_check_it_is_not_asked_again(symptom: str) -> None:
    said = {"symptoms": {symptom: 1.0}}
    for code in checks_of(plan(found=ANSWERED, **said))[:2]:
        for result in CHECKS[code].found:
            assert code not in checks_of(plan(found={**ANSWERED, code: result}, **said))


def test_a_reading_that_was_given_is_not_asked_for(engine: Engine) -> None:
    question: dict[str, Any] = {
        "machine": {"fuel": "diesel", "excitation": "brushed-avr", "rated_volts": 230},
        "symptoms": ["no-output"],
        "observations": [{"check": WALK_ROUND, "found": "all-right"}],
    }
    before = [step.check for step in asked(engine, question).plan]
    code = next(c for c in before if c is not None and CHECKS[c].reading is not None)
    place = CHECKS[code].reading
    assert place is not None
    reading = {"quantity": place.quantity, "point": place.point, "value": 15}
    after = asked(engine, {**question, "readings": [reading]})
    assert after.understood["observations"].keys() >= {code}  # type: ignore[attr-defined]
    assert code not in [step.check for step in after.plan]


def test_another_check_of_the_same_reading_is_not_asked_for_either() -> None:
    twin = CHECKS["brush-to-brush-ohms"].model_copy(update={"code": "twin", "minutes": 0.5})
    checks = {**CHECKS, "twin": twin}
    engine = Engine(ENGINE.catalogue.model_copy(update={"checks": checks}))
    assert "twin" in checks_of(planned(engine, facts_of(found=ANSWERED)))
    for result in twin.found:
        found = {**ANSWERED, "brush-to-brush-ohms": result}
        assert "twin" not in checks_of(planned(engine, facts_of(found=found)))


def test_what_kind_of_set_it_is_is_asked_while_not_known_and_never_after() -> None:
    look = next(code for code, check in CHECKS.items() if check.tells == "excitation")
    unknown = {"machine": Machine(fuel="diesel", phases=1), "found": ANSWERED}
    assert look in checks_of(plan(**unknown))
    assert look not in checks_of(plan(machine=BRUSHED, found=ANSWERED))


def test_after_a_look_that_tells_the_kind_it_is_not_asked_again(engine: Engine) -> None:
    look = next(code for code, check in CHECKS.items() if check.tells == "excitation")
    question: dict[str, Any] = {"machine": {"fuel": "diesel"}, "symptoms": ["no-output"]}
    seen = [{"check": look, "found": "capacitor"}]
    answer = asked(engine, {**question, "observations": seen})
    assert look not in [step.check for step in answer.plan]
    assert not [c for c in answer.causes if c.component in {"brushes", "avr"}]
    assert answer.understood["kinds"] == {}
    assert asked(engine, question).understood["kinds"] != {}


@pytest.mark.parametrize("result", ["no-change", "improved", "worse"])
def test_a_fix_that_was_tried_is_not_offered_again(result: str) -> None:
    """Not even where it helped a little, which makes its part likelier."""
    first = fixes_of(plan(found=ANSWERED))
    assert first
    component, action = first[0]
    tried = (Attempt(component=component, action=action, result=result),)
    assert first[0] not in fixes_of(plan(found=ANSWERED, tried=tried))


def test_a_dead_new_part_may_be_tried_again() -> None:
    first = fixes_of(plan(found=ANSWERED))[0]
    dead = (Attempt(component=first[0], action=first[1], result="part-no-good"),)
    assert first in fixes_of(plan(found=ANSWERED, tried=dead))


# --- what is possible


@pytest.mark.parametrize("symptom", ["no-crank", "clicks-only", "locked"])
def test_a_set_that_does_not_turn_is_not_tested_running(symptom: str) -> None:
    made = plan(symptoms={symptom: 1.0}, found=ANSWERED)
    assert made.steps[-1].do == "call"
    for code in checks_of(made):
        assert CHECKS[code].state not in {"running", "cranking"}


def test_a_symptom_only_leant_to_bars_nothing() -> None:
    said = {"no-output": 1.0, "no-crank": 0.4}
    states = {CHECKS[code].state for code in checks_of(plan(symptoms=said, found=ANSWERED))}
    assert "running" in states


@pytest.mark.parametrize("fuel", ["lpg", "natural-gas", "petrol", "diesel"])
def test_a_set_that_smells_of_fuel_is_neither_run_nor_switched_on(fuel: str) -> None:
    """A leak of gas or petrol wants no spark: soapy water and a look come first."""
    made = plan(
        machine=Machine(fuel=fuel, control="auto-start", starting="electric"),
        symptoms={"fuel-leak": 1.0, "cranks-no-start": 0.9},
        found=ANSWERED,
    )
    states = {CHECKS[code].state for code in checks_of(made)}
    assert states.isdisjoint({"running", "cranking", "powered"})


@pytest.mark.parametrize("symptom", ["trips-rcd", "cranks-no-start", "drops-under-load"])
def test_a_look_that_tells_nothing_is_not_a_step(symptom: str) -> None:
    """A step that costs its minutes and saves none of them is there for show."""
    made = plan(machine=Machine(fuel="diesel"), symptoms={symptom: 1.0}, found=ANSWERED)
    for step in made.steps:
        if step.do == "test" and step.saves is not None and step.minutes is not None:
            assert step.saves > -0.75 * step.minutes


def test_what_is_not_at_hand_is_not_asked_for() -> None:
    assert any(CHECKS[c].needs for c in checks_of(plan(found=ANSWERED)))
    for hand in (("torch",), ("torch", "spanners"), ("multimeter",)):
        for code in checks_of(plan(found=ANSWERED, at_hand=hand)):
            assert set(CHECKS[code].needs) <= set(hand)


def test_nothing_said_of_tools_leaves_every_test_open() -> None:
    assert "multimeter" in {
        tool for code in checks_of(plan(found=ANSWERED)) for tool in CHECKS[code].needs
    }


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
