"""What a plan tells besides its steps: the runner-up, covers, get-bys; what it never says."""

from typing import Any

import numpy as np
import pytest

from mendpool.core.diagnosis.board import LAST_RESORT
from mendpool.core.diagnosis.cautions import NO_STEPS
from mendpool.core.diagnosis.decide import CLOSE, Manner, Options, choose
from mendpool.core.diagnosis.get_bys import words_for
from mendpool.core.diagnosis.plan import Plan
from mendpool.core.record.answer import Answer
from mendpool.core.record.report import Question

from tests.core.asking import asked, facts_of, planned
from tests.engines import packaged_engine
from tests.factories import make_attempt, make_case

ENGINE = packaged_engine()
CATALOGUE = ENGINE.catalogue
FOUND = {"walk-round": "all-right"}
SYMPTOMS = ("no-output", "cranks-no-start", "overheats", "trips-breaker", "stops-running")


def plan(**facts: Any) -> Plan:
    return planned(ENGINE, facts_of(**facts))


# --- the runner-up


@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_the_first_step_that_is_chosen_tells_the_runner_up(symptom: str) -> None:
    made = plan(symptoms={symptom: 1.0}, found=FOUND)
    told = [step for step in made.steps if step.or_else]
    assert told == [step for step in made.steps if step.do in ("test", "fix")][:1]
    said = told[0].or_else or ""
    assert said.startswith(("Either is fine: ", "Next best: "))
    assert ("min more in all" in said) is said.startswith("Next best: ")


def even(manners: list[Manner], costs: tuple[float, float] = (40.0, 41.0)) -> Options:
    """Two even faults and a repair for each."""
    return Options(
        np.eye(2), np.array(costs), [], [], 300.0, repair_manners=manners, test_manners=[]
    )


def test_of_steps_within_5_per_cent_the_cheaper_the_undoable_the_safer_goes_first() -> None:
    belief = np.array([0.5, 0.5])
    plain = choose(belief, even([Manner(), Manner()]), [0, 1], [])
    assert (plain.which, plain.as_good) == (0, True)
    for worse in (Manner(money=2), Manner(lasting=True), Manner(hazards=1)):
        choice = choose(belief, even([worse, Manner()]), [0, 1], [])
        assert (choice.which, choice.next_best) == (1, ("repair", 0))
        assert choice.as_good
    dear_but_safe = [Manner(money=1), Manner(money=0, lasting=True, hazards=9)]
    assert choose(belief, even(dear_but_safe), [0, 1], []).which == 1, "money first"


def test_what_costs_more_than_5_per_cent_is_not_preferred_for_its_manners() -> None:
    belief = np.array([0.5, 0.5])
    choice = choose(belief, even([Manner(money=5), Manner()], (40.0, 60.0)), [0, 1], [])
    assert choice.which == 0
    assert choice.runner_up > (1 + CLOSE) * choice.expected
    assert not choice.as_good


def test_a_useless_look_is_not_preferred_for_costing_no_money() -> None:
    belief, useless = np.array([0.5, 0.5]), np.full((2, 2), 0.5)
    options = Options(
        np.eye(2), np.array([40.0, 60.0]), [useless], [0.5], 300.0,
        repair_manners=[Manner(money=3, lasting=True, hazards=4)] * 2, test_manners=[Manner()],
    )  # fmt: skip
    choice = choose(belief, options, [0, 1], [0])
    assert (choice.do, choice.which) == ("repair", 0)


def test_a_hopeless_fix_is_not_preferred_for_costing_little() -> None:
    """Free, undone at once, and worth a chance in a hundred: not before the likely one."""
    belief = np.array([0.95, 0.01, 0.04])
    options = Options(
        np.eye(2, 3), np.array([40.0, 1.0]), [], [], 300.0,
        repair_manners=[Manner(money=3), Manner()], test_manners=[],
    )  # fmt: skip
    assert choose(belief, options, [0, 1], []).which == 0


# --- covers


def test_a_cover_is_named_once_and_its_minutes_are_counted_once() -> None:
    made = plan(found=FOUND)
    covers = [step.opens for step in made.steps if step.opens]
    staying = [c for c in covers if CATALOGUE.openings[c].stays]
    assert staying
    assert len(set(staying)) == len(staying)
    off: set[str] = set()
    for step in made.steps:
        if step.check is None:
            continue
        check = CATALOGUE.checks[step.check]
        if check.opens in off and CATALOGUE.openings[check.opens].stays:
            assert step.minutes is not None
            assert step.minutes < check.minutes
        elif step.do == "test":
            assert step.minutes == check.minutes
        if check.opens:
            off.add(check.opens)


