"""Readings beside good ones: this set's own past, then sets like it."""

from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.derive import derive
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.diagnosis.healthy import keys_of
from mendpool.core.diagnosis.judging import judge_all
from mendpool.core.evidence.case import Case, case_from_text, case_to_text
from mendpool.core.evidence.fit import Fit, fit
from mendpool.core.evidence.norms import LEAST_PEOPLE, Norm, norm_of, norms
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Reading
from mendpool.core.record.report import JudgeRequest, Question, Report

from tests.factories import make_id

SET = {"make": "Harrow", "model": "6D", "fuel": "diesel", "excitation": "brushed-avr",
       "phases": 1, "rated_kva": 6.5, "rated_volts": 240, "rated_hz": 60}  # fmt: skip


def judged(
    catalogue: Catalogue,
    text: str,
    past: tuple[str, ...] = (),
    norms_: dict[str, Norm] | None = None,
    **machine: Any,
) -> dict[str, Any]:
    request = JudgeRequest.model_validate(
        {
            "machine": {**SET, **machine},
            "readings": [{"text": text}],
            "past": [{"text": one} for one in past],
        }
    )
    found: dict[str, Any] = judge_all(request, catalogue, norms_ or {})["readings"][0]
    return found


def case_of(
    engine: Engine, *texts: str, who: int = 1, outcome: str = "well", **changes: Any
) -> Case:
    body = {
        "machine": {**SET, **changes.pop("machine", {})},
        "outcome": outcome,
        "complaint": "no output" if outcome != "well" else None,
        "readings": [{"text": text} for text in texts],
        **changes,
    }
    report = Report.model_validate({k: v for k, v in body.items() if v is not None})
    made = derive(str(make_id()), report, engine.plain_reader, engine.knowledge).case
    return case_from_text(case_to_text(made), group=who, vouched=True)


# --- own past


def test_the_plate_comes_first_and_the_past_is_told_beside_it(catalogue: Catalogue) -> None:
    found = judged(catalogue, "238 V at the outlet", ("240 V at the outlet",))
    assert (found["against"], found["verdict"]) == ("plate", "within")
    assert found["compared"][0]["against"] == "own past"
    assert found["compared"][0]["verdict"] == "within"


def test_where_the_plate_is_silent_the_past_judges(catalogue: Catalogue) -> None:
    past = ("aux winding 101 V", "aux winding 99 V", "aux winding 100 V")
    low = judged(catalogue, "aux winding 70 V", past)
    assert (low["against"], low["verdict"]) == ("own past", "low")
    assert low["low"] < 99
    assert low["high"] > 101
    assert "100 V" in low["means"]
    assert judged(catalogue, "aux winding 98 V", past)["verdict"] == "within"
    assert judged(catalogue, "aux winding 130 V", past)["verdict"] == "high"
    assert judged(catalogue, "aux winding 98 V")["verdict"] == "unjudged"


def test_only_the_same_thing_in_the_same_state_is_compared(catalogue: Catalogue) -> None:
    now = "exhaust 400 C at full load"
    for other in ("exhaust 200 C", "exhaust 200 C no load", "coolant 80 C"):
        assert "compared" not in judged(catalogue, now, (other,))
    assert "compared" in judged(catalogue, now, ("exhaust 390 C at full load",))


def test_a_bound_is_neither_compared_nor_a_past(catalogue: Catalogue) -> None:
    assert "compared" not in judged(catalogue, "rotor OL", ("rotor 48 ohm",))
    assert "compared" not in judged(catalogue, "rotor 48 ohm", ("rotor OL",))


def test_a_past_taken_warm_is_moved_to_where_the_reading_was_taken(
    catalogue: Catalogue,
) -> None:
    """R2 = R1 (234.5 + T2)/(234.5 + T1): 48 ohm at 20 degrees C is 60.45 at 86."""
    warm = judged(catalogue, "rotor 60.4 ohm at 86 C", ("rotor 48 ohm at 20 C",))
    assert warm["compared"][0]["middle"] == pytest.approx(60.45, abs=0.01)
    assert warm["compared"][0]["verdict"] == "within"
    bare = judged(catalogue, "rotor 60.4 ohm", ("rotor 48 ohm at 20 C",))
    assert bare["compared"][0]["verdict"] == "high"


def test_scattered_pasts_leave_more_room_than_close_ones(catalogue: Catalogue) -> None:
    close = judged(catalogue, "aux winding 100 V", ("aux winding 100 V",) * 4)
    wide = judged(
        catalogue,
        "aux winding 100 V",
        ("aux winding 80 V", "aux winding 100 V", "aux winding 110 V", "aux winding 125 V"),
    )
    span = [
        found["compared"][0]["high"] - found["compared"][0]["low"] for found in (close, wide)
    ]
    assert span[0] < span[1]
    assert span[0] == pytest.approx(8)  # never closer than 4 per cent either way


# --- sets like it


def test_a_norm_is_the_median_and_the_median_distance() -> None:
    """Median and MAD of 1, 1, 2, 2, 4, 6, 9: 2 and 1 (textbook example of the MAD)."""
    assert norm_of([1, 1, 2, 2, 4, 6, 9], 7)[:2] == (2, 1)


def test_fewer_than_three_people_are_not_spoken_of(engine: Engine) -> None:
    few = [case_of(engine, "aux winding 100 V", who=who) for who in (1, 1, 2, 2)]
    assert norms(few) == {}
    enough = [*few, case_of(engine, "aux winding 106 V", who=3)]
    found = norms(enough)
    assert LEAST_PEOPLE == 3
    assert {(n.people, n.readings) for n in found.values()} == {(3, 5)}


