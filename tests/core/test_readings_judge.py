"""Verdicts: low, within, high, and unjudged only where there is no band."""

import itertools
from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.readings.judge import JudgedReading, judge
from mendpool.core.readings.parse import understand
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Reading, ReadingGiven

HOUSE_SET = {
    "fuel": "diesel", "excitation": "brushed-avr", "cooling": "liquid", "phases": 1,
    "duty": "standby", "rated_kva": 6.5, "rated_volts": 240, "rated_hz": 60, "rated_rpm": 1800,
}  # fmt: skip


def verdict(catalogue: Catalogue, text: str, **machine: Any) -> JudgedReading:
    plate = Machine.model_validate(machine)
    reading = understand(
        ReadingGiven(text=text), catalogue.vocabulary, plate, catalogue.reading_words
    )
    return judge(reading, plate, catalogue.limits)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # Residual on a 230 V class set: under 1 low, 1 to 10 within, over 10 high.
        ("residual 0.9 V", "low"), ("residual 1 V", "within"), ("residual 3.1 V", "within"),
        ("residual 10 V", "within"), ("residual 10.1 V", "high"), ("residual under 1 V", "low"),
        # Class G2 for a standby set: 2.5 per cent of 240 V, droop 5 per cent of 60 Hz.
        ("238 V at the outlet", "within"), ("233 V at the outlet", "low"),
        ("247 V at the outlet", "high"), ("118 V at the outlet", "within"),
        ("63 hz no load", "within"), ("63.1 hz no load", "high"), ("57 hz", "low"),
        ("1890 rpm no load", "within"), ("1700 rpm", "low"), ("150 rpm cranking", "low"),
        # A small 12 V set cranking: 9.6 the least; double for 24 V.
        ("battery 9.5 V cranking", "low"), ("battery 10.6 V cranking", "within"),
        ("battery 19.1 V cranking", "low"), ("battery 21 V cranking", "within"),
        ("battery overnight 12.3 V", "low"), ("battery overnight 12.6 V", "within"),
        ("charging 13.1 V", "low"), ("charging 14.2 V", "within"), ("charging 28.2 V",
        "within"),
        ("charging 15 V", "high"), ("charging 30 V", "high"),
        ("ripple 0.4 V", "within"), ("ripple 0.6 V", "high"),
        ("joint drop 90 mV", "within"), ("joint drop 110 mV", "high"),
        ("whole loop drop 0.7 V", "within"), ("negative side drop 0.35 V", "high"),
        ("pin drop 60 mV", "high"),
        ("solenoid 8 V cranking", "low"), ("solenoid 9 V cranking", "within"),
        ("rotor 48 ohm", "within"), ("rotor 2 ohm", "low"), ("rotor OL", "high"),
        ("exciter 10.7 ohm", "within"), ("glow plug 1 ohm", "within"), ("glow plug OL", "high"),
        ("glow plug 3 A", "low"), ("hold coil 14 ohm", "within"), ("hold coil 2 ohm", "low"),
        ("stator to earth 6 Mohm", "within"), ("stator to earth 3 Mohm", "low"),
        ("stator to earth 0.5 Mohm", "low"), ("stator to earth OL", "within"),
        ("capacitor marked 30 uF reads 28 uF", "within"),
        ("capacitor marked 30 uF reads 22 uF", "low"), ("capacitor 0.2 uF", "low"),
        ("oil pressure 25 kPa", "low"), ("oil pressure 300 kPa", "within"),
        ("compression 290 psi", "low"), ("compression 310 psi", "within"),
        ("vacuum at the pump inlet 3 in hg", "within"), ("vacuum at the pump inlet 9 in hg",
        "high"),
        ("injector pops at 135 bar", "within"), ("injector pops at 90 bar", "low"),
        ("gas pressure 11 in w.c.", "within"), ("gas pressure 10 kPa", "high"),
        ("coolant 95 C", "within"), ("coolant 225 F", "high"), ("connector 90 C", "high"),
        ("alternator body 70 C", "within"), ("ambient 45 C", "high"),
        ("brush 4 mm", "low"), ("brush 8 mm", "within"),
        ("specific gravity 1.265", "within"), ("specific gravity 1180", "low"),
        ("mains 232 V", "within"), ("mains 190 V", "low"), ("mains 260 V", "high"),
        ("frame to earth 115 V", "high"), ("frame to earth 3 V", "within"),
        ("earth leakage 12 mA", "high"), ("draws 26 A", "within"), ("draws 30 A", "high"),
        ("load 5 kW", "within"), ("load 7 kW", "high"),
        ("charging coil 30 V ac", "within"), ("earth rod 20 ohm", "within"),
        ("parasitic drain 80 mA", "high"), ("oil sender 35 ohm", "within"),
        ("temp sender 4k7", "within"), ("lift pump 5 psi", "within"), ("lift pump 1 psi",
        "low"),
    ],
)  # fmt: skip
def test_a_house_set_is_judged(catalogue: Catalogue, text: str, expected: str) -> None:
    judged = verdict(catalogue, text, **HOUSE_SET).judged
    assert judged.verdict == expected, judged.means
    assert judged.means
    assert judged.source
    assert judged.said


