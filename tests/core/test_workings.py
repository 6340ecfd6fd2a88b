"""Named workings: what they take, what they tell, what they refuse, what they warn of."""

from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.errors import Complaint, RefusedInput
from mendpool.core.workings.registry import (
    WORKINGS,
    UnknownWorking,
    inputs_of,
    listed,
    work,
)
from mendpool.core.workings.spares import negative_binomial, poisson, stock
from mendpool.core.workings.worked import Worked, text


def done(catalogue: Catalogue, name: str, **given: Any) -> Worked:
    return work(name, given, catalogue)


def refusals(catalogue: Catalogue, name: str, **given: Any) -> dict[str, Complaint]:
    with pytest.raises(RefusedInput) as refusal:
        work(name, given, catalogue)
    return {complaint.at: complaint for complaint in refusal.value.errors}


def test_every_working_has_its_words_and_every_input_its_label(catalogue: Catalogue) -> None:
    assert set(WORKINGS) == set(catalogue.workings)
    for name, working in WORKINGS.items():
        assert set(inputs_of(working.inputs)) == set(catalogue.workings[name].inputs), name


@pytest.mark.parametrize("name", WORKINGS)
def test_an_answer_shows_formula_numbers_source_and_unit(
    catalogue: Catalogue, name: str
) -> None:
    worked = done(catalogue, name, **catalogue.workings[name].example)
    assert worked.formula
    assert all(step.formula and step.numbers for step in worked.formula)
    assert worked.sources
    assert all(source.confidence for source in worked.sources)
    assert "{" not in worked.says + "".join(worked.assumed)
    assert worked.given


EVERY_OUTCOME: tuple[tuple[str, str, dict[str, Any]], ...] = (
    ("pump-start", "starts", {"motor_hp": 1, "code_letter": "H", "volts": 230, "set_kva": 15}),
    ("pump-start", "doubtful", {"motor_hp": 3, "code_letter": "H", "volts": 230,
                                "set_kva": 13}),
    ("pump-start", "stalls", {"motor_hp": 5, "code_letter": "K", "volts": 230, "set_kva": 6}),
    ("pump-start", "inverter-starts", {"motor_hp": 0.5, "volts": 230, "set_kva": 8,
                                       "excitation": "inverter"}),
    ("pump-start", "inverter-doubtful", {"motor_hp": 1, "volts": 230, "set_kva": 6,
                                         "excitation": "inverter"}),
    ("pump-start", "inverter-stalls", {"motor_hp": 3, "volts": 230, "set_kva": 3,
                                       "excitation": "inverter"}),
    ("cable", "fits", {"amps": 10, "length_m": 10, "volts": 230, "table": "iec"}),
    ("cable", "drops-too-much", {"amps": 20, "length_m": 50, "volts": 230, "size": "2.5 mm2"}),
    ("cable", "too-small", {"amps": 30, "length_m": 5, "volts": 230, "size": "2.5 mm2"}),
    ("cable", "none-fits", {"amps": 300, "length_m": 5, "volts": 230, "table": "nec"}),
    ("connector-pin", "big-enough", {"amps": 3, "rating_amps": 5}),
    ("connector-pin", "tight", {"amps": 4.5, "rating_amps": 5}),
    ("connector-pin", "too-small", {"amps": 6, "rating_amps": 5}),
    ("connector-pin", "bad-joint", {"amps": 3, "rating_amps": 5, "drop_volts": "90 mV"}),
    ("power", "worked", {"amps": 20, "volts": 240}),
    ("power", "within", {"amps": 20, "volts": 240, "rated_kva": 6.5}),
    ("power", "over", {"amps": 40, "volts": 240, "rated_kva": 6.5}),
    ("speed", "worked", {"poles": 4, "hertz": 50}),
    ("speed", "droop", {"no_load_hertz": 52, "full_load_hertz": 50}),
    ("speed", "droop-within", {"no_load_hertz": 52, "full_load_hertz": 50, "class": "G2"}),
    ("speed", "droop-wide", {"no_load_hertz": 55, "full_load_hertz": 50, "class": "G1"}),
    ("winding-resistance", "worked", {"ohms": 45, "at_degC": 15}),
    ("winding-resistance", "agrees", {"ohms": 45, "at_degC": 20, "reference_ohm": 48}),
    ("winding-resistance", "low", {"ohms": 30, "at_degC": 20, "reference_ohm": 48}),
    ("winding-resistance", "high", {"ohms": 60, "at_degC": 20, "reference_ohm": 48}),
    ("winding-resistance", "below-meter", {"ohms": 0.3, "at_degC": 20}),
    ("insulation", "good", {"megohm": 50, "at_degC": 25}),
    ("insulation", "dry", {"megohm": 3, "at_degC": 40}),
    ("insulation", "do-not-run", {"megohm": 0.4, "at_degC": 40}),
    ("battery-state", "charged", {"rested_volts": 12.6}),
    ("battery-state", "half", {"rested_volts": 12.2}),
    ("battery-state", "flat", {"rested_volts": 11.9}),
    ("battery-state", "passed", {"rested_volts": 12.6, "load_volts": 9.8}),
    ("battery-state", "failed", {"rested_volts": 12.6, "load_volts": 9.0}),
    ("battery-state", "too-low-to-test", {"rested_volts": 12.1, "load_volts": 9.8}),
    ("derating", "worked", {"rated_kw": 5, "altitude_m": "4500 ft", "fuel": "petrol"}),
    ("derating", "full", {"rated_kw": 5, "air_degC": 15, "fuel": "diesel"}),
    ("fuel-hours", "by-table", {"litres": "5 US gal", "load_kw": 2, "fuel": "petrol"}),
    ("fuel-hours", "by-own", {"litres": 20, "load_kw": 2, "fuel": "diesel", "used_litres": 4,
                              "used_hours": 2, "used_kw": 3}),
    ("spares", "keep", {"failures": 2, "watched_h": "10 years", "ahead_h": "1 year"}),
)  # fmt: skip


