"""Logs: read strictly, judged by the class, and drawn."""

import math
from collections.abc import Callable

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.judging import judge_all
from mendpool.core.errors import RefusedInput
from mendpool.core.readings.log_text import ROWS_MOST, Log, read_log
from mendpool.core.readings.plot import plot
from mendpool.core.readings.steadiness import Steadiness, of_span, steadiness
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import ReadingGiven
from mendpool.core.record.report import JudgeRequest

STANDBY = Machine(rated_volts=240, rated_hz=60, duty="standby", phases=1)


def log_of(hertz: Callable[[int], float], rows: int = 300, head: str = "time,Hz") -> Log:
    return read_log("\n".join([head, *(f"{t},{hertz(t):.4f}" for t in range(rows))]))


def judged(catalogue: Catalogue, log: Log, machine: Machine = STANDBY) -> Steadiness:
    return steadiness(log, machine, catalogue.tables.classes)[0]


# --- reading


def test_a_log_is_read_with_its_units() -> None:
    log = read_log(
        "time (min),output (kV),freq [Hz],coolant (F)\n0,0.24,60,180\n1,0.241,59.9,185\n"
    )
    assert log.seconds == (0, 60)
    assert [(c.name, c.unit) for c in log.columns] == [
        ("output", "V"), ("freq", "Hz"), ("coolant", "degF"),
    ]  # fmt: skip
    assert log.columns[0].values == (240, 241)


def test_semicolons_leave_the_comma_for_decimals() -> None:
    log = read_log("t;volts;Hz\r\n0;238,5;59,9\r\n0,5;239;60\r\n\r\n")
    assert log.columns[0].values == (238.5, 239)
    assert log.seconds == (0, 0.5)


def test_a_clock_goes_on_past_midnight() -> None:
    log = read_log("time,V\n23:59:50,240\n00:00:10,241\n00:00:30,240\n")
    assert log.seconds == (0, 20, 40)
    dated = read_log("clock,V\n2026-10-03T06:00:00,240\n2026-10-03 06:00:01.5,241\n")
    assert dated.seconds == (0, 1.5)


@pytest.mark.parametrize(
    ("text", "at", "says"),
    [
        ("", "/csv", "no rows"),
        ("time,V\n0,240\n", "/csv", "two rows"),
        ("volts,Hz\n1,2\n2,3\n", "/csv/1", "time column"),
        ("time,V,V\n1,2,3\n2,3,4\n", "/csv/1", "one name"),
        ("time\n1\n2\n", "/csv/1", "1 to 11 others"),
        ("time,V\n0,240\n1,dead\n2,241\n", "/csv/3", "no number: 'dead'"),
        ("time,V\n0,240\n1,nan\n", "/csv/3", "no number"),
        ("time,V\n0,240\n1,inf\n", "/csv/3", "no number"),
        ("time,V\n0,240\n1\n", "/csv/3", "1 cells where 2"),
        ("time,V\n0,240\n5,241\n4,240\n", "/csv/4", "time goes back"),
        ("time,V\n" + "0,240\n" * (ROWS_MOST + 1), "/csv", "at most"),
        ("time,V\n0," + "9" * 1_000_000 + "\n1,2\n", "/csv", "at most"),
    ],
)
def test_a_log_that_is_not_whole_is_refused_with_its_line(
    text: str, at: str, says: str
) -> None:
    with pytest.raises(RefusedInput) as refusal:
        read_log(text)
    assert refusal.value.errors[0].at == at
    assert says in refusal.value.errors[0].says


def test_every_bad_line_is_told_up_to_twenty() -> None:
    with pytest.raises(RefusedInput) as refusal:
        read_log("time,V\n" + "".join(f"{n},x\n" for n in range(50)))
    assert [fault.at for fault in refusal.value.errors] == [f"/csv/{n}" for n in range(2, 22)]


# --- judging


@pytest.mark.parametrize(
    ("swing", "best"),
    [(0.12, "G3"), (0.40, "G2"), (0.70, "G1"), (2.0, None)],
)
def test_the_class_a_run_keeps_is_told_by_its_hertz_band(
    catalogue: Catalogue, swing: float, best: str | None
) -> None:
    """ISO 8528-5: the band is 0.5, 1.5, 2.5 % of rated: 0.3, 0.9 and 1.5 Hz of 60."""
    found = judged(catalogue, log_of(lambda t: 60 + swing * math.sin(t)))
    assert found.best == best
    assert found.class_ == "G2"
    assert found.verdict == ("steady" if best in {"G2", "G3"} else "unsteady")


def test_a_short_dip_is_no_wander_but_a_deep_one_is_out(catalogue: Catalogue) -> None:
    """ISO 8528-5 G2: momentary fall 10 %, back within 5 s."""
    short = judged(catalogue, log_of(lambda t: 55.5 if 100 <= t < 103 else 60.0))
    assert (short.verdict, short.fall) == ("steady", 7.5)
    deep = judged(catalogue, log_of(lambda t: 53.0 if 100 <= t < 103 else 60.0))
    assert deep.verdict == "unsteady"
    assert "falls 11.67 %" in deep.says
    long = judged(catalogue, log_of(lambda t: 57.0 if 100 <= t < 110 else 60.0))
    assert long.verdict == "unsteady"
    assert "stays away" in long.says


def test_a_rise_has_its_own_limit(catalogue: Catalogue) -> None:
    """ISO 8528-5 G2: 12 % up, 10 % down."""
    assert judged(catalogue, log_of(lambda t: 66.6 if t == 50 else 60.0)).verdict == "steady"
    assert judged(catalogue, log_of(lambda t: 67.3 if t == 50 else 60.0)).verdict == "unsteady"


