"""Published values through the named workings, as a member would ask for them."""

from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.workings.registry import work
from mendpool.core.workings.worked import Figure, Worked


def done(catalogue: Catalogue, name: str, **given: Any) -> Worked:
    return work(name, given, catalogue)


def also(worked: Worked, name: str) -> Figure:
    return next(figure for figure in worked.also if figure.name == name)


@pytest.mark.parametrize(
    ("name", "given", "expected", "tolerance"),
    [
        # CK-18, NEETS module 5 (PUB)
        ("speed", {"poles": 2, "rpm": 3600}, 60, 0),
        ("speed", {"poles": 6, "rpm": 500}, 25, 0),
        ("speed", {"poles": 12, "rpm": 4000}, 400, 0),
        # a textbook's own, CK-19 (PUB)
        ("speed", {"poles": 8, "rpm": 750}, 50, 0),
        ("speed", {"poles": 6, "hertz": 60}, 1200, 0),
        ("speed", {"rpm": 1500, "hertz": 50}, 4, 0),
        # CK-20, from the definition of ISO 8528-5 (DER)
        ("speed", {"no_load_hertz": 62.4, "full_load_hertz": 60}, 4.0, 1e-9),
        # by a textbook's formula, CK-22 (DER)
        ("power", {"kva": 10, "volts": 400, "phases": 3}, 14.43, 0.01),
        ("power", {"kw": 5, "power_factor": 0.8, "volts": 240}, 26.0, 0.05),
        ("power", {"kw": 20, "power_factor": 0.8, "volts": 480, "phases": 3}, 30.1, 0.05),
        # CK-25, TM 9-6115-671-14 (PUB): 29.23 ohm at 25 degrees C is 26.98 at 5
        ("winding-resistance", {"ohms": 26.98, "at_degC": 5}, 28.67, 0.005),
        ("winding-resistance", {"ohms": 29.23, "at_degC": 25}, 28.67, 0.005),
        # CK-11, IEEE 43, 6.3 (DER)
        ("insulation", {"megohm": 40, "at_degC": 20}, 10, 1e-9),
        ("insulation", {"megohm": 8, "at_degC": 20}, 2, 1e-9),
        # CK-12, battery charge tables (PUB); linear between
        ("battery-state", {"rested_volts": 12.45}, 75, 1e-6),
        ("battery-state", {"rested_volts": 12.24}, 50, 1e-6),
        ("battery-state", {"rested_volts": 12.345}, 62.5, 1e-6),
        ("battery-state", {"rested_volts": 24.9}, 75, 1e-6),
        # CK-31 and CK-32, NEC chapter 9 table 8 (PUB and DER)
        ("cable", {"amps": 20, "length_m": "100 ft", "volts": 120, "size": "12 AWG"}, 7.9,
         0.05),
        ("cable", {"amps": 20, "length_m": "100 ft", "volts": 120, "size": "8 AWG"}, 3.1, 0.05),
        # CK-37, IEC 60228 at 70 degrees C (DER)
        ("cable", {"amps": 16, "length_m": 30, "volts": 230, "size": "2.5 mm2"}, 8.51, 0.005),
        # CK-45, ISO 3046-1 with dry air (DER): 1500 m, 308 K
        ("derating", {"rated_kw": 100, "altitude_m": 1500, "air_degC": 34.85, "fuel": "diesel"},
         79.4, 0.1),
        # CK-52, connector design rule (PUB)
        ("connector-pin", {"amps": 4, "rating_amps": 3, "loaded_pairs": 2, "parallel_pins": 2},
         4.8, 1e-9),
        ("connector-pin", {"amps": 4, "rating_amps": 3, "loaded_pairs": 4, "parallel_pins": 4},
         7.68, 1e-9),
        # math.SE 2717852 inputs, answers of a negative binomial quantile (own)
        ("spares", {"failures": 0, "watched_h": 32441, "ahead_h": 90247}, 4, 0),
        ("spares", {"failures": 0, "watched_h": 32441, "ahead_h": 90247,
                    "confidence_percent": 95}, 6, 0),
        ("spares", {"failures": 1, "watched_h": 251775, "ahead_h": 270742}, 4, 0),
        ("spares", {"failures": 1, "watched_h": 251775, "ahead_h": 270742,
                    "confidence_percent": 95}, 5, 0),
    ],
)  # fmt: skip
def test_a_working_answers_as_published(
    catalogue: Catalogue, name: str, given: dict[str, Any], expected: float, tolerance: float
) -> None:
    answer = done(catalogue, name, **given).answer
    assert answer.value == pytest.approx(expected, abs=max(tolerance, 1e-9))