@pytest.mark.parametrize(("name", "outcome", "given"), EVERY_OUTCOME)
def test_each_outcome_can_come_out_and_is_told_in_words(
    catalogue: Catalogue, name: str, outcome: str, given: dict[str, Any]
) -> None:
    worked = done(catalogue, name, **given)
    assert worked.outcome == outcome, worked.says
    assert "{" not in worked.says
    danger = catalogue.workings[name].dangers.get(outcome)
    if danger is not None:
        assert worked.cautions[0].code == danger.partition(":")[0]


def test_no_outcome_in_the_catalogue_is_left_untried(catalogue: Catalogue) -> None:
    tried = {(name, outcome) for name, outcome, _ in EVERY_OUTCOME}
    there = {(name, code) for name, t in catalogue.workings.items() for code in t.outcomes}
    assert tried == there


@pytest.mark.parametrize(
    ("written", "hp"),
    [
        (3, 3), ("3", 3), ("3 hp", 3), ("1/2 hp", 0.5), ("1 1/2 hp", 1.5), ("1,5 hp", 1.5),
        ("2.2 kW", 2.950248597), ("750 W", 1.005766567), ("3 horsepower", 3), (" 3HP ", 3),
        ("٣ hp", 3),
    ],
)  # fmt: skip
def test_a_power_is_read_however_it_is_written(
    catalogue: Catalogue, written: object, hp: float
) -> None:
    """1 hp is 745.6998715822702 W (NIST SP 811)."""
    worked = done(
        catalogue, "pump-start", motor_hp=written, code_letter="H", volts=230, set_kva=30
    )
    assert worked.given["motor_hp"] == pytest.approx(hp, rel=1e-8)


@pytest.mark.parametrize(
    ("written", "metres"),
    [("100 ft", 30.48), ("100'", 30.48), ("0.2 km", 200), ("50 yd", 45.72), ("30m", 30),
     ("30 metres", 30), (12.5, 12.5), ("250 cm", 2.5)],
)  # fmt: skip
def test_a_length_is_read_in_its_unit(
    catalogue: Catalogue, written: object, metres: float
) -> None:
    """A foot is 0.3048 m and a yard 0.9144 m since 1959, exactly."""
    worked = done(catalogue, "cable", amps=5, length_m=written, volts=230, table="iec")
    assert worked.given["length_m"] == pytest.approx(metres, rel=1e-12)


