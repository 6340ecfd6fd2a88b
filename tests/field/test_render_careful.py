"""Every step that is listed names what it is dangerous by."""

import pytest

from mendpool.core.diagnosis.engine import Engine
from mendpool_field.layout import items, words
from mendpool_field.render import answer_text
from mendpool_field.render_plan import topics_of

from tests.core.asking import asked


def test_a_later_step_names_its_topics_in_words() -> None:
    step = {"do": "test", "says": "Volts.", "cautions": ["live-test:stator", "moving-parts"]}
    plan = [{"do": "test", "says": "Look."}, {"do": "test", "says": "Look on."}, step]
    text = answer_text({"plan": plan}, 72)
    assert "3. Test: Volts.\n   Careful: live test, moving parts." in text
    assert text.count("Careful") == 1


@pytest.mark.parametrize("fuel", ["petrol", "diesel"])
def test_no_listed_step_has_a_danger_that_stands_nowhere(engine: Engine, fuel: str) -> None:
    for symptom in engine.catalogue.symptoms:
        answer = asked(engine, {"machine": {"fuel": fuel}, "symptoms": [symptom]})
        body = answer.model_dump(mode="json", by_alias=True, exclude_unset=True)
        steps = [step for step in items(body, "plan") if step["do"] != "safe"]
        text = " ".join(answer_text(body, 72).split())
        parts = text.split("AND AFTER THAT")[-1]
        for step in steps[1:]:
            said = ", ".join(words(topic) for topic in topics_of(step))
            assert not said or f"Careful: {said}." in parts, (symptom, step["says"])