def test_the_dips_of_a_three_horsepower_pump(catalogue: Catalogue) -> None:
    """CK-38 and CK-41 (DER): code H is 18.9 to 21.3 kVA; 40, 33, 25, 20 % on four sizes."""
    for kva, dip in ((7.5, 40), (10, 33), (15, 25), (20, 20)):
        worked = done(
            catalogue, "pump-start", motor_hp=3, code_letter="H", volts=230, set_kva=kva
        )
        assert worked.answer.value == pytest.approx(dip, abs=0.6)
        start = also(worked, "start_kva")
        assert (start.low, start.high) == (18.9, pytest.approx(21.3, abs=0.05))


def test_without_a_letter_six_times_the_running_amps_are_taken(catalogue: Catalogue) -> None:
    """CK-40: 3 hp at 230 V runs at 17 A = 3.91 kVA; NEC 430.251(A): 102 A locked."""
    worked = done(catalogue, "pump-start", motor_hp=3, volts=230, set_kva=15)
    assert also(worked, "start_kva").value == pytest.approx(0.23 * 102, abs=0.01)


def test_wires_carry_what_the_code_prints(catalogue: Catalogue) -> None:
    """CK-35: 12 AWG at 40 degrees C carries 22 A, but 240.4(D) caps its breaker at 20 A.
    CK-36: six 10 AWG in conduit carry 28 A."""
    warm = done(
        catalogue, "cable", amps=10, length_m=5, volts=120, size="12 AWG",
        insulation_degC=75, ambient_degC=40,
    )  # fmt: skip
    assert also(warm, "allowed").value == 20
    six = done(
        catalogue, "cable", amps=10, length_m=5, volts=120, size="10 AWG",
        insulation_degC=75, wires=6,
    )  # fmt: skip
    assert also(six, "allowed").value == 28


@pytest.mark.parametrize(("at", "outcome"), [("30 F", "passed"), ("70 F", "failed")])
def test_the_load_test_passes_by_temperature(
    catalogue: Catalogue, at: str, outcome: str
) -> None:
    """CK-13 (PUB): 9.2 V passes at 30 degrees F and fails at 70."""
    worked = done(catalogue, "battery-state", rested_volts=12.6, load_volts="9.2 V", at_degC=at)
    assert worked.outcome == outcome


def test_the_droop_of_a_class_is_the_published_one(catalogue: Catalogue) -> None:
    """DGUV 203-032: 8, 5 and 3 %; CK-20: 4.0 % passes G2, fails G3. One figure everywhere."""
    pair = {"no_load_hertz": 62.4, "full_load_hertz": 60}
    outcomes = [
        done(catalogue, "speed", **pair, **{"class": name}).outcome
        for name in ("G1", "G2", "G3")
    ]
    assert outcomes == ["droop-within", "droop-within", "droop-wide"]
    pattern = next(p for p in catalogue.patterns if p.code == "droop-too-wide")
    assert pattern.compare is not None
    for name, row in catalogue.tables.classes.rows.items():
        assert pattern.compare.by_class.get(name, pattern.compare.over) == row.droop


def test_the_fuel_of_five_kilowatt_hours(catalogue: Catalogue) -> None:
    """CK-47 (DER): at 25 % of 10.64 kWh a litre 5 kWh burn 1.88 L, 0.376 L/kWh: in the band."""
    low, high = catalogue.tables.fuels.rows["diesel"].litres_per_kwh
    assert low < 1 / (0.25 * 10.64) < high
    worked = done(catalogue, "fuel-hours", litres=1.88, load_kw=5, fuel="diesel",
                  used_litres=1.88, used_hours=1, used_kw=5)  # fmt: skip
    assert worked.answer.value == 1