@pytest.mark.parametrize(
    ("name", "given", "at", "near"),
    [
        ("pump-start", {"motor_hp": "3 kVA", "volts": 230, "set_kva": 5}, "/motor_hp", "hp"),
        ("pump-start", {"motor_hp": 3, "volts": "5 A", "set_kva": 5}, "/volts", "V"),
        ("pump-start", {"motor_hp": 0, "volts": 230, "set_kva": 5}, "/motor_hp", None),
        ("pump-start", {"motor_hp": True, "volts": 230, "set_kva": 5}, "/motor_hp", None),
        ("pump-start", {"motor_hp": 3, "volts": 230}, "/set_kva", None),
        ("pump-start", {"motor_hp": 3, "volts": 230, "set_kva": 5, "phases": 2}, "/phases",
         None),
        ("pump-start", {"motor_hp": 3, "volts": 230, "set_kva": 5, "code_letter": "V"},
         "/code_letter", None),
        ("pump-start", {"motor_hp": 3, "volts": 230, "set_kva": 5, "code_letter": "O"},
         "/code_letter", None),
        ("pump-start", {"motor_hp": 40, "volts": 230, "set_kva": 50}, "/motor_hp", None),
        ("pump-start", {"motor_hp": 3, "volts": 230, "set_kva": 5, "other_kw": 5}, "/other_kw",
         None),
        ("pump-start", {"motor_hp": 3, "volts": 230, "set_kva": 5, "excitation": "invertor"},
         "/excitation", "inverter"),
        ("cable", {"amps": 5, "length_m": 5, "volts": 230}, "/table", None),
        ("cable", {"amps": 5, "length_m": 5, "volts": 230, "size": "10"}, "/size", None),
        ("cable", {"amps": 5, "length_m": 5, "volts": 230, "size": "13 AWG"}, "/size", None),
        ("cable", {"amps": 5, "length_m": 5, "volts": 230, "size": "4 mm2", "table": "nec"},
         "/table", "iec"),
        ("cable", {"amps": 5, "length_m": 5, "volts": 230, "table": "nec", "ambient_degC": 50},
         "/ambient_degC", None),
        ("cable", {"amps": 5, "length_m": 5, "volts": 230, "table": "nec", "wires": 30},
         "/wires", None),
        ("connector-pin", {"amps": 5, "rating_amps": 5, "parallel_pins": 2}, "/loaded_pairs",
         None),
        ("power", {"volts": 230}, "/amps", None),
        ("power", {"volts": 230, "kw": 3, "kva": 3}, "/kw", None),
        ("speed", {"poles": 4}, "/rpm", None),
        ("speed", {"poles": 3, "rpm": 1500}, "/poles", None),
        ("speed", {"rpm": 1500, "hertz": 42}, "/rpm", None),
        ("speed", {"no_load_hertz": 52}, "/full_load_hertz", None),
        ("speed", {"poles": 4, "rpm": 1500, "excitation": "inverter"}, "/excitation", None),
        ("winding-resistance", {"ohms": 0.2, "at_degC": 20, "leads_ohm": 0.2}, "/leads_ohm",
         None),
        ("derating", {"rated_kw": 5, "fuel": "deisel"}, "/fuel", "diesel"),
        ("derating", {"rated_kw": 5, "fuel": "diesel", "turbocharged": True}, "/turbocharged",
         None),
        ("fuel-hours", {"litres": "5 gal", "load_kw": 2, "fuel": "diesel"}, "/litres",
         "US gal"),
        ("fuel-hours", {"litres": 5, "load_kw": 2, "fuel": "natural-gas"}, "/fuel", None),
        ("fuel-hours", {"litres": 5, "load_kw": 2, "fuel": "diesel", "used_litres": 3},
         "/used_hours", None),
        ("spares", {"failures": 1.5, "watched_h": 5, "ahead_h": 5}, "/failures", None),
        ("spares", {"failures": 9999, "watched_h": 1, "ahead_h": 5000}, "/ahead_h", None),
    ],
)  # fmt: skip
def test_a_refused_input_says_where_and_what_was_meant(
    catalogue: Catalogue, name: str, given: dict[str, Any], at: str, near: str | None
) -> None:
    found = refusals(catalogue, name, **given)
    assert set(found) == {at}
    assert found[at].did_you_mean == near
    assert found[at].says


@pytest.mark.parametrize(
    "written", ["", "hp", "nan", "inf", "1e400", "3 florps", "1/0 hp", "--3", "3;4", "9" * 90]
)
def test_no_text_is_guessed_at(catalogue: Catalogue, written: str) -> None:
    assert "/motor_hp" in refusals(
        catalogue, "pump-start", motor_hp=written, volts=230, set_kva=5
    )


def test_a_comma_that_can_be_read_in_two_ways_is_refused(catalogue: Catalogue) -> None:
    says = refusals(catalogue, "derating", rated_kw=5, fuel="diesel", altitude_m="1,500 m")
    assert "1500 or 1.5" in says["/altitude_m"].says
    # A full stop is the decimal one.
    assert done(catalogue, "derating", rated_kw=5, fuel="diesel", altitude_m="1.500 m").given[
        "altitude_m"
    ] == pytest.approx(1.5)
    # On a motor only one of the two is possible.
    worked = done(
        catalogue, "pump-start", motor_hp="1,500", code_letter="H", volts=230, set_kva=9
    )
    assert worked.given["motor_hp"] == 1.5


def test_a_misspelt_input_and_a_misspelt_name_are_helped(catalogue: Catalogue) -> None:
    found = refusals(catalogue, "power", volt=230, kw=3, volts=230)
    assert found["/volt"].did_you_mean == "volts"
    with pytest.raises(UnknownWorking) as unknown:
        work("pump-strat", {}, catalogue)
    assert unknown.value.near == "pump-start"


