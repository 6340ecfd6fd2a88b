"""What must hold for every reading: formats come back, judging is monotone, plates scale."""

import contextlib
import itertools
import unicodedata
from fractions import Fraction

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.errors import RefusedInput
from mendpool.core.readings.figures import figures, tidy, ways_to_read
from mendpool.core.readings.find import find_readings
from mendpool.core.readings.judge import judge
from mendpool.core.readings.parse import understand
from mendpool.core.readings.units import unit_named
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Reading, ReadingGiven

UNITS = (
    "V", "mV", "kV", "A", "mA", "Hz", "rpm", "ohm", "kohm", "Mohm", "mohm", "uF", "nF", "psi",
    "bar", "mbar", "kPa", "inHg", "inH2O", "mmH2O", "kgf/cm2", "degC", "degF", "W", "kW", "hp",
    "mm", "cm", "in", "thou",
)  # fmt: skip
UNITS_SHOWN = {"kgf/cm2": "kg/cm2", "inHg": "in hg", "inH2O": "in w.c.", "mmH2O": "mm h2o"}
ORDER = {"low": 0, "within": 1, "high": 2}
numbers = st.decimals(min_value=0, max_value=99999, places=3, allow_nan=False)
words = st.text(
    st.sampled_from("0123456789 .,-/+~<>'\"°ΩµVvAahHzkKmMrRpsiCFoOlL±eE\n")
    | st.characters(exclude_categories=["Cs"]),
    max_size=60,
)


@pytest.mark.parametrize("unit", UNITS)
@given(number=numbers, gap=st.sampled_from(["", " ", "  "]))
def test_a_number_with_a_unit_comes_back(unit: str, number: object, gap: str) -> None:
    shown = UNITS_SHOWN.get(unit, unit)
    plain = f"{number:f}".rstrip("0").rstrip(".") or "0"
    found = figures(tidy(f"{plain}{gap}{shown}"))
    assert len(found) == 1
    assert found[0].unit == unit_named(unit)
    assert Fraction(plain) in found[0].ways
    assert found[0].ways[0] == Fraction(plain) or "." not in plain or len(found[0].ways) > 1


@given(
    number=st.integers(1000, 9_999_999), mark=st.sampled_from([",", ".", " ", "'", "\u202f"])
)
def test_parted_thousands_are_one_way_to_read_them(number: int, mark: str) -> None:
    assert Fraction(number) in ways_to_read(f"{number:,}".replace(",", mark))


@given(number=st.decimals(min_value=0, max_value=9999, places=2, allow_nan=False))
def test_a_decimal_comma_is_a_decimal_point(number: object) -> None:
    assert ways_to_read(f"{number}".replace(".", ",")) == (Fraction(str(number)),)


@given(text=words)
@settings(max_examples=300)
def test_any_text_is_understood_or_refused_and_nothing_else(text: str) -> None:
    assume(text)
    assume(not any(unicodedata.category(one) in {"Cc", "Cs"} for one in text))  # no text
    catalogue = packaged_catalogue()
    book = catalogue.reading_words
    with contextlib.suppress(RefusedInput):
        reading = understand(ReadingGiven(text=text), catalogue.vocabulary, Machine(), book)
        assert reading.point in catalogue.vocabulary.readings[reading.quantity].points
    for found in find_readings(text, catalogue.vocabulary, Machine(), book):
        assert text[found.start : found.end] == found.text


def places(catalogue: Catalogue) -> list[tuple[str, str]]:
    return [
        (code, point)
        for code, quantity in catalogue.vocabulary.readings.items()
        for point in quantity.points
    ]


PLATE = Machine.model_validate(
    {"fuel": "diesel", "excitation": "brushless-avr", "phases": 1, "duty": "standby",
     "rated_kva": 12, "rated_volts": 230, "rated_hz": 50, "rated_rpm": 1500, "start_volts": 12,
     "cooling": "liquid", "governor": "mechanical", "class": "G2"}
)  # fmt: skip


@given(data=st.data())
@settings(max_examples=200)
def test_judging_is_monotone(catalogue: Catalogue, data: st.DataObject) -> None:
    """On a set whose plate is known, a larger reading never gets a lower verdict."""
    code, point = data.draw(st.sampled_from(places(catalogue)))
    condition = data.draw(st.sampled_from([None, *catalogue.vocabulary.conditions]))
    values = sorted(data.draw(st.lists(st.floats(0, 3000), min_size=2, max_size=6)))
    unit = catalogue.vocabulary.readings[code].unit
    verdicts = [
        judge(
            Reading(
                quantity=code, point=point, condition=condition, value=v, unit=unit, mark=20.0
            ),
            PLATE,
            catalogue.limits,
        ).judged.verdict
        for v in values
    ]
    ranks = [ORDER[v] for v in verdicts if v != "unjudged"]
    assert len(ranks) in {0, len(verdicts)}
    assert ranks == sorted(ranks)


SCALED = [
    ("voltage-ac", "output", "rated_volts"), ("voltage-ac", "leg-1", "rated_volts"),
    ("frequency", "output", "rated_hz"), ("engine-speed", "crankshaft", "rated_rpm"),
    ("current-ac", "output", "rated_kva"), ("power", "output", "rated_kva"),
    ("voltage-dc", "battery", "start_volts"), ("voltage-dc", "battery-cranking", "start_volts"),
]  # fmt: skip


@pytest.mark.parametrize(("code", "point", "field"), SCALED)
@given(times=st.floats(1.05, 1.9))
def test_scaling_the_plate_scales_the_limits(
    catalogue: Catalogue, code: str, point: str, field: str, times: float
) -> None:
    unit = catalogue.vocabulary.readings[code].unit
    rated = getattr(PLATE, field)
    bigger = PLATE.model_copy(update={field: rated * times})
    one, two = (
        judge(
            Reading(quantity=code, point=point, value=value, unit=unit), plate, catalogue.limits
        ).judged
        for plate, value in ((PLATE, rated), (bigger, rated * times))
    )
    for before, after in ((one.low, two.low), (one.high, two.high)):
        if before is None:
            assert after is None
        else:
            assert after == pytest.approx(before * times, abs=1e-3)


@given(value=st.floats(0.01, 400))
def test_a_bound_is_judged_just_past_its_figure(catalogue: Catalogue, value: float) -> None:
    plain, under, over = (
        judge(
            Reading(quantity="voltage-ac", point="output", value=value, unit="V", sign=sign),
            PLATE,
            catalogue.limits,
        ).judged.verdict
        for sign in (None, "under", "over")
    )
    assert ORDER[under] <= ORDER[plain] <= ORDER[over]


def test_the_bands_of_a_better_class_lie_inside_those_of_a_lesser(catalogue: Catalogue) -> None:
    conditions = ("no-load", "full-load", "motor-start", None)
    quantities = (
        ("voltage-ac", "output"),
        ("frequency", "output"),
        ("engine-speed", "crankshaft"),
    )
    for (code, point), condition in itertools.product(quantities, conditions):
        bands = []
        for name in ("G1", "G2", "G3"):
            plate = PLATE.model_copy(update={"class_": name})
            rated = {"voltage-ac": 230.0, "frequency": 50.0, "engine-speed": 1500.0}[code]
            reading = Reading(
                quantity=code, point=point, condition=condition, value=rated, unit="V"
            )
            judged = judge(reading, plate, catalogue.limits).judged
            bands.append((judged.low or 0.0, judged.high or 0.0))
        for (low, high), (inner_low, inner_high) in itertools.pairwise(bands):
            assert low <= inner_low <= inner_high <= high, (code, condition)
