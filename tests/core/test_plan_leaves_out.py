"""What a plan leaves out: what was told already, and what can't be done."""

from typing import Any

import pytest

from mendpool.core.diagnosis.engine import Engine
from mendpool.core.record.machine import Machine
from mendpool.core.record.report import Attempt

from tests.core.asking import BRUSHED, asked, facts_of, planned
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