def test_a_person_counts_once_however_many_readings(engine: Engine) -> None:
    many = [case_of(engine, "aux winding 150 V", who=1) for _ in range(20)]
    others = [case_of(engine, "aux winding 100 V", who=who) for who in (2, 3)]
    assert {norm.middle for norm in norms([*many, *others]).values()} == {100}


def test_the_order_of_the_cases_changes_nothing(engine: Engine) -> None:
    cases = [case_of(engine, f"aux winding {v} V", who=v) for v in (96, 100, 101, 108)]
    assert fit(cases).to_bytes() == fit(cases[::-1]).to_bytes()


def test_a_fit_with_norms_comes_back_from_its_bytes(engine: Engine) -> None:
    made = fit([case_of(engine, f"aux winding {v} V", who=v) for v in (96, 100, 101)])
    assert made.norms
    assert Fit.from_bytes(made.to_bytes()) == made


@pytest.mark.parametrize(
    ("changes", "readings"),
    [
        ({"outcome": "well"}, ("aux winding 100 V",)),
        ({"outcome": "repaired"}, ("aux winding 100 V after repair",)),
    ],
)
def test_good_readings_are_those_of_a_well_set_and_those_as_left(
    engine: Engine, changes: dict[str, Any], readings: tuple[str, ...]
) -> None:
    assert [r.value for r in case_of(engine, *readings, **changes).healthy] == [100]


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"outcome": "repaired"}, "aux winding 100 V"),
        ({"outcome": "not-repaired"}, "aux winding 100 V after repair"),
        ({"outcome": "get-by"}, "aux winding 100 V after repair"),
        ({"outcome": "repaired", "protection_defeated": True},
         "aux winding 100 V after repair"),
        ({"outcome": "repaired", "protection": {"left": "defeated"}},
         "aux winding 100 V after repair"),
        ({"outcome": "well"}, "180 V at the outlet"),
        ({"outcome": "well"}, "rotor OL"),
    ],
)  # fmt: skip
def test_no_reading_of_a_set_at_fault_is_called_good(
    engine: Engine, changes: dict[str, Any], text: str
) -> None:
    assert case_of(engine, text, **changes).healthy == ()


def test_sets_of_one_model_stand_before_sets_of_one_kind(
    catalogue: Catalogue, engine: Engine
) -> None:
    other = {"make": "Tern", "model": "T6"}
    third = {"make": "Moss", "model": "M7"}
    mine = [case_of(engine, f"aux winding {v} V", who=v) for v in (99, 100, 101)]
    kind = [
        case_of(engine, f"aux winding {v} V", who=v, machine=other) for v in (149, 150, 151)
    ]
    learned = dict(fit([*mine, *kind]).norms)
    own = judged(catalogue, "aux winding 100 V", norms_=learned)
    assert (own["against"], own["compared"][0]["middle"]) == ("sets like it", 100)
    nobody = judged(catalogue, "aux winding 100 V", norms_=learned, **third)
    assert nobody["compared"][0]["middle"] == 125
    assert nobody["compared"][0]["people"] == 6


def test_volts_are_compared_as_a_share_of_the_plate(
    catalogue: Catalogue, engine: Engine
) -> None:
    cases = [case_of(engine, f"{v} V at the outlet", who=v) for v in (238, 240, 242)]
    found = judged(catalogue, "241 V at the outlet", norms_=dict(fit(cases).norms))
    like = found["compared"][0]
    assert (found["against"], like["against"], like["middle"]) == ("plate", "sets like it", 240)


def test_sets_of_another_kind_say_nothing(catalogue: Catalogue, engine: Engine) -> None:
    cases = [case_of(engine, f"aux winding {v} V", who=v) for v in (99, 100, 101)]
    learned = dict(fit(cases).norms)
    for changes in ({"rated_volts": 400}, {"rated_hz": 50}, {"excitation": "capacitor",
                    "model": "7"}, {"excitation": "not-known", "model": None}):  # fmt: skip
        found = judged(catalogue, "aux winding 100 V", norms_=learned, **changes)
        assert "compared" not in found, changes


def test_keys_hold_no_more_than_model_kind_and_place() -> None:
    reading = Reading(quantity="voltage-ac", point="auxiliary-winding", value=100, unit="V")
    model, kind = keys_of(reading, Machine.model_validate(SET))
    assert model == "m:harrow:6d:240:60|voltage-ac@auxiliary-winding@@"
    assert kind == "k:diesel:brushed-avr:1:240:60:12|voltage-ac@auxiliary-winding@@"
    assert keys_of(reading, Machine()) == ()


def test_an_answer_says_what_a_verdict_rests_on(catalogue: Catalogue, engine: Engine) -> None:
    cases = [case_of(engine, f"aux winding {v} V", who=v) for v in (99, 100, 101)]
    knowing = engine.with_fit(fit(cases))
    question = Question.model_validate(
        {"machine": SET, "readings": [{"text": "aux winding 60 V"}, {"text": "60 hz"}]}
    )
    answer = knowing.answer(question, knowing.understand(question), (), 3)
    assert [(r.against, r.verdict) for r in answer.readings] == [
        ("sets like it", "low"), ("plate", "within"),
    ]  # fmt: skip
    ignorant = engine.answer(question, engine.understand(question), (), 0)
    assert ignorant.readings[0].verdict == "unjudged"
    assert '"compared":[]' not in ignorant.model_dump_json(exclude_unset=True)