def test_what_was_looked_at_in_this_question_has_its_cover_off() -> None:
    """A check answered is of today; what was tried may be weeks ago and closed again."""
    behind = next(c for c in CATALOGUE.checks.values() if c.code == "brush-and-ring-look")
    assert behind.opens is not None
    assert CATALOGUE.openings[behind.opens].stays
    usual = max(behind.found, key=lambda code: behind.found[code].usual)
    before = plan(found=FOUND)
    after = plan(found={**FOUND, behind.code: usual})
    assert behind.opens in {step.opens for step in before.steps}
    assert behind.opens not in {step.opens for step in after.steps}


def test_no_cover_takes_longer_than_what_lies_behind_it() -> None:
    """A step's minutes include its cover."""
    for cause in CATALOGUE.causes:
        for remedy in cause.remedies:
            if remedy.opens is not None:
                assert CATALOGUE.openings[remedy.opens].minutes <= remedy.minutes, cause.key


# --- get-bys


def cases() -> list[Any]:
    return [
        make_case(
            group=n, terms=("s:stops-running", f"w:a{n}", "k:fuel=diesel"),
            symptoms=("stops-running",), causes=("oil-switch/failed",),
            attempts=(make_attempt("oil-switch", "bypass"),), outcome="get-by",
        )
        for n in range(6)
    ]  # fmt: skip


def ask(**more: Any) -> Answer:
    question = {"machine": {"fuel": "diesel"}, "symptoms": ["stops-running"], **more}
    return asked(ENGINE, question, cases())


def test_a_get_by_is_shown_only_when_asked_for() -> None:
    assert ask().get_bys == ()
    (shown,) = ask(get_by=True).get_bys
    assert (shown.component, shown.action) == ("oil-switch", "bypass")
    assert shown.risk
    assert "At most ten minutes" in shown.time_limit
    assert "before the set is left alone" in shown.restore


def test_a_get_by_is_shown_where_the_plan_is_the_last_resort() -> None:
    nothing_left = Plan((), 0.0, NO_STEPS, frozenset())
    assert nothing_left.last_resort
    told = ask(
        observations=[
            {"check": c.code, "found": max(c.found, key=lambda r, c=c: c.found[r].usual)}
            for c in CATALOGUE.checks.values()
            if not c.tells
        ][:50]
    )
    only_call = all(step.do in ("safe", "call") for step in told.plan)
    assert bool(told.get_bys) is only_call


def test_asking_for_a_get_by_changes_no_step_and_no_fix() -> None:
    plain, asked_for = ask(), ask(get_by=True)
    assert plain.plan == asked_for.plan
    assert plain.fixes == asked_for.fixes
    assert not [s for s in asked_for.plan if s.action == "bypass"]


@pytest.mark.parametrize("value", ["yes", 1, None])
def test_get_by_is_true_or_false(value: object) -> None:
    with pytest.raises(ValueError, match="get_by"):
        Question.model_validate({"symptoms": ["no-output"], "get_by": value})


def test_every_part_has_words_for_a_get_by_and_no_protection_those_of_its_group() -> None:
    for code in CATALOGUE.components:
        words = words_for(code, CATALOGUE)
        assert words.time_limit
        assert words.restore.format(part="the part")
        assert bool(words.components) or code not in CATALOGUE.sets.protections


# --- never said


def test_no_step_tells_anyone_to_defeat_a_protection() -> None:
    for symptom in CATALOGUE.symptoms:
        for must_run in (None, "pump"):
            question: dict[str, Any] = {"symptoms": [symptom]}
            if must_run:
                question["must_run"] = must_run
            answer = asked(ENGINE, question)
            for step in answer.plan:
                assert step.action not in ("bypass", "substitute")
                protects = step.component in CATALOGUE.sets.protections
                assert not (protects and step.action == "remove")
            assert answer.plan[-1].do == "call"


def test_gates_stand_first_whatever_they_cost() -> None:
    answer = asked(
        ENGINE,
        {
            "machine": {"fuel": "lpg"},
            "symptoms": ["fuel-leak", "trips-breaker"],
            "must_run": "pump",
            "at_hand": ["multimeter"],
        },
    )
    kinds = [step.do for step in answer.plan]
    assert kinds[0] == "safe"
    assert "safe" not in kinds[kinds.count("safe") :]


def test_a_fix_that_a_look_may_point_at_is_named_only_with_such_a_look() -> None:
    """Followed without a look it cost the simulator's owners whole days (mean 306 minutes to
    running, 186 without): nothing had chosen it."""
    answered = {
        c.code: max(c.found, key=lambda r, c=c: c.found[r].usual)
        for c in CATALOGUE.checks.values()
        if not c.tells
    }
    for symptom in CATALOGUE.symptoms:
        for found in (FOUND, answered):
            made = plan(symptoms={symptom: 1.0}, found=found)
            looks = [s for s in made.steps if s.do == "test" and s.saves is not None]
            pointed = [s for s in made.steps if "points at it" in s.says]
            assert looks or not pointed
            for step in pointed:
                assert step.minutes is not None
                assert step.minutes < LAST_RESORT