@pytest.mark.parametrize(
    ("text", "missing"),
    [
        ("capacitor 22 uF", "printed"), ("field 12 V dc", "plate"), ("aux winding 80 V",
        "mark"),
        ("exhaust 400 C", "manual"), ("idle 1200 rpm", "manual"), ("starter 200 A", "figure"),
        ("drops to 30 A on motor start draw", "plate"),
    ],
)  # fmt: skip
def test_where_there_is_no_band_the_missing_figure_is_named(
    catalogue: Catalogue, text: str, missing: str
) -> None:
    judged = verdict(catalogue, text, **HOUSE_SET).judged
    assert (judged.verdict, judged.low, judged.high) == ("unjudged", None, None)
    assert missing in judged.means


def test_an_unknown_plate_gets_the_widest_band_and_is_told(catalogue: Catalogue) -> None:
    judged = verdict(catalogue, "235 V at the outlet").judged
    assert (judged.verdict, judged.low, judged.high) == ("within", 198, 264)
    assert "widest band" in judged.means
    assert "rated volts" in judged.means
    small = verdict(catalogue, "210 V at the outlet", rated_volts=230).judged
    assert (small.low, small.high) == (207, 253)
    assert "rated kVA" in small.means


def test_the_class_of_the_plate_stands_over_the_duty(catalogue: Catalogue) -> None:
    loose = verdict(catalogue, "247 V at the outlet", **{**HOUSE_SET, "class": "G1"})
    assert loose.judged.verdict == "within"


@pytest.mark.parametrize(("rated", "low", "high"), [(115, 0.5, 5), (230, 1, 10), (460, 2, 20)])
def test_residual_is_scaled_to_the_rated_volts(
    catalogue: Catalogue, rated: float, low: float, high: float
) -> None:
    judged = verdict(catalogue, "residual 3 V", rated_volts=rated).judged
    assert (judged.low, judged.high) == (low, high)


@pytest.mark.parametrize("excitation", ["inverter", "brushless-pmg"])
def test_a_set_that_needs_no_residual_is_not_judged_by_it(
    catalogue: Catalogue, excitation: str
) -> None:
    judged = verdict(catalogue, "residual 0.2 V", excitation=excitation, rated_volts=230)
    assert judged.judged.verdict == "unjudged"
    assert judged.shows == ()


@pytest.mark.parametrize(
    ("plate", "low", "high"),
    [
        ({"rated_volts": 240, "rated_hz": 60, "phases": 1, "duty": "portable",
         "rated_kva": 5}, 108, 132),
        ({"rated_volts": 400, "rated_hz": 50, "phases": 3,
         "duty": "standby"}, 225.1666, 236.7136),
        ({"rated_volts": 208, "rated_hz": 60, "phases": 3, "class": "G1",
         "rated_kw": 20}, 114.0844, 126.0933),
    ],
)  # fmt: skip
def test_a_leg_is_half_or_over_the_root_of_three(
    catalogue: Catalogue, plate: dict[str, Any], low: float, high: float
) -> None:
    judged = verdict(catalogue, "leg 1 118 V", **plate).judged
    assert (judged.low, judged.high) == (low, high)


def test_an_outlet_at_half_the_volts_of_a_split_set_is_one_leg(catalogue: Catalogue) -> None:
    split = verdict(catalogue, "118 V at the outlet", **HOUSE_SET)
    assert split.judged.verdict == "within"
    assert "one leg" in split.judged.means
    assert split.shows == ()
    three = verdict(
        catalogue, "231 V at the outlet", phases=3, rated_volts=400, rated_hz=50, duty="prime"
    )
    assert three.judged.verdict == "within"


def test_the_same_half_on_a_230_volt_50_hertz_set_is_low(catalogue: Catalogue) -> None:
    judged = verdict(catalogue, "118 V at the outlet", phases=1, rated_volts=230, rated_hz=50)
    assert judged.judged.verdict == "low"
    assert judged.shows == ("low-voltage",)


def test_next_to_nothing_shows_no_output_and_less_shows_low_voltage(
    catalogue: Catalogue,
) -> None:
    dead = verdict(catalogue, "4 V at the outlet", **HOUSE_SET)
    assert (dead.shows, dead.dead) == (("no-output",), True)
    low = verdict(catalogue, "190 V at the outlet", **HOUSE_SET)
    assert (low.shows, low.dead) == (("low-voltage",), False)
    assert "no-output" in low.rules_out
    right = verdict(catalogue, "240 V at the outlet", **HOUSE_SET)
    assert set(right.rules_out) == {"no-output", "low-voltage", "high-voltage"}


