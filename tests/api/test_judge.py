"""Readings judged on their own: one entry each, in order, and what they say together."""

from typing import Any

import pytest

from tests.api.pools import Pool

SIXTY = {"fuel": "diesel", "excitation": "brushed-avr", "rated_volts": 240, "rated_hz": 60}


def judge(pool: Pool, readings: list[dict[str, Any]], **machine: Any) -> dict[str, Any]:
    body = {"machine": {**SIXTY, **machine}, "readings": readings}
    answer = pool.client("alder").post("/v1/readings/judge", json=body)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_each_reading_has_one_entry_in_order(pool: Pool) -> None:
    given = [
        {"quantity": "frequency", "point": "output", "value": "59,6 hz"},
        {"text": "residual 3 volts with the AVR unplugged"},
        {"quantity": "resistance", "point": "rotor", "value": "1.2 k"},
    ]
    answer = judge(pool, given)
    assert set(answer) == {"cautions", "readings", "together"}
    seen = [(r["quantity"], r["point"], r["value"], r["unit"]) for r in answer["readings"]]
    assert seen == [
        ("frequency", "output", 59.6, "Hz"),
        ("residual-voltage", "output", 3, "V"),
        ("resistance", "rotor", 1200, "ohm"),
    ]
    for reading in answer["readings"]:
        assert {"verdict", "low", "high", "source", "means", "said"} <= set(reading)
        assert reading["verdict"] in {"low", "within", "high", "unjudged"}
        assert reading["means"]
        assert reading["said"]


@pytest.mark.parametrize(
    ("volts", "verdict"),
    [(0.9, "low"), (1, "within"), (3, "within"), (10, "within"), (11, "high")],
)
def test_residual_is_low_under_1_and_high_over_10_volts(
    pool: Pool, volts: float, verdict: str
) -> None:
    reading = {"quantity": "residual-voltage", "point": "output", "value": volts, "unit": "V"}
    assert judge(pool, [reading])["readings"][0]["verdict"] == verdict


def test_a_range_gives_its_middle_and_both_ends(pool: Pool) -> None:
    reading = {"quantity": "voltage-ac", "point": "output", "value": "236-240", "unit": "V"}
    found = judge(pool, [reading])["readings"][0]
    assert (found["value"], found["min"], found["max"]) == (238, 236, 240)


def test_if_any_is_refused_all_are_with_one_error_each(pool: Pool) -> None:
    readings = [
        {"quantity": "frequency", "point": "output", "value": 60, "unit": "Hz"},
        {"quantity": "frequency", "point": "output", "value": 60, "unit": "ohm"},
        {"text": "the cat sat on it"},
    ]
    body = {"machine": SIXTY, "readings": readings}
    answer = pool.client("alder").post("/v1/readings/judge", json=body)
    assert answer.status_code == 422
    places = [fault["at"].split("/")[2] for fault in answer.json()["errors"]]
    assert places == ["1", "2"]


def test_no_reading_and_more_than_a_hundred_are_refused(pool: Pool) -> None:
    reading = {"quantity": "frequency", "point": "output", "value": 60, "unit": "Hz"}
    assert len(judge(pool, [reading] * 100)["readings"]) == 100
    for readings in ([], [reading] * 101):
        body = {"readings": readings}
        answer = pool.client("alder").post("/v1/readings/judge", json=body)
        assert (answer.status_code, answer.json()["errors"][0]["at"]) == (422, "/readings")


def test_what_they_say_together_names_their_places(pool: Pool) -> None:
    readings = [
        {"quantity": "voltage-ac", "point": "leg-1", "value": 150, "unit": "V"},
        {"quantity": "voltage-ac", "point": "leg-2", "value": 90, "unit": "V"},
    ]
    together = judge(pool, readings, phases=1)["together"]
    assert together, "one leg up and one down is a lost neutral until proved otherwise"
    assert together[0]["readings"] == [0, 1]
    assert together[0]["says"]
    assert "lost-neutral" in together[0]["cautions"]


def test_the_same_readings_give_the_same_bytes(pool: Pool) -> None:
    body = {"machine": SIXTY, "readings": [{"text": "61 hz no load"}]}
    sent = [pool.client("alder").post("/v1/readings/judge", json=body).content for _ in "ab"]
    assert sent[0] == sent[1]


def test_a_list_of_the_wrong_things_is_told_plainly_and_once(pool: Pool) -> None:
    for readings, at in ((["60 hz"], "/readings/0"), ([], "/readings")):
        answer = pool.client("alder").post("/v1/readings/judge", json={"readings": readings})
        assert answer.status_code == 422
        errors = answer.json()["errors"]
        assert [error["at"] for error in errors] == [at]
        assert not {"tuple", "dictionary", "instance"} & set(errors[0]["says"].split())
