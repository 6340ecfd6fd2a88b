"""The guided report is a function of the answers: asked in order, any step skippable."""

from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.codes import check_report
from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.record.report import Report
from mendpool_field.guide import interview
from mendpool_field.questions import Step


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return packaged_catalogue()


def told(
    catalogue: Catalogue,
    answers: list[str],
    sets: dict[str, Any] | None = None,
    plate: dict[str, Any] | None = None,
) -> tuple[dict[str, Any], list[Step]]:
    asking = interview(catalogue, sets or {}, plate)
    steps = [next(asking)]
    for answer in answers:
        try:
            step = asking.send(answer)
        except StopIteration as end:
            body: dict[str, Any] = end.value
            return body, steps
        steps.append(step)
    raise AssertionError(f"still asking: {steps[-1]}")


def key_of(step: Step, words: str) -> str:
    return next(key for key, told in step.choices if told.startswith(words))


THIN = ["diesel", "no power", "", "", "", "", "open", "", ""]


def test_the_thinnest_report_skips_all_but_three_steps(catalogue: Catalogue) -> None:
    body, _ = told(catalogue, THIN)
    assert body == {"machine": {"fuel": "diesel"}, "complaint": "no power", "outcome": "open"}
    check_report(Report.model_validate(body), catalogue)


def test_every_choice_is_one_key(catalogue: Catalogue) -> None:
    _, steps = told(catalogue, THIN)
    keys = [key for step in steps for key, _ in step.choices]
    assert keys
    assert {len(key) for key in keys} == {1}
    for step in steps:
        assert len({key for key, _ in step.choices}) == len(step.choices)


def test_a_full_report_is_one_that_the_wire_takes(catalogue: Catalogue) -> None:
    plate = {"fuel": "diesel", "excitation": "brushed-avr"}
    answers = [
        "1", "runs but no power", "1 2", "residual 0.4 V", "238 V no load", "",
        "brushes", "replace", "fixed", "25,5", "", "yes", "worn", "1", "yes", "left one down",
    ]  # fmt: skip
    body, steps = told(catalogue, answers, {"barn": plate})
    assert body == {
        "machine": plate,
        "complaint": "runs but no power",
        "before": ["stood-long", "refuelled"],
        "readings": [{"text": "residual 0.4 V"}, {"text": "238 V no load"}],
        "attempts": [
            {"component": "brushes", "action": "replace", "result": "fixed", "minutes": 25.5}
        ],
        "cause": {"component": "brushes", "failure": "worn"},
        "outcome": "repaired",
        "protection_defeated": True,
        "note": "left one down",
    }
    check_report(Report.model_validate(body), catalogue)
    assert "barn" in steps[0].choices[0]


def test_a_set_named_before_is_not_asked_for(catalogue: Catalogue) -> None:
    body, steps = told(catalogue, THIN[1:], {"barn": {}}, {"fuel": "petrol"})
    assert body["machine"] == {"fuel": "petrol"}
    assert "What did it do" in steps[0].asks


def test_a_part_is_found_by_any_word_for_it(catalogue: Catalogue) -> None:
    alias = catalogue.components["avr"].aliases[0]
    answers = [*THIN[:4], alias, "test", "found-good", "", "", "", "open", "", ""]
    body, _ = told(catalogue, answers)
    assert body["attempts"][0]["component"] == "avr"


def test_of_many_parts_one_is_picked_by_key(catalogue: Catalogue) -> None:
    asking = interview(catalogue, {}, {"fuel": "diesel"})
    step = next(asking)
    for answer in ("no power", "", ""):
        step = asking.send(answer)
    assert "What did you try first" in step.asks
    step = asking.send("pump")
    assert step.asks == "Which of these?"
    assert len(step.choices) > 1
    step = asking.send(step.choices[0][0])
    assert "what was done" in step.asks


def test_a_slip_in_a_part_is_mended(catalogue: Catalogue) -> None:
    answers = [*THIN[:4], "brushs", "clean", "improved", "", "", "", "open", "", ""]
    body, _ = told(catalogue, answers)
    assert body["attempts"][0]["component"] == "brushes"


def test_a_wrong_key_is_asked_again(catalogue: Catalogue) -> None:
    answers = [
        "coal", "", "diesel",  # fuel: not a key, needed, by its code
        "", "no power",  # the complaint is needed
        "99", "",
        "",
        "zzzzzz", "avr", "replace", "no-change", "soon", "-3", "1e9", "40", "",
        "", "", "open", "", "",
    ]  # fmt: skip
    body, steps = told(catalogue, answers)
    troubles = [step.trouble for step in steps if step.trouble]
    assert troubles == [
        "Type one of the keys.",
        "This one is needed.",
        "This one is needed: a few words will do.",
        "Type keys from the list.",
        "No part is known as “zzzzzz”; try another word for it.",
        "A number of minutes, such as 40.",
        "A number of minutes, such as 40.",
        "A number of minutes, such as 40.",
        "This one is needed.",
    ]
    assert body["attempts"][0]["minutes"] == 40.0


def test_only_the_ways_a_part_fails_are_offered(catalogue: Catalogue) -> None:
    answers = [*THIN[:4], "", "brushes"]
    asking = interview(catalogue, {}, None)
    step = next(asking)
    for answer in answers:
        step = asking.send(answer)
    known = {c.failure for c in catalogue.causes if c.component == "brushes"}
    assert len(step.choices) == len(known)
    assert key_of(step, "worn")


@pytest.mark.parametrize(
    ("typed", "said"), [("y", True), ("n", False), ("1", False), ("2", True)]
)
def test_a_yes_is_typed_as_one_whatever_its_key(
    catalogue: Catalogue, typed: str, said: bool
) -> None:
    body, _ = told(catalogue, [*THIN[:-2], typed, ""])
    assert body.get("protection_defeated", False) is said