def test_volts_are_held_to_half_their_width_and_a_leg_to_a_leg(catalogue: Catalogue) -> None:
    """ISO 8528-5 G2: voltage deviation ±2.5 %."""
    whole = judged(catalogue, log_of(lambda t: 240 + 5 * math.sin(t), head="time,V"))
    leg = judged(catalogue, log_of(lambda t: 120 + 2.5 * math.sin(t), head="time,V"))
    for found in (whole, leg):
        assert found.verdict == "steady"
        assert found.wander == pytest.approx(2.08, abs=0.02)
    worse = judged(catalogue, log_of(lambda t: 240 + 7 * math.sin(t), head="time,V"))
    assert worse.verdict == "unsteady"


def test_a_set_of_no_known_class_or_duty_is_held_to_the_widest(catalogue: Catalogue) -> None:
    hunting = judged(catalogue, log_of(lambda t: 60 + math.sin(t)), Machine(rated_hz=60))
    assert (hunting.verdict, hunting.class_) == ("unsteady", "G1")
    assert "widest class" in hunting.says


def test_no_plate_or_an_agreed_class_is_not_judged_but_shown(catalogue: Catalogue) -> None:
    log = log_of(lambda t: 60 + math.sin(t))
    for machine in (
        Machine(duty="standby"),
        Machine(),
        Machine.model_validate({"rated_hz": 60, "class": "G4"}),
    ):
        found = judged(catalogue, log, machine)
        assert (found.verdict, found.wander) == ("unjudged", None)
        assert found.low < found.middle < found.high
    heat = judged(catalogue, log_of(lambda t: 80.0 + t / 100, head="time,coolant (C)"))
    assert heat.verdict == "unjudged"


def test_a_meters_lowest_and_highest_are_judged_without_a_log(catalogue: Catalogue) -> None:
    classes = catalogue.tables.classes
    hunting = of_span(57, 60, 63, "frequency", STANDBY, classes)
    assert (hunting.verdict, hunting.longest_s, hunting.wander) == ("unsteady", None, 10)
    assert of_span(59.7, 60, 60.3, "frequency", STANDBY, classes).verdict == "steady"


def test_limits_from_memory_are_shown_as_such(catalogue: Catalogue) -> None:
    log = log_of(lambda _: 60.0)
    assert judged(catalogue, log).source == "ISO 8528-5"
    loose = STANDBY.model_copy(update={"class_": "G1"})
    assert "(from memory)" in judged(catalogue, log, loose).source


def test_a_wider_swing_is_never_steadier(catalogue: Catalogue) -> None:
    ranks = {"G3": 0, "G2": 1, "G1": 2, None: 3}
    found = [
        ranks[judged(catalogue, log_of(lambda t, s=s: 60 + s * math.sin(t))).best]  # type: ignore[misc]
        for s in (0.0, 0.1, 0.2, 0.4, 0.6, 0.9, 1.5)
    ]
    assert found == sorted(found)


# --- drawing


@pytest.mark.parametrize("width", [40, 57, 72, 120])
@pytest.mark.parametrize("ascii_only", [True, False])
def test_a_plot_keeps_to_its_width_and_height(width: int, ascii_only: bool) -> None:
    values = [60 + math.sin(t / 9) for t in range(500)]
    lines = plot(values, "Hz", width=width, height=6, band=(59.1, 60.9), ascii_only=ascii_only)
    assert len(lines) == 8
    assert max(map(len, lines)) <= width
    assert "".join(lines).isascii() is ascii_only


def test_a_dip_of_one_reading_in_thousands_is_drawn() -> None:
    values = [60.0] * 5000
    values[2500] = 50.0
    lines = plot(values, "Hz", width=40, ascii_only=True)
    assert lines[-2].count("#") == 1


def test_a_flat_run_and_a_single_reading_are_drawn() -> None:
    for values in ([60.0], [60.0] * 10, [0.0, 0.0]):
        assert any("#" in line for line in plot(values, "Hz", ascii_only=True))


def test_the_ends_of_the_scale_are_the_runs_own() -> None:
    lines = plot([57.25, 60.0, 62.5], "Hz", ascii_only=True)
    assert lines[1].startswith(" 62.5|")
    assert lines[-2].startswith("57.25")


def test_a_plot_too_small_to_read_is_refused() -> None:
    for bad in ({"width": 39}, {"height": 3}):
        with pytest.raises(ValueError, match="a plot needs"):
            plot([1.0, 2.0], "V", **bad)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="a plot needs"):
        plot([], "V")


# --- a reading with its lowest and highest


@pytest.mark.parametrize(
    ("text", "verdict"),
    [("59.7 to 60.3 hz", "steady"), ("57 to 63 hz", "unsteady"),
     ("236 to 244 V at the outlet", "steady"), ("220 to 245 V at the outlet", "unsteady")],
)  # fmt: skip
def test_a_reading_with_its_ends_is_held_to_the_class(
    catalogue: Catalogue, text: str, verdict: str
) -> None:
    """ISO 8528-5 G2: hertz 1.5 % wide, volts 2.5 % either way."""
    request = JudgeRequest(machine=STANDBY, readings=(ReadingGiven(text=text),))
    (reading,) = judge_all(request, catalogue)["readings"]
    assert reading["steady"]["verdict"] == verdict
    assert reading["steady"]["class"] == "G2"


@pytest.mark.parametrize(
    "text", ["60 hz", "180 to 240 V when the pump starts", "battery 12.1 to 12.6 V"]
)
def test_what_has_no_ends_or_is_meant_to_move_is_not(catalogue: Catalogue, text: str) -> None:
    request = JudgeRequest(machine=STANDBY, readings=(ReadingGiven(text=text),))
    (reading,) = judge_all(request, catalogue)["readings"]
    assert "steady" not in reading
