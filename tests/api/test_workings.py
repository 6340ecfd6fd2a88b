"""Calculations of the trade over HTTP: what is taken, what comes back, what is refused."""

from typing import Any

import pytest
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]

from tests.api.pools import Pool

PUMP = {"motor_hp": "3 hp", "code_letter": "H", "volts": 230, "set_kva": 15, "set_kw": 12}


def work(pool: Pool, name: str, **given: Any) -> Any:
    return pool.client("alder").post(f"/v1/workings/{name}", json=given)


@pytest.fixture(scope="module")
def listed(pool: Pool) -> list[dict[str, Any]]:
    answer = pool.client("alder").get("/v1/workings")
    assert answer.status_code == 200
    found: list[dict[str, Any]] = answer.json()["items"]
    return found


def test_every_listed_example_can_be_sent_as_it_stands(
    pool: Pool, listed: list[dict[str, Any]]
) -> None:
    assert len(listed) >= 11
    for entry in listed:
        answer = work(pool, entry["name"], **entry["example"])
        assert answer.status_code == 200, answer.text
        body = answer.json()
        assert body["says"]
        assert body["formula"]
        assert body["sources"]
        assert next(iter(body)) == "cautions"


def test_an_answer_fits_its_schema_and_a_body_its_own(
    pool: Pool, listed: list[dict[str, Any]]
) -> None:
    document = pool.client().get("/openapi.json").json()
    known = {"components": document["components"]}
    answers = Draft202012Validator({"$ref": "#/components/schemas/Worked", **known})
    bodies = Draft202012Validator({"$ref": "#/components/schemas/WorkingInputs", **known})
    for entry in listed:
        bodies.validate(entry["example"])
        answers.validate(work(pool, entry["name"], **entry["example"]).json())
    assert not bodies.is_valid({"colour": "red"})


def test_numbers_and_text_with_a_unit_are_one(pool: Pool) -> None:
    text = work(pool, "pump-start", **PUMP)
    number = work(pool, "pump-start", **{**PUMP, "motor_hp": 3, "set_kva": "15 kVA"})
    assert text.json() == number.json()
    metric = work(pool, "cable", amps="20 A", length_m=30.48, volts=120, size="12 AWG")
    feet = work(pool, "cable", amps=20, length_m="100 ft", volts="120 V", size="12 AWG")
    assert metric.json()["answer"] == feet.json()["answer"]


def test_a_refused_input_is_a_problem_with_its_place(pool: Pool) -> None:
    answer = work(pool, "pump-start", **{**PUMP, "motor_hpp": 3, "set_kva": "15 kW"})
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    faults = {fault["at"]: fault for fault in answer.json()["errors"]}
    assert faults["/motor_hpp"]["did_you_mean"] == "motor_hp"
    assert faults["/set_kva"]["did_you_mean"] == "kVA"


def test_an_unknown_working_is_not_found_and_the_near_one_is_named(pool: Pool) -> None:
    answer = work(pool, "pump-strat", **PUMP)
    assert answer.status_code == 404
    assert answer.json()["errors"] == [
        {"at": "/name", "says": "no such working; see GET /v1/workings",
         "did_you_mean": "pump-start"},
    ]  # fmt: skip


def test_a_working_needs_a_member(pool: Pool) -> None:
    assert pool.client().post("/v1/workings/power", json={}).status_code == 401
    assert pool.client().get("/v1/workings").status_code == 401


def test_what_can_hurt_stands_first(pool: Pool) -> None:
    wet = work(pool, "insulation", megohm=0.5, at_degC=40).json()
    assert wet["cautions"][0]["code"] == "earth-fault"
    assert {"code", "says", "source"} == set(wet["cautions"][0])
    hot = work(pool, "connector-pin", amps=12, rating_amps=10, drop_volts="0.3 V").json()
    assert hot["cautions"][0]["code"] == "hot-surface"
    assert "joint" in hot["cautions"][0]["says"]


def test_a_dangerous_reading_puts_its_caution_first_in_the_judge_answer(pool: Pool) -> None:
    def judged(*texts: str) -> dict[str, Any]:
        body = {
            "machine": {"fuel": "diesel", "rated_volts": 240, "rated_hz": 60, "phases": 1},
            "readings": [{"text": text} for text in texts],
        }
        found: dict[str, Any] = (
            pool.client("alder").post("/v1/readings/judge", json=body).json()
        )
        return found

    assert judged("59.8 hz")["cautions"] == []
    frame = judged("59.8 hz", "frame to earth 115 V")
    assert next(iter(frame)) == "cautions"
    assert frame["cautions"][0]["code"] == "earth-fault"
    lost = judged("leg 1 152 V", "leg 2 91 V")
    assert lost["cautions"][0]["code"] == "lost-neutral"
    assert judged("70 hz")["cautions"][0]["code"] == "overspeed"


def test_a_reading_is_judged_by_the_plate_then_by_its_own_past(pool: Pool) -> None:
    body = {
        "machine": {"fuel": "diesel", "rated_volts": 240},
        "readings": [
            {"text": "238 V at the outlet"},
            {"text": "aux winding 80 V"},
            {"text": "exhaust 400 C"},
        ],
        "past": [{"text": "aux winding 101 V"}, {"text": "aux winding 99 V"}],
    }
    plate, past, nothing = (
        pool.client("alder").post("/v1/readings/judge", json=body).json()["readings"]
    )
    assert (plate["against"], plate["verdict"]) == ("plate", "within")
    assert (past["against"], past["verdict"]) == ("own past", "low")
    assert past["compared"][0]["middle"] == 100
    assert "against" not in nothing
    assert nothing["verdict"] == "unjudged"


def test_a_past_reading_that_is_not_understood_is_refused_with_its_place(pool: Pool) -> None:
    body = {"readings": [{"text": "59.8 hz"}], "past": [{"text": "60 hz"}, {"text": "a cat"}]}
    answer = pool.client("alder").post("/v1/readings/judge", json=body)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["at"].startswith("/past/1")


def test_three_peoples_good_sets_judge_a_fourth(fresh: Pool) -> None:
    machine = {"make": "Harrow", "model": "6D", "fuel": "diesel", "excitation": "brushed-avr",
               "phases": 1, "rated_kva": 6.5, "rated_volts": 240, "rated_hz": 60}  # fmt: skip
    ask = {"machine": machine, "readings": [{"text": "aux winding 60 V"}]}

    def judged() -> dict[str, Any]:
        answer = fresh.client("alder").post("/v1/readings/judge", json=ask)
        found: dict[str, Any] = answer.json()["readings"][0]
        return found

    fresh.join("rowan")
    for name, volts in (("steward", 99), ("alder", 100), ("birch", 103), ("rowan", 101)):
        assert judged()["verdict"] == "unjudged" or name == "rowan"
        well = {"machine": machine, "outcome": "well",
                "readings": [{"text": f"aux winding {volts} V"}]}  # fmt: skip
        fresh.put(well, name)
        fresh.service.place.learned.fit_if_due(fresh.time[0], at_once=True)
    found = judged()
    assert (found["against"], found["verdict"]) == ("sets like it", "low")
    compared = found["compared"][0]
    assert (compared["people"], compared["middle"]) == (4, 100.5)
    assert "4 people" in compared["says"]
