"""Taking a protection out is no repair: it is nowhere counted, believed or named as one."""

from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.beliefs import cure_of
from mendpool.core.diagnosis.derive import derive
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.evidence.case import Case, components_at_fault, cured_by
from mendpool.core.evidence.fit import fit
from mendpool.core.evidence.getting_by import (
    is_left_defeated,
    only_gets_by,
    outs_unsaid,
    proposed_outcome,
    told_outcome,
)
from mendpool.core.record.report import Question, Report

from tests.factories import make_attempt, make_case, make_id, make_report

DECIDED = {
    "oil-switch", "temperature-switch", "main-breaker", "rcd", "control-fuse", "stop-button",
    "earth-bond", "radiator-cap", "transfer-switch",
}  # fmt: skip
QUESTION: dict[str, Any] = {
    "machine": {"fuel": "diesel", "excitation": "brushed-avr"},
    "symptoms": ["stops-running"],
}


def taken_out(component: str) -> Case:
    return make_case(
        causes=(), symptoms=("stops-running",), attempts=(make_attempt(component, "remove"),)
    )


def test_the_protections_are_those_that_were_decided(catalogue: Catalogue) -> None:
    assert set(catalogue.sets.protections) == DECIDED


@pytest.mark.parametrize(
    ("component", "action", "told"),
    [
        ("oil-switch", "remove", True),
        ("oil-switch", "bypass", True),
        ("oil-switch", "replace", False),
        ("fuel-solenoid", "bypass", True),
        ("muffler", "remove", False),
    ],
)
def test_working_round_a_part_or_taking_a_protection_out_gets_by(
    catalogue: Catalogue, component: str, action: str, *, told: bool
) -> None:
    assert only_gets_by(component, action, catalogue.sets.protections) is told


@pytest.mark.parametrize("component", sorted(DECIDED))
def test_a_protection_that_was_taken_out_is_not_what_was_at_fault(
    engine: Engine, component: str
) -> None:
    """The set ran because nothing stopped it any more."""
    case = taken_out(component)
    assert cured_by(case, DECIDED) == ()
    assert components_at_fault(case, DECIDED) == ()
    made = fit([case] * 3, engine.expectations)
    assert component not in made.cause_total
    assert made.fixes == {}
    mended = make_case(causes=(), attempts=(make_attempt(component, "replace"),))
    assert components_at_fault(mended, DECIDED) == (component,)


def test_it_has_no_vote_and_is_no_repair_that_others_made(engine: Engine) -> None:
    question = Question.model_validate(QUESTION)
    understood = engine.understand(question)
    many = [taken_out("oil-switch")._replace(group=g, id=str(make_id())) for g in range(6)]
    answers = [engine.answer(question, understood, cases, 6) for cases in (many, [])]
    of_switch = [
        sum(c.probability for c in answer.causes if c.component == "oil-switch")
        for answer in answers
    ]
    assert of_switch[0] <= of_switch[1]
    assert {fix.repairs for fix in answers[0].fixes} == {0}


def test_it_cures_no_cause_and_is_no_first_of_two_faults(engine: Engine) -> None:
    knowledge = engine.knowledge
    for row, cause in enumerate(knowledge.causes):
        if cause.component in DECIDED:
            assert cure_of(knowledge, row, "remove") == 0
    tried = [{"component": "oil-switch", "action": "remove", "result": "improved"}]
    question = Question.model_validate({**QUESTION, "tried": tried})
    flags = engine.answer(question, engine.understand(question), (), 0).flags
    assert "oil" not in " ".join(flag.says for flag in flags)


@pytest.mark.parametrize("result", ["fixed", "improved", "no-change"])
def test_asked_or_reported_it_brings_the_caution_that_a_bypass_brings(
    engine: Engine, result: str
) -> None:
    tried = [{"component": "oil-switch", "action": "remove", "result": result}]
    question = Question.model_validate({**QUESTION, "tried": tried})
    answer = engine.answer(question, engine.understand(question), (), 0)
    assert "protection-defeated" in {caution.code for caution in answer.cautions}
    report = Report.model_validate(make_report(attempts=tried))
    derived = derive(str(make_id()), report, engine.plain_reader, engine.knowledge)
    assert "protection-defeated" in {caution.code for caution in derived.cautions}


CURED = {"component": "avr", "action": "replace", "result": "fixed"}


def tried(component: str, action: str, result: str = "fixed") -> dict[str, str]:
    return {"component": component, "action": action, "result": result}


RCD_OUT = tried("rcd", "remove", "improved")


@pytest.mark.parametrize(
    ("attempts", "protection", "ended"),
    [
        ([CURED], {}, "repaired"),
        ([CURED, tried("brushes", "clean", "no-change")], {}, None),
        ([CURED, tried("fuel-solenoid", "bypass")], {}, "get-by"),
        ([CURED], {"protection": {"left": "defeated"}}, "get-by"),
        ([RCD_OUT, CURED], {}, "get-by"),
        ([RCD_OUT, CURED], {"protection": {"found": "intact"}}, "get-by"),
        ([RCD_OUT, CURED], {"protection": {"left": "untested"}}, "repaired"),
        ([tried("rcd", "remove", "no-change"), CURED], {}, "repaired"),
        ([RCD_OUT, tried("rcd", "replace", "improved"), CURED], {}, "repaired"),
        ([], {}, None),
    ],
)  # fmt: skip
def test_how_it_ended_by_what_was_tried(
    attempts: list[dict[str, str]], protection: dict[str, Any], ended: str | None
) -> None:
    assert proposed_outcome({"attempts": attempts, **protection}, DECIDED) == ended


def test_a_bypass_that_did_not_help_takes_nothing_from_a_cure() -> None:
    body = {"attempts": [CURED, tried("fuel-solenoid", "bypass", "no-change")]}
    assert told_outcome("repaired", body, DECIDED) == "repaired"


def test_only_repaired_is_ever_called_otherwise(catalogue: Catalogue) -> None:
    body = {"attempts": [CURED], "protection_defeated": True}
    told = {code: told_outcome(code, body, DECIDED) for code in catalogue.vocabulary.outcomes}
    assert told.pop("repaired") == "get-by"
    assert all(said == code for code, said in told.items())


SHAPES: list[dict[str, Any]] = [
    {}, {"attempts": "none"}, {"attempts": [3], "protection": "out"}, {"attempts": [{}]},
]  # fmt: skip


@pytest.mark.parametrize("body", SHAPES)
def test_a_body_of_any_shape_can_be_asked(body: dict[str, Any]) -> None:
    assert outs_unsaid(body, DECIDED) == []
    assert not is_left_defeated(body, DECIDED)
    assert proposed_outcome(body, DECIDED) is None
