"""What must hold for every working: units come back, more is never less, plates scale."""

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.errors import RefusedInput
from mendpool.core.readings.figures import figures, tidy
from mendpool.core.readings.log_text import Column, Log, read_log
from mendpool.core.readings.plot import plot
from mendpool.core.readings.steadiness import steadiness
from mendpool.core.readings.units import spellings, unit_named
from mendpool.core.record.machine import Machine
from mendpool.core.workings.amounts import Takes
from mendpool.core.workings.registry import WORKINGS, work

SPELLED = sorted(s for s in spellings() if unit_named(s) is not None and s != "1")
WIDE = {
    "m": ("m", "ft", "yd", "km", "cm"), "kW": ("kW", "W", "hp", "PS"), "hp": ("hp", "kW"),
    "kVA": ("kVA", "VA"), "V": ("V", "mV", "kV"), "A": ("A", "mA"), "L": ("L", "US gal"),
    "h": ("h", "days", "weeks", "months", "years"), "degC": ("C", "F"), "ohm": ("ohm", "k"),
}  # fmt: skip
plain = st.decimals(min_value=1, max_value=900, places=2, allow_nan=False)


@pytest.mark.parametrize("spelling", SPELLED)
def test_every_way_to_write_a_unit_is_read_back(spelling: str) -> None:
    for number in ("0.5", "7", "250"):
        found = figures(tidy(f"{number} {spelling}"))
        assert len(found) == 1, spelling
        unit = unit_named(spelling)
        assert unit is not None
        assert found[0].unit is not None, spelling
        assert found[0].unit.to_base(Fraction(number)) == unit.to_base(Fraction(number))
        assert found[0].ways[0] == Fraction(number)


@pytest.mark.parametrize("own", WIDE)
@given(number=plain, data=st.data())
def test_an_amount_in_any_unit_is_the_same_amount(
    own: str, number: object, data: st.DataObject
) -> None:
    takes = Takes(own, -1e9, 1e9)
    unit = data.draw(st.sampled_from(WIDE[own]))
    written = takes.read(f"{number} {unit}")
    back = takes.read(f"{written!r} {own}") if abs(written) >= 1e-4 else written
    assert back == pytest.approx(written, rel=1e-9)
    assert takes.read(f"{number}{unit}") == written


def value(catalogue: Catalogue, name: str, **given_: Any) -> float:
    answer = work(name, given_, catalogue).answer.value
    assert isinstance(answer, float)
    return answer


@given(kva=st.floats(2, 40), more=st.floats(1.05, 3))
def test_a_larger_set_dips_less_and_a_larger_motor_makes_it_dip_more(
    catalogue: Catalogue, kva: float, more: float
) -> None:
    base = {"motor_hp": 3, "code_letter": "H", "volts": 230}
    small, large = (
        value(catalogue, "pump-start", **base, set_kva=size) for size in (kva, kva * more)
    )
    assert large < small
    bigger = value(catalogue, "pump-start", **{**base, "motor_hp": 5}, set_kva=kva)
    assert bigger > small


@given(metres=st.floats(1, 300), times=st.floats(1.1, 4), table=st.sampled_from(["nec", "iec"]))
def test_a_longer_run_never_gets_a_thinner_cable(
    catalogue: Catalogue, metres: float, times: float, table: str
) -> None:
    order = [f"{w.size} AWG" for w in catalogue.tables.nec.wires]
    order += [f"{c.size:g} mm2" for c in catalogue.tables.iec.cables]

    def size(length: float) -> int:
        worked = work(
            "cable", {"amps": 12, "length_m": length, "volts": 230, "table": table}, catalogue
        )
        return order.index(str(next(f.value for f in worked.also if f.name == "size")))

    assert size(metres) <= size(metres * times)


@given(
    failures=st.integers(0, 20), ahead=st.floats(0.05, 2), times=st.floats(1.0, 3),
    sure=st.floats(60, 98),
)  # fmt: skip
def test_longer_ahead_or_surer_never_keeps_fewer(
    catalogue: Catalogue, failures: int, ahead: float, times: float, sure: float
) -> None:
    base = {"failures": failures, "watched_h": 1.0}

    def keep(ahead_h: float, percent: float) -> float:
        return value(catalogue, "spares", **base, ahead_h=ahead_h, confidence_percent=percent)

    assert keep(ahead, sure) <= keep(ahead * times, sure)
    assert keep(ahead, sure) <= keep(ahead, min(99.9, sure + 1))


@given(kw=st.floats(0.5, 40), times=st.floats(0.2, 5))
def test_scaling_the_power_scales_the_amps(
    catalogue: Catalogue, kw: float, times: float
) -> None:
    one, two = (value(catalogue, "power", kw=p, volts=230) for p in (kw, kw * times))
    assert two / one == pytest.approx(times, rel=2e-3)


@given(data=st.data(), name=st.sampled_from(sorted(WORKINGS)))
def test_any_input_is_worked_or_refused_and_nothing_else(
    catalogue: Catalogue, data: st.DataObject, name: str
) -> None:
    texts = catalogue.workings[name]
    anything = (
        st.none() | st.booleans() | st.integers(-5, 5000) | st.floats() | st.text(max_size=12)
    )
    given_ = dict(texts.example)
    for field in data.draw(st.lists(st.sampled_from(sorted(texts.inputs)), max_size=3)):
        given_[field] = data.draw(anything)
    try:
        worked = work(name, given_, catalogue)
    except RefusedInput as refusal:
        refused = refusal.errors
    else:
        refused = ()
        assert "{" not in worked.says
    assert all(fault.at.startswith("/") and fault.says for fault in refused)


@given(
    values=st.lists(st.floats(30, 90), min_size=3, max_size=60),
    scale=st.sampled_from([0.5, 2.0, 4.0]),
)
def test_scaling_the_plate_and_the_log_changes_no_verdict(
    catalogue: Catalogue, values: list[float], scale: float
) -> None:
    def judged(times: float) -> tuple[str, str | None]:
        seconds = tuple(float(n) for n in range(len(values)))
        column = Column("f", "Hz", "frequency", tuple(v * times for v in values))
        machine = Machine(rated_hz=60 * times, duty="prime")
        found = steadiness(Log(seconds, (column,)), machine, catalogue.tables.classes)[0]
        return found.verdict, found.best

    assert judged(1.0) == judged(scale)


@given(text=st.text(max_size=200) | st.text("0123456789,;.\ntimeV: -", max_size=200))
def test_any_text_is_a_log_or_is_refused(text: str) -> None:
    try:
        log = read_log(text)
    except RefusedInput:
        return
    assert log.seconds[0] == 0
    assert all(len(column.values) == len(log.seconds) for column in log.columns)


@given(
    values=st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=400), width=st.integers(40, 90)
)
def test_every_plot_keeps_to_its_width(values: list[float], width: int) -> None:
    assume(all(abs(v) > 1e-6 or v == 0 for v in values))
    lines = plot(values, "V", width=width, ascii_only=True)
    assert len(lines) == 10
    assert max(map(len, lines)) <= width
