"""Advice that kills is known by its words and its codes, and ordinary repairs are not."""

from pathlib import Path
from typing import Any

import pytest
import yaml

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.files import packaged_texts
from mendpool.core.catalogue.loader import load_catalogue
from mendpool.core.diagnosis.derive import derive
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.errors import CatalogueError
from mendpool.core.record.machine import Machine
from mendpool.core.record.report import Report

from tests.factories import make_report

pytestmark = pytest.mark.usefixtures("parsed_once")

LINES = yaml.safe_load(Path(__file__).with_name("advice_lines.yaml").read_text("utf-8"))
# Said by someone who put it right: it is shown with its caution all the same, which harms
# nobody. Known, and counted here so that it is not forgotten.
TOO_CAREFUL = {
    "someone had bridged the oil switch before, put it back as it belongs and tested it",
}


@pytest.mark.parametrize(
    ("code", "line"), [(c, x) for c, lines in LINES.items() for x in lines]
)
def test_a_line_holds_just_this_advice(engine: Engine, code: str, line: str) -> None:
    reader = engine.plain_reader
    found = reader.advice(reader.spoken(line, Machine()))
    if line in TOO_CAREFUL:
        assert found == {"protection-worked-round"}
        return
    assert found == (set() if code == "none" else {code})


def advice_of(engine: Engine, **changes: Any) -> tuple[str, ...]:
    report = Report.model_validate(make_report(**changes))
    made = derive("0", report, engine.plain_reader, engine.knowledge)
    assert made.advice == made.case.advice
    topics = {caution.code for caution in made.cautions}
    for known in engine.catalogue.advice:
        if known.code in made.advice:
            assert known.topic in topics
            assert known.topic == made.cautions[0].code or len(made.advice) > 1
    return made.advice


@pytest.mark.parametrize(
    "changes",
    [
        {"complaint": "bridged the oil switch, no power still"},
        {"note": "bridged the oil switch"},
        {"attempts": [{"component": "avr", "action": "replace", "result": "fixed",
                       "part": "paper clip across the oil switch"}]},
        {"attempts": [{"component": "avr", "action": "replace", "result": "fixed",
                       "fits": "jumper out the oil switch"}]},
        {"attempts": [{"component": "oil-switch", "action": "bypass", "result": "fixed"}]},
        {"attempts": [{"component": "oil-switch", "action": "remove", "result": "fixed"}]},
        {"protection_defeated": True},
        {"protection": {"left": "defeated"}},
    ],
)  # fmt: skip
def test_it_is_known_wherever_it_stands(engine: Engine, changes: dict[str, Any]) -> None:
    assert advice_of(engine, **changes) == ("protection-worked-round",)


def test_an_ordinary_repair_holds_none(engine: Engine) -> None:
    assert advice_of(engine) == ()
    swapped = {"component": "oil-switch", "action": "replace", "result": "fixed"}
    assert advice_of(engine, attempts=[swapped]) == ()


@pytest.mark.parametrize(
    ("entry", "says"),
    [
        ("- {code: x, label: l, topic: live-test}", "advice.yaml: x: no words to know it by"),
        ("- {code: x, label: l, topic: nothing, said: [a]}", "nothing: no caution"),
        ("- {code: x, label: l, topic: live-test, deeds: [a]}", "deeds and things go together"),
        ("- {code: x, label: l, topic: live-test, said: [a, ' ']}", "an empty phrase"),
        ("- {code: x, label: l, topic: live-test, said: [a], done: {actions: [fly]}}", "fly"),
        ("- {code: x, label: l, topic: live-test, said: [a], more: 1}", "more"),
        (
            "- &x {code: x, label: l, topic: live-test, said: [a]}\n- *x",
            "x: written twice",
        ),
    ],
)
def test_what_is_wrong_in_the_yaml_is_told_at_load(entry: str, says: str) -> None:
    with pytest.raises(CatalogueError) as told:
        load_catalogue({**packaged_texts(), "advice.yaml": entry})
    assert any("advice.yaml" in line and says in line for line in told.value.lines)


def test_the_code_names_no_part(catalogue: Catalogue) -> None:
    from mendpool.core.evidence import suspect  # noqa: PLC0415
    from mendpool.core.text import advice  # noqa: PLC0415

    for module in (suspect, advice):
        source = Path(str(module.__file__)).read_text("utf-8")
        assert not [code for code in catalogue.components if f'"{code}"' in source]