def test_a_reading_as_left_shows_nothing(catalogue: Catalogue) -> None:
    left = verdict(catalogue, "after repair 4 V at the outlet", **HOUSE_SET)
    assert left.judged.stage == "left"
    assert (left.shows, left.rules_out) == ((), ())


@pytest.mark.parametrize(
    ("text", "topic"),
    [
        ("frame to earth 60 V", "earth-fault"), ("72 hz", "overspeed"), ("62 hz", None),
        ("leg 1 150 V", "lost-neutral"), ("coolant 99 C", "coolant-burn"),
        ("stator to earth 0.8 Mohm", "earth-fault"), ("charging 15.5 V", "battery-gas"),
        ("set off, 228 V at the outlet", "back-feed"), ("injector pops at 120 bar",
        "injection-pressure"),
    ],
)  # fmt: skip
def test_a_dangerous_reading_calls_for_its_caution(
    catalogue: Catalogue, text: str, topic: str | None
) -> None:
    assert verdict(catalogue, text, **HOUSE_SET).danger == topic


def test_a_cold_winding_moves_its_band(catalogue: Catalogue) -> None:
    """CK-25, TM 9-6115-671-14: 29.23 ohm at 25 degrees C reads 26.98 at 5."""
    plate = {"excitation": "brushless-avr"}
    at_20 = verdict(catalogue, "exciter 29 ohm at 20 C", **plate).judged
    at_5 = verdict(catalogue, "exciter 29 ohm at 5 C", **plate).judged
    assert (at_20.low, at_20.high) == (8, 30)
    assert at_5.high == pytest.approx(30 * (234.5 + 5) / (234.5 + 20), abs=1e-3)
    assert at_5.verdict == "high"
    assert "moved" in at_5.means


def test_compression_is_asked_less_of_high_up(catalogue: Catalogue) -> None:
    """CK-16: by air density, which is 0.86 at 1524 m."""
    at_sea = verdict(catalogue, "compression 280 psi", fuel="diesel").judged
    high_up = verdict(catalogue, "compression 280 psi", fuel="diesel", altitude_m=1524).judged
    assert (at_sea.verdict, high_up.verdict) == ("low", "within")


def test_a_swinging_reading_is_told(catalogue: Catalogue) -> None:
    wide = verdict(catalogue, "57 to 63 hz", **HOUSE_SET)
    assert wide.judged.verdict == "within"
    assert "hunting" in wide.shows
    assert "57 Hz" in wide.judged.means
    assert verdict(catalogue, "59.9 to 60.1 hz", **HOUSE_SET).shows == ()


def test_a_brush_on_a_brushless_set_is_flagged_not_refused(catalogue: Catalogue) -> None:
    judged = verdict(catalogue, "brush 6 mm", excitation="brushless-avr").judged
    assert judged.verdict == "unjudged"
    assert "no brushes" in judged.means


def test_confidence_is_said_where_a_figure_is_not_published(catalogue: Catalogue) -> None:
    assert "(from memory)" in verdict(catalogue, "frame to earth 5 V").judged.source
    assert "common practice" in verdict(catalogue, "residual 3 V").judged.source
    for limit in catalogue.limits:
        assert limit.source


def test_what_is_kept_of_the_reading(catalogue: Catalogue) -> None:
    reading = Reading(
        quantity="voltage-ac", point="output", condition="no-load", value=238, unit="V",
        min=236.2, max=239.5, minutes=20, stage="found", which=2, said="as read",
    )  # fmt: skip
    judged = judge(reading, Machine.model_validate(HOUSE_SET), catalogue.limits).judged
    for field in Reading.model_fields:
        assert getattr(judged, field) == getattr(reading, field)


def test_every_place_on_every_kind_of_set_is_judged_or_says_what_is_missing(
    catalogue: Catalogue,
) -> None:
    """`unjudged` comes from an entry that names the missing figure, never from a gap."""
    kinds = [
        Machine.model_validate(kind)
        for kind in (
            {}, HOUSE_SET, {"duty": "portable", "excitation": "inverter", "fuel": "petrol"},
            {"phases": 3, "rated_volts": 400, "rated_hz": 50, "class": "G4", "fuel": "diesel"},
            {"excitation": "capacitor", "duty": "prime", "rated_hz": 50, "fuel": "lpg"},
        )
    ]  # fmt: skip
    conditions = (None, *catalogue.vocabulary.conditions)
    for code, quantity in catalogue.vocabulary.readings.items():
        for point, machine, condition in itertools.product(quantity.points, kinds, conditions):
            reading = Reading(
                quantity=code, point=point, condition=condition, value=1.2, unit=quantity.unit
            )
            judged = judge(reading, machine, catalogue.limits).judged
            assert judged.source, (code, point, condition)
            if judged.verdict == "unjudged":
                assert "No band for this" not in judged.means


def test_a_bound_is_shaded_by_the_side_it_lies_on(catalogue: Catalogue) -> None:
    means = verdict(catalogue, "stator insulation under 1 meg").judged.means
    assert "do not run it" in means
    assert "1 to 5" not in means
