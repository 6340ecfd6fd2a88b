"""Exact factors, against their published definitions."""

from fractions import Fraction

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.readings.units import as_mega, convert, near_unit, unit_named


def exactly(typed: str, into: str, figure: str = "1") -> Fraction:
    unit, target = unit_named(typed), unit_named(into)
    assert unit is not None
    assert target is not None
    assert unit.dimension == target.dimension
    return target.from_base(unit.to_base(Fraction(figure)))


@pytest.mark.parametrize(
    ("figure", "typed", "into", "expected"),
    [
        # NIST SP 811 appendix B, exact or to the digits printed there.
        ("1", "psi", "kPa", "6.894757293168361"),
        ("1", "in hg", "kPa", "3.386389"),
        ("1", "in w.c.", "kPa", "0.2490889"),
        ("1", "mmH2O", "Pa", "9.80665"),
        ("1", "bar", "kPa", "100"),
        ("1", "mbar", "Pa", "100"),
        ("1", "kg/cm2", "kPa", "98.0665"),
        ("1", "hp", "W", "745.6998715822702"),
        ("1", "PS", "W", "735.49875"),
        ("1", "inch", "mm", "25.4"),
        ("1", "thou", "mm", "0.0254"),
        ("1", "cm", "mm", "10"),
        ("32", "F", "C", "0"),
        ("212", "°F", "degC", "100"),
        ("-40", "fahrenheit", "celsius", "-40"),
        # SI prefixes.
        ("1", "mV", "V", "0.001"),
        ("1", "kV", "V", "1000"),
        ("1", "MΩ", "ohm", "1000000"),
        ("1", "mΩ", "ohm", "0.001"),
        ("1", "megohm", "ohm", "1000000"),
        ("1", "k", "ohm", "1000"),
        ("1", "mA", "A", "0.001"),
        ("1", "W", "kW", "0.001"),
        ("1", "mfd", "uF", "1"),
        ("1", "nF", "uF", "0.001"),
        ("1", "cps", "Hz", "1"),
        ("1", "r/min", "rpm", "1"),
    ],
)
def test_a_factor_is_the_published_one(
    figure: str, typed: str, into: str, expected: str
) -> None:
    assert float(exactly(typed, into, figure)) == pytest.approx(float(expected), rel=2e-7)


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("V", "V"), ("volts", "V"), ("VAC", "V"), ("v dc", "V"), ("KV", "kV"), ("mv", "mV"),
        ("MV", "MV"), ("Hz", "Hz"), ("HZ", "Hz"), ("Ω", "ohm"), ("ohms", "ohm"), ("kΩ", "kohm"),
        ("K", "kohm"), ("M", "Mohm"), ("meg", "Mohm"), ("MFD", "uF"), ("uf", "uF"), ("psi",
        "psi"),
        ("P.S.I.", "psi"), ("KPA", "kPa"), ("MBAR", "mbar"), ("in. w.c.", "inH2O"),
        ("inches of mercury", "inHg"), ("deg F", "degF"), ("MM", "mm"), ("1", "1"), ("kW",
        "kW"),
        ("MILLIVOLTS", "mV"),
    ],
)  # fmt: skip
def test_a_spelling_is_known(typed: str, name: str) -> None:
    unit = unit_named(typed)
    assert unit is not None
    assert unit.name == name


@pytest.mark.parametrize("typed", ["kVA", "°", "mil", "furlong", "", "K C", "Ah", "%"])
def test_what_is_no_unit_of_a_reading_is_not_known(typed: str) -> None:
    assert unit_named(typed) is None


def test_every_canonical_unit_is_in_the_table(catalogue: Catalogue) -> None:
    for code, quantity in catalogue.vocabulary.readings.items():
        unit = unit_named(quantity.unit)
        assert unit is not None, code
        assert unit.name == quantity.unit


def test_milli_is_mega_only_where_the_quantity_is_in_megohm() -> None:
    milli, mega, ohm = unit_named("mohm"), unit_named("Mohm"), unit_named("ohm")
    assert milli is not None
    assert mega is not None
    assert ohm is not None
    assert as_mega(milli, mega) is mega
    assert as_mega(milli, ohm) is milli
    assert convert(Fraction(3), as_mega(milli, mega), mega) == 3


def test_a_near_unit_is_offered() -> None:
    assert near_unit("kpaa") == "kPa"
    assert near_unit("xyzzy") is None
