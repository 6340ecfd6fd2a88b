"""A part and the way it failed, named together in a complaint."""

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.beliefs import NAMED
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.record.machine import Machine
from mendpool.core.record.report import Question
from mendpool.core.text.reader import Reader

SET = Machine(fuel="diesel", phases=1)


@pytest.fixture(scope="module")
def reader(engine: Engine) -> Reader:
    return engine.plain_reader


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("the brushes are worn", "brushes/worn"),
        ("worn brushes", "brushes/worn"),
        ("thermostat is stuck closed", "thermostat/stuck-closed"),
        ("air filter badly clogged", "air-filter/blocked"),
        ("air filter choked", "air-filter/blocked"),
        ("mice chewed the wiring", "wiring/chewed"),
    ],
)
def test_a_part_and_its_failure_side_by_side_name_a_cause(
    reader: Reader, text: str, key: str
) -> None:
    assert key in reader.read(text, SET).faults


@pytest.mark.parametrize(
    "text",
    [
        "worn tyres, brushes look fine",
        "brushes not worn",
        "brushes new and shining and fitted in june but worn",
        "not worn brushes",
        "brushes",
        "worn",
    ],
)
def test_what_is_denied_far_off_or_across_a_break_names_none(reader: Reader, text: str) -> None:
    assert "brushes/worn" not in reader.read(text, SET).faults


def test_a_failure_belongs_to_the_part_it_stands_nearest(reader: Reader) -> None:
    faults = reader.read("battery good but the fuel filter blocked", SET).faults
    assert faults == ("fuel-filter/blocked",)


def test_a_failure_as_near_to_two_parts_belongs_to_neither(reader: Reader) -> None:
    assert reader.read("the muffler cracked radiator", SET).faults == ()


def test_a_cause_that_is_named_is_likelier_and_never_certain(engine: Engine) -> None:
    def given(complaint: str) -> float:
        question = Question(machine=SET, symptoms=("overheats",), complaint=complaint)
        answer = engine.answer(question, engine.understand(question), (), 0)
        chances = {f"{c.component}/{c.failure}": c.probability for c in answer.causes}
        return chances.get("thermostat/stuck-closed", 0.0)

    plain, named = given("thermostat"), given("thermostat stuck closed")
    assert plain < named < 0.95
    odds = (named / (1 - named)) / (plain / (1 - plain))
    assert odds > NAMED / 2


def test_every_failure_mode_that_causes_have_can_be_named(catalogue: Catalogue) -> None:
    assert {cause.failure for cause in catalogue.causes} - {"earlier-get-by"} <= set(
        catalogue.words.failures
    )