def test_what_was_taken_for_granted_is_said(catalogue: Catalogue) -> None:
    worked = done(catalogue, "pump-start", motor_hp=3, volts=240, set_kva=15)
    assert any("six times" in line for line in worked.assumed)
    assert any("kW" in line for line in worked.assumed)
    assert any("230" in line and "240" in line for line in worked.assumed)
    wire = done(catalogue, "cable", amps=5, length_m=5, volts=120, table="nec")
    assert any("60 degree" in line for line in wire.assumed)


def test_a_size_that_fails_names_the_smallest_that_does(catalogue: Catalogue) -> None:
    long_run = {"amps": 20, "length_m": 50, "volts": 230}
    worked = done(catalogue, "cable", **long_run, size="2.5 mm2")
    found = done(catalogue, "cable", **long_run, table="iec")
    best = next(f.value for f in worked.also if f.name == "smallest_that_does")
    assert best == next(f.value for f in found.also if f.name == "size")
    assert str(best) in worked.says


def test_a_joint_that_drops_too_much_is_bad_whatever_its_rating(catalogue: Catalogue) -> None:
    worked = done(catalogue, "connector-pin", amps=1, rating_amps=20, drop_volts=0.2)
    assert worked.outcome == "bad-joint"
    assert "0.2 W" in worked.says


def test_an_engine_that_drinks_is_told_of(catalogue: Catalogue) -> None:
    """Over 1.5 times the band points to a fault or a misread load (common practice)."""
    own = {"litres": 20, "load_kw": 2, "fuel": "diesel", "used_hours": 1, "used_kw": 1}
    assert "fault" in done(catalogue, "fuel-hours", **own, used_litres=0.7).says
    assert "fault" not in done(catalogue, "fuel-hours", **own, used_litres=0.5).says


def test_pooled_spares_are_the_published_ones() -> None:
    """Barlow and Proschan 1981: mean 8, 90 % sure: 12 (P = .936); 11 give .888."""
    assert stock(poisson(8.0), 0.90) == (12, pytest.approx(0.936, abs=5e-4))
    assert stock(poisson(8.0), 0.888)[0] == 11


def test_a_known_rate_is_the_end_of_an_uncertain_one() -> None:
    """With ever more watched at the same rate, the negative binomial becomes a Poisson."""
    sure = stock(poisson(2.0), 0.9)[0]
    assert stock(negative_binomial(2e6, 1e6, 1.0), 0.9)[0] == sure
    assert stock(negative_binomial(2.0, 1.0, 1.0), 0.9)[0] > sure


def test_a_figure_in_a_formula_has_no_exponent() -> None:
    assert [text(v) for v in (270742.0, 0.3333333, 12.0, 1234.567, 0.00012)] == [
        "270742", "0.3333", "12", "1235", "0.00012",
    ]  # fmt: skip


def test_the_list_tells_what_each_needs(catalogue: Catalogue) -> None:
    entries = {entry["name"]: entry for entry in listed(catalogue)}
    needed = [i["name"] for i in entries["cable"]["inputs"] if i["needed"]]
    assert needed == ["amps", "length_m", "volts"]
    names = [i["name"] for i in entries["speed"]["inputs"]]
    assert "class" in names


def test_a_caution_fits_the_sum_it_stands_with(catalogue: Catalogue) -> None:
    thin = done(catalogue, "cable", amps=60, length_m=10, volts=230, size="2.5 mm2")
    assert "fuel" not in thin.cautions[0].says.lower()
    pump = done(catalogue, "pump-start", motor_hp=3, code_letter="H", volts=240, set_kva=6.5)
    assert pump.cautions[0].says.startswith("Low volts")
    tester = done(catalogue, "insulation", megohm=50, at_degC=25)
    assert "500 V" in tester.cautions[0].says


def test_figures_that_no_motor_or_governor_has_are_refused(catalogue: Catalogue) -> None:
    # 5 hp is 3.73 kW; 2 A at 240 V is 0.48 kVA.
    told = refusals(catalogue, "pump-start", motor_hp=5, locked_amps=2, volts=240, set_kva=6.5)
    assert set(told) == {"/locked_amps"}
    swapped = {"no_load_hertz": 57, "full_load_hertz": 62, "class": "G2"}
    assert set(refusals(catalogue, "speed", **swapped)) == {"/full_load_hertz"}


def test_a_dip_just_past_the_limit_is_not_rounded_to_it(catalogue: Catalogue) -> None:
    told = done(catalogue, "pump-start", motor_hp=3, code_letter="H", volts=240, set_kva=6.5)
    assert told.outcome == "stalls"
    assert "30.4 % against 30 %" in told.says
