"""What people write is understood, or refused with the reason."""

from pathlib import Path
from typing import Any

import pytest
import yaml

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.errors import RefusedInput
from mendpool.core.readings.find import find_readings
from mendpool.core.readings.parse import understand
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Reading, ReadingGiven

PHRASES = yaml.safe_load((Path(__file__).parent / "reading_phrases.yaml").read_text("utf-8"))
EXTRAS = {"condition": "condition", "sign": "sign", "which": "which", "min": "min",
 "max": "max",
          "mark": "mark", "at": "at_degC", "stage": "stage", "minutes": "minutes"}  # fmt: skip


def read(catalogue: Catalogue, machine: Machine | None = None, **given: Any) -> Reading:
    return understand(
        ReadingGiven(**given),
        catalogue.vocabulary,
        machine or Machine(),
        catalogue.reading_words,
    )


def why_refused(catalogue: Catalogue, **given: Any) -> tuple[str, str, str | None]:
    with pytest.raises(RefusedInput) as refusal:
        read(catalogue, **given)
    complaint = refusal.value.errors[0]
    return complaint.at, complaint.says, complaint.did_you_mean


@pytest.mark.parametrize("row", PHRASES["understood"], ids=lambda row: row["say"])
def test_a_phrase_is_understood(catalogue: Catalogue, row: dict[str, Any]) -> None:
    reading = read(catalogue, text=row["say"])
    quantity, point, value = row["is"]
    assert (reading.quantity, reading.point) == (quantity, point)
    assert reading.value == pytest.approx(value, rel=1e-7)
    assert reading.unit == catalogue.vocabulary.readings[quantity].unit
    for written, field in EXTRAS.items():
        if written in row:
            assert getattr(reading, field) == row[written], field
        elif field not in {"condition", "which"}:
            assert getattr(reading, field) is None, field


def test_there_are_phrases_for_every_point(catalogue: Catalogue) -> None:
    rows = PHRASES["understood"]
    assert len(rows) >= 120
    said = {tuple(row["is"][:2]) for row in rows}
    quantities = {quantity for quantity, _ in said}
    assert quantities == set(catalogue.vocabulary.readings)


@pytest.mark.parametrize("row", PHRASES["refused"], ids=lambda row: row["say"])
def test_what_is_not_understood_is_refused_with_the_reason(
    catalogue: Catalogue, row: dict[str, Any]
) -> None:
    at, says, _ = why_refused(catalogue, text=row["say"])
    assert row["because"] in says
    assert at.startswith("/")


@pytest.mark.parametrize("row", PHRASES["found"], ids=lambda row: row["say"])
def test_readings_are_found_in_a_complaint(catalogue: Catalogue, row: dict[str, Any]) -> None:
    found = find_readings(row["say"], catalogue.vocabulary, Machine(), catalogue.reading_words)
    assert [(f.reading.quantity, f.reading.point) for f in found] == [
        (quantity, point) for quantity, point, _ in row["are"]
    ]
    for one, (_, _, value) in zip(found, row["are"], strict=True):
        assert one.reading.value == pytest.approx(value, rel=1e-7)
        assert row["say"][one.start : one.end] == one.text


def test_what_is_found_without_unit_or_place_says_what_it_was_taken_for(
    catalogue: Catalogue,
) -> None:
    for say, taken in (
        ("battery 11.8", "taken as V"),
        ("frequency 46 on load", "taken as Hz"),
        ("only 190 volts", "taken at the output"),
        ("temp 105C", "taken at the coolant"),
    ):
        (found,) = find_readings(say, catalogue.vocabulary, Machine(), catalogue.reading_words)
        assert taken in found.reading.said, say


def test_a_value_may_be_text(catalogue: Catalogue) -> None:
    assert read(catalogue, value="59,6 hz").value == 59.6
    given = read(catalogue, quantity="resistance", point="rotor", value="1.2 k")
    assert (given.value, given.unit) == (1200, "ohm")
    assert read(catalogue, value="under 1", quantity="residual-voltage").sign == "under"


def test_what_was_assumed_is_said(catalogue: Catalogue) -> None:
    said = read(catalogue, quantity="voltage-ac", value=238).said
    assert "taken at the output" in said
    assert "taken as V" in said
    assert "from 40 psi" in read(catalogue, text="oil pressure 40 psi").said
    assert "no unit was given: taken as V" in read(catalogue, text="battery 11.9").said
    assert "taken at the output" in read(catalogue, text="volts 3").said
    assert "taken at the coolant" in read(catalogue, text="temp 105C").said
    assert "open line" in read(catalogue, text="OL across the rotor").said


