"""What a walked session warns of at its first step: all that holds whatever is done next."""

from typing import Any

import pytest

from mendpool.core.diagnosis.cautions import Situation, cautions_for
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.record.report import Question
from mendpool_field.layout import items
from mendpool_field.questions import Step
from mendpool_field.walk_show import Shower

from tests.core.asking import asked


class Heard:
    """A face that remembers which cautions it was told."""

    def __init__(self) -> None:
        self.codes: list[str] = []

    def tell(self, kind: str, body: dict[str, Any], lines: list[str]) -> None:
        assert lines
        if kind == "cautions":
            self.codes += [caution["code"] for caution in body["cautions"]]

    def ask(self, step: Step) -> str:
        raise AssertionError(step)


def told_first(answer: dict[str, Any]) -> list[str]:
    heard = Heard()
    Shower(heard, 72).cautions(answer, items(answer, "plan")[0])
    return heard.codes


def shown(engine: Engine, question: dict[str, Any]) -> dict[str, Any]:
    answer = asked(engine, question)
    body: dict[str, Any] = answer.model_dump(mode="json", by_alias=True, exclude_unset=True)
    return body


@pytest.mark.parametrize("fuel", ["petrol", "diesel", "lpg"])
def test_cautions_of_the_whole_situation_are_told_at_the_first_step(
    engine: Engine, fuel: str
) -> None:
    for symptom in engine.catalogue.symptoms:
        question = {"machine": {"fuel": fuel}, "symptoms": [symptom]}
        understood = engine.understand(Question.model_validate(question))
        always = cautions_for(
            engine.catalogue,
            Situation(
                machine=understood.facts.machine,
                symptoms=frozenset(understood.facts.symptoms),
                topics=understood.topics,
                dangers=frozenset(understood.dangers),
                worded=frozenset(understood.read.cautions),
            ),
        )
        assert "carbon-monoxide" in {caution.code for caution in always}
        first = told_first(shown(engine, question))
        assert {caution.code for caution in always} <= set(first), symptom


def test_a_petrol_set_that_wont_start_warns_of_its_fumes_at_once(engine: Engine) -> None:
    question = {"machine": {"fuel": "petrol"}, "complaint": "won't start"}
    assert "carbon-monoxide" in told_first(shown(engine, question))


def test_what_a_reading_shows_is_told_at_once(engine: Engine) -> None:
    reading = {"quantity": "voltage-ac", "point": "frame", "value": 120, "unit": "V"}
    question = {
        "machine": {"fuel": "petrol"}, "symptoms": ["no-output"], "readings": [reading],
    }  # fmt: skip
    assert told_first(shown(engine, question))[0] == "earth-fault"


CAUTIONS: list[dict[str, Any]] = [
    {"code": "live-test", "says": "Volts.", "source": "s", "of_steps": True},
    {"code": "carbon-monoxide", "says": "Outdoors.", "source": "s"},
]
PLAN = [
    {"do": "test", "check": "look", "cautions": []},
    {"do": "test", "check": "volts", "cautions": ["live-test", "carbon-monoxide"]},
]


def test_only_what_a_later_step_alone_calls_for_waits_for_it() -> None:
    heard = Heard()
    shower, answer = Shower(heard, 72), {"cautions": CAUTIONS, "plan": PLAN}
    shower.cautions(answer, PLAN[0])
    assert heard.codes == ["carbon-monoxide"]
    shower.cautions(answer, PLAN[1])
    assert heard.codes == ["carbon-monoxide", "live-test"]


def test_an_answer_that_does_not_tell_them_apart_shows_all_at_once() -> None:
    older = [{k: v for k, v in c.items() if k != "of_steps"} for c in CAUTIONS]
    assert told_first({"cautions": older, "plan": PLAN}) == ["live-test", "carbon-monoxide"]


def test_a_step_alone_is_marked_as_what_calls_for_its_caution(engine: Engine) -> None:
    question = {"machine": {"fuel": "petrol"}, "symptoms": ["no-output"]}
    told = {c["code"]: c.get("of_steps") for c in shown(engine, question)["cautions"]}
    assert told["carbon-monoxide"] is None
    assert [code for code, of_a_step_alone in told.items() if of_a_step_alone] != []
