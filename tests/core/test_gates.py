"""Safety before speed: what must be made safe stands before every plan."""

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.record.answer import Answer
from mendpool.core.record.machine import Machine
from mendpool.core.record.report import Question

from tests.factories import make_attempt, make_case

GAS = Machine(fuel="lpg", cooling="air", starting="electric", rated_volts=240, phases=1)
DIESEL = Machine(fuel="diesel", cooling="liquid", starting="electric")


def ask(engine: Engine, machine: Machine, complaint: str, **more: object) -> Answer:
    question = Question.model_validate(
        {"machine": machine.model_dump(exclude_none=True), "complaint": complaint, **more}
    )
    understood = engine.understand(question)
    return engine.answer(question, understood, [], 0)


def first_steps(answer: Answer) -> list[str]:
    return [step.says for step in answer.plan if step.do == "safe"]


def test_a_smell_of_gas_shuts_the_gas_off_before_anything(engine: Engine) -> None:
    answer = ask(engine, GAS, "smell gas near it")
    assert answer.plan[0].do == "safe"
    assert "Shut the gas off" in answer.plan[0].says
    assert "licensed" in (answer.plan[0].how or "")
    assert {"gas-leak"} <= {caution.code for caution in answer.cautions}


def test_the_gate_is_the_one_for_this_fuel(engine: Engine) -> None:
    (says,) = first_steps(ask(engine, DIESEL, "fuel leak, drips on the floor"))
    assert "fuel tap" in says


@pytest.mark.parametrize(
    ("complaint", "word"),
    [
        ("got a tingle off the frame", "nobody touches"),
        ("burning smell from the alternator", "alight"),
        ("engine ran away, revs climbing by itself", "Stand clear"),
        ("engine overheats and boils", "cap stays on"),
        ("oil pressure light, shuts down on low oil", "dipstick"),
    ],
)
def test_what_can_kill_or_wreck_comes_first(engine: Engine, complaint: str, word: str) -> None:
    assert word in " ".join(first_steps(ask(engine, DIESEL, complaint)))


def test_a_reading_that_shows_danger_calls_for_its_gate_too(engine: Engine) -> None:
    legs = [{"text": "leg 1 95 v"}, {"text": "leg 2 145 v"}]
    machine = GAS.model_copy(update={"rated_hz": 60.0})
    answer = ask(engine, machine, "lamps too bright on one side", readings=legs)
    assert any("unplug everything" in says for says in first_steps(answer))


def test_a_plain_fault_is_not_held_up(engine: Engine) -> None:
    assert first_steps(ask(engine, DIESEL, "turns over but will not fire")) == []


def test_no_way_of_running_on_is_shown_while_fuel_escapes(engine: Engine) -> None:
    bypassed = [
        make_case(
            group=n,
            kind={"fuel": "lpg"},
            symptoms=("fuel-leak",),
            terms=("s:fuel-leak", "w:smell", "w:ga", "k:fuel=lpg"),
            causes=("fuel-solenoid/failed",),
            attempts=(make_attempt("fuel-solenoid", "bypass"),),
            outcome="get-by",
        )
        for n in range(1, 4)
    ]
    question = Question(machine=GAS, complaint="smell gas near it", symptoms=("fuel-leak",))
    answer = engine.answer(question, engine.understand(question), bypassed, 3)
    assert answer.similar
    assert answer.get_bys == ()


def test_every_gate_says_what_to_do_and_who_says_so(catalogue: Catalogue) -> None:
    for gate in catalogue.gates:
        assert len(gate.how) > 60
        assert gate.source
        assert "bypass" not in gate.how