def test_m_is_milli_and_mega_as_typed_but_on_insulation(catalogue: Catalogue) -> None:
    where: dict[str, Any] = {"quantity": "resistance", "point": "stator"}
    assert read(catalogue, value=800, unit="mohm", **where).value == 0.8
    assert read(catalogue, value=2, unit="Mohm", **where).value == 2e6
    insulation: dict[str, Any] = {"quantity": "insulation-resistance", "point": "stator"}
    for unit in ("mohm", "Mohm", "MΩ", "m", "M", "meg"):
        assert read(catalogue, value=8, unit=unit, **insulation).value == 8


@pytest.mark.parametrize(
    ("given", "at", "meant"),
    [
        ({"quantity": "voltage", "value": 3}, "/quantity", "voltage-ac"),
        ({"quantity": "resistance", "point": "roter", "value": 3}, "/point", "rotor"),
        ({"quantity": "resistance", "point": "rotor", "value": 3, "unit": "V"}, "/unit", "ohm"),
        ({"quantity": "voltage-ac", "value": 3, "unit": "vlt"}, "/unit", "V"),
        ({"quantity": "voltage-ac", "value": 3, "unit": "vdc"}, "/unit", "V"),
        ({"quantity": "voltage-ac", "value": "1 MV"}, "/value", "mV"),
        ({"quantity": "pressure", "point": "oil", "value": 40}, "/unit", "kPa"),
        (
            {"quantity": "voltage-ac", "value": 3, "condition": "no-lode"},
            "/condition",
            "no-load",
        ),
        ({"point": "rotor", "value": 3, "unit": "Hz"}, "/unit", None),
        ({"quantity": "voltage-ac", "value": "OL"}, "/value", None),
        ({"value": "230 V", "unit": "mV", "quantity": "voltage-ac"}, "/unit", None),
        ({"value": 230, "min": 240, "quantity": "voltage-ac"}, "/value", None),
        ({"value": 230, "min": 250, "max": 240, "quantity": "voltage-ac"}, "/min", None),
        ({"value": 3, "text": "residual 4 V", "unit": "V"}, "/value", None),
        ({"value": 22, "mark": -30, "quantity": "capacitance"}, "/mark", None),
        ({"quantity": "residual-voltage"}, "/value", None),
    ],
)
def test_a_refusal_says_where_and_what_was_meant(
    catalogue: Catalogue, given: dict[str, Any], at: str, meant: str | None
) -> None:
    place, says, near = why_refused(catalogue, **given)
    assert (place, near) == (at, meant)
    assert says


def test_a_battery_at_three_times_its_plate_is_refused(catalogue: Catalogue) -> None:
    with pytest.raises(RefusedInput, match="by the plate"):
        read(catalogue, Machine(start_volts=12), text="battery 42 V")
    assert read(catalogue, Machine(start_volts=24), text="battery 42 V").value == 42


def test_numbers_too_large_for_anything_are_refused_not_crashed_on(
    catalogue: Catalogue,
) -> None:
    for value in ("1e999 V", "1e30 MV", "9" * 200 + " V"):
        why_refused(catalogue, value=value, quantity="voltage-ac")
    why_refused(catalogue, value=1e308, unit="MV", quantity="voltage-ac")


def test_a_range_gives_its_middle_and_its_ends(catalogue: Catalogue) -> None:
    reading = read(catalogue, value="500 mV to 1 V", quantity="residual-voltage")
    assert (reading.value, reading.min, reading.max) == (0.75, 0.5, 1.0)
    bare = read(catalogue, min=3, max=5, quantity="residual-voltage")
    assert (bare.value, bare.min, bare.max) == (4, 3, 5)


def test_a_lowest_and_a_highest_are_a_range(catalogue: Catalogue) -> None:
    for text in ("outlet min 210 max 255 V", "min 210 V, max 255 V at the outlet"):
        reading = read(catalogue, text=text)
        assert (reading.min, reading.value, reading.max) == (210, 232.5, 255)


@pytest.mark.parametrize(
    "text",
    ["hertz 62 no load and 59 full load", "240 and 120 V at the outlet", "62 hz then 58"],
)
def test_a_second_number_is_not_dropped_in_silence(catalogue: Catalogue, text: str) -> None:
    assert "more than one number" in why_refused(catalogue, text=text)[1]


def test_a_count_after_and_is_no_second_reading(catalogue: Catalogue) -> None:
    assert read(catalogue, text="60 hz and 3 lamps on").value == 60


def test_a_unit_that_the_named_quantity_cannot_have_is_refused(catalogue: Catalogue) -> None:
    at, says, meant = why_refused(catalogue, text="frequency 50 V")
    assert (at, meant) == ("/unit", "Hz")
    assert "voltage" in says


def test_an_open_line_is_said_in_megohms(catalogue: Catalogue) -> None:
    assert "over 50 Mohm" in read(catalogue, text="rotor OL").said
