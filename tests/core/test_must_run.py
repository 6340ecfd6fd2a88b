"""The load that matters: carried or not, what was assumed, and tried first and alone."""

from typing import Any

import pytest

from mendpool.core.diagnosis.must_run import flags_of, points_to_load, wanted
from mendpool.core.record.answer import Answer
from mendpool.core.record.machine import Machine

from tests.core.asking import asked
from tests.engines import packaged_engine

ENGINE = packaged_engine()
CATALOGUE = ENGINE.catalogue
SHED = CATALOGUE.planning.must_run.check


def ask(must_run: float | str | None, symptom: str = "drops-under-load", **more: Any) -> Answer:
    machine = {
        "fuel": "diesel",
        "rated_kva": 6.5,
        "rated_volts": 230,
        **more.pop("machine", {}),
    }
    question = {"machine": machine, "symptoms": [symptom], **more}
    if must_run is not None:
        question["must_run"] = must_run
    return asked(ENGINE, question)


def flag(answer: Answer, code: str) -> str:
    return next(f.says for f in answer.flags if f.code == code)


@pytest.mark.parametrize(
    ("said", "says", "kva", "hp"),
    [
        (3.5, "what must run", 3.5, None),
        ("pump", "the pump", None, 1),
        ("the well pump", "the pump", None, 1),
        ("sump pump", "the sump pump", None, 0.5),
        ("2 hp pump", "the pump", None, 2),
        ("pump 1,5 hp", "the pump", None, 1.5),
        ("freezers", "the freezer", 0.4, None),
        ("2 kW", "what must run", 2.5, None),
        ("heater 1500 W", "the heater", 1.875, None),
        ("4 kVA", "what must run", 4, None),
        ("kiln", "the kiln", None, None),
    ],
)
def test_a_load_is_known_by_its_size_its_name_or_both(
    said: float | str, says: str, kva: float | None, hp: float | None
) -> None:
    load = wanted(said, CATALOGUE)
    assert load is not None
    assert (load.says, load.motor_hp) == (says, hp)
    assert load.kva == (None if kva is None else pytest.approx(kva))


@pytest.mark.parametrize("said", [None, "", 0, -2.0, "0 kVA"])
def test_no_load_is_no_load(said: float | str | None) -> None:
    assert wanted(said, CATALOGUE) is None


def test_what_is_assumed_of_a_name_is_always_said() -> None:
    for code, load in CATALOGUE.planning.must_run.loads.items():
        found = wanted(code, CATALOGUE)
        assert found is not None
        assert found.says == load.says, code
        (told,) = flags_of(found, Machine(rated_kva=30), CATALOGUE)
        assert found.assumed
        assert found.assumed in told.says
    unknown = wanted("kiln", CATALOGUE)
    assert unknown is not None
    assert "size was not given" in unknown.assumed


@pytest.mark.parametrize(
    ("must_run", "kva", "code"),
    [
        (6.0, 6.5, "must-run"), (7.0, 6.5, "must-run-too-much"),
        ("freezer", 3.0, "must-run"), ("freezer", 1.0, "must-run-too-much"),
        # By `pump-start`: 1 hp at 230 V starts with about 11 kVA.
        ("pump", 30.0, "must-run"), ("pump", 2.0, "must-run-too-much"),
    ],
)  # fmt: skip
def test_whether_the_plate_carries_it_is_said(
    must_run: float | str, kva: float, code: str
) -> None:
    load = wanted(must_run, CATALOGUE)
    assert load is not None
    machine = Machine(rated_kva=kva, rated_volts=230, phases=1)
    (told,) = flags_of(load, machine, CATALOGUE)
    assert told.code == code
    assert f"{kva:g} kVA" in told.says


def test_without_a_plate_nothing_is_claimed() -> None:
    load = wanted(3.0, CATALOGUE)
    assert load is not None
    (told,) = flags_of(load, Machine(), CATALOGUE)
    assert told.code == "must-run"
    assert "can't be said" in told.says
    # kW alone will do, at the power factor of sets.
    (by_kw,) = flags_of(load, Machine(rated_kw=2.0), CATALOGUE)
    assert by_kw.code == "must-run-too-much"


def test_trouble_under_load_sheds_first_and_starts_what_matters_alone() -> None:
    answer = ask("pump")
    steps = [step for step in answer.plan if step.do != "safe"]
    assert [step.check for step in steps[:2]] == ["walk-round", SHED]
    assert "the pump first and alone" in (steps[1].how or "")
    assert "pump first and alone" in steps[1].says
    assert "too much load" in flag(answer, "fewer-loads")
    assert [step.check for step in answer.plan].count(SHED) == 1
    assert answer.expected_minutes > 0


def test_trouble_without_load_is_planned_as_ever() -> None:
    with_load, without = ask("pump", "no-output"), ask(None, "no-output")
    assert with_load.plan == without.plan
    assert {f.code for f in with_load.flags} == {"must-run"}
    assert "start the pump first and alone" in flag(with_load, "must-run")
    assert without.flags == ()


def test_shedding_that_was_done_is_not_asked_for_again() -> None:
    seen = [
        {"check": "walk-round", "found": "all-right"},
        {"check": SHED, "found": "even-with-none"},
    ]
    answer = ask("pump", observations=seen)
    assert SHED not in [step.check for step in answer.plan]
    assert "fewer-loads" not in {f.code for f in answer.flags}


def test_what_must_not_run_is_not_run_for_the_load_that_matters() -> None:
    """It drops under load and smells of fuel: the gate first, and no run."""
    question = {
        "machine": {"fuel": "petrol", "rated_kva": 3},
        "symptoms": ["fuel-leak", "drops-under-load"],
        "must_run": "pump",
    }
    answer = asked(ENGINE, question)
    assert answer.plan[0].do == "safe"
    assert SHED not in [step.check for step in answer.plan]


def test_load_symptoms_only_leant_to_turn_nothing_round() -> None:
    assert points_to_load({"trips-breaker": 0.9}, CATALOGUE)
    assert not points_to_load({"trips-breaker": 0.3, "no-output": 1.0}, CATALOGUE)
