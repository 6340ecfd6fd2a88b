"""Every unit against pint: its answers are frozen beside this file, with its version."""

import json
import sys
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from mendpool.core.readings.units import Unit, spellings, unit_named
from mendpool.core.workings.amounts import own_unit

FROZEN = Path(__file__).parent / "units.json"
FIGURES = ("0", "1", "-40", "203", "0.37", "1265")
BASES = {
    "voltage": "volt", "current": "ampere", "frequency": "hertz",
    "speed": "revolution / minute",
    "resistance": "ohm", "capacitance": "microfarad", "pressure": "kilopascal",
    "temperature": "degree_Celsius", "power": "kilowatt", "length": "millimeter",
    "time": "minute", "apparent power": "kilovolt * ampere", "volume": "liter",
}  # fmt: skip
NAMES = {
    "Hz": "hertz", "rpm": "revolution / minute", "F": "farad", "ohm": "ohm", "bar": "bar",
    "Pa": "pascal", "V": "volt", "A": "ampere", "W": "watt", "psi": "psi", "hPa": "hectopascal",
    "kgf/cm2": "kilogram_force / centimeter ** 2", "inHg": "inch_Hg", "mmHg": "millimeter_Hg",
    "inH2O": "gram_force * inch / centimeter ** 3",
    "mmH2O": "gram_force * millimeter / centimeter ** 3",
    "degC": "degree_Celsius", "degF": "degree_Fahrenheit", "hp": "horsepower",
    "PS": "metric_horsepower", "mm": "millimeter", "cm": "centimeter", "thou": "thou",
    "in": "inch", "min": "minute", "h": "hour", "s": "second", "nF": "nanofarad",
    "uF": "microfarad", "kohm": "kiloohm", "Mohm": "megaohm",
    "m": "meter", "km": "kilometer", "ft": "foot", "yd": "yard", "kVA": "kilovolt * ampere",
    "VA": "volt * ampere", "L": "liter", "US gal": "gallon", "imp gal": "imperial_gallon",
    "d": "day", "week": "week", "year": "year",
}  # fmt: skip
PREFIXES = {"m": "milli", "M": "mega", "k": "kilo", "u": "micro", "n": "nano"}
OF_WORKINGS = (
    "m",
    "km",
    "ft",
    "yd",
    "kVA",
    "VA",
    "L",
    "US gal",
    "imp gal",
    "d",
    "week",
    "year",
)


def name_for_pint(unit: Unit) -> str:
    """Return a unit's name as pint knows it."""
    if unit.name in NAMES and not unit.prefix:
        return NAMES[unit.name]
    return PREFIXES[unit.prefix] + NAMES[unit.name[len(unit.prefix) :]]


def every_unit() -> dict[str, Unit]:
    """Each unit once, by dimension and name; a bare `m` and a plain ratio are none."""
    found = {}
    for spelling in spellings():
        unit = unit_named(spelling)
        if unit is not None and unit.dimension != "ratio" and unit.name != "m":
            found[f"{unit.dimension} {unit.name}"] = unit
    for name in OF_WORKINGS:
        unit = own_unit(name)
        found[f"{unit.dimension} {unit.name}"] = unit
    return found


def asked_of_pint() -> dict[str, Any]:
    """Ask pint for every figure of every unit in the base unit of its dimension."""
    import pint  # noqa: PLC0415 - an oracle, not there in the default run

    registry: Any = pint.UnitRegistry()
    answers: dict[str, Any] = {"pint": pint.__version__, "answers": {}}
    for key, unit in sorted(every_unit().items()):
        base = BASES[unit.dimension]
        answers["answers"][key] = [
            float(registry.Quantity(float(figure), name_for_pint(unit)).to(base).magnitude)
            for figure in FIGURES
        ]
    return answers


def ours(unit: Unit) -> list[float]:
    return [float(unit.to_base(Fraction(figure))) for figure in FIGURES]


ANSWERS = json.loads(FROZEN.read_text("utf-8"))["answers"] if FROZEN.exists() else {}


def test_every_unit_of_the_table_was_asked() -> None:
    assert set(ANSWERS) == set(every_unit())
    assert len(ANSWERS) >= 50


@pytest.mark.parametrize("key", sorted(ANSWERS))
def test_a_factor_is_that_of_pint(key: str) -> None:
    # The conventional column of mercury is 13595.1 here; pint's has more digits.
    assert ours(every_unit()[key]) == pytest.approx(ANSWERS[key], rel=2e-6, abs=1e-9)


@pytest.mark.oracle
def test_pint_still_answers_as_it_was_frozen() -> None:
    asked = asked_of_pint()["answers"]
    assert set(asked) == set(ANSWERS)
    for key, answers in asked.items():
        assert answers == pytest.approx(ANSWERS[key], rel=1e-9), key


if __name__ == "__main__":
    asked = asked_of_pint()
    rows = [f'  "{key}": {json.dumps(row)}' for key, row in asked["answers"].items()]
    head = f'{{\n "pint": "{asked["pint"]}",\n "answers": {{\n'
    FROZEN.write_text(head + ",\n".join(rows) + "\n }\n}\n", "utf-8")
    sys.stdout.write(f"{FROZEN}\n")
