"""Figures where a table ends, a plate is silent, or what was typed contradicts itself.

What no other test of the core came to, found by measuring its branches.
"""

from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.errors import RefusedInput
from mendpool.core.record.report import Attempt
from mendpool.core.workings.registry import work

from tests.core.asking import asked, believed, facts_of, probability
from tests.core.test_readings_judge import HOUSE_SET, verdict
from tests.core.test_readings_parse import read, why_refused
from tests.core.test_workings import done, refusals

PUMP = {"motor_hp": "3 hp", "volts": 230, "set_kva": 15}
CABLE = {"amps": 10, "length_m": 30, "volts": 230}
OUTLET = {"quantity": "voltage-ac", "point": "output", "value": "230", "unit": "V"}
CAPACITOR = {"quantity": "capacitance", "point": "capacitor", "value": "28", "unit": "uF"}


class TestWhatIsTyped:
    @pytest.mark.parametrize("typed", ["1,234.5 rpm", "1.234,5 rpm", "1 234.5 rpm"])
    def test_with_a_comma_and_a_point_the_last_one_parts_decimals(
        self, catalogue: Catalogue, typed: str
    ) -> None:
        assert read(catalogue, text=f"speed {typed}").value == 1234.5

    def test_groups_that_are_no_thousands_are_no_number(self, catalogue: Catalogue) -> None:
        assert why_refused(catalogue, text="speed 1,80.5 rpm")[0] == "/text"

    @pytest.mark.parametrize(
        ("span", "at"),
        [
            ({"max": 220.0}, "/value"),
            ({"min": 240.0}, "/value"),
            ({"min": 250.0, "max": 240.0}, "/min"),
            ({"max": 5e6}, "/max"),  # no set of this size
        ],
    )
    def test_a_value_outside_its_own_span_is_refused(
        self, catalogue: Catalogue, span: dict[str, float], at: str
    ) -> None:
        assert why_refused(catalogue, **OUTLET, **span)[0] == at

    @pytest.mark.parametrize("mark", [0.0, -30.0, 1e9])
    def test_what_no_part_has_printed_on_it_is_refused(
        self, catalogue: Catalogue, mark: float
    ) -> None:
        assert why_refused(catalogue, **CAPACITOR, mark=mark)[0] == "/mark"
        assert read(catalogue, **CAPACITOR, mark=30.0).mark == 30

    @pytest.mark.parametrize("heat", ["900 C", "-90 C", "1500 F"])
    def test_no_winding_is_read_at_such_a_heat(self, catalogue: Catalogue, heat: str) -> None:
        at, says, _ = why_refused(catalogue, text=f"rotor 48 ohm at {heat}")
        assert at == "/text"
        assert "degrees C" in says


class TestVerdicts:
    def test_a_value_that_left_the_band_is_told_with_both_ends(
        self, catalogue: Catalogue
    ) -> None:
        """Class G2 holds 2.5 per cent of 240 V: 234 to 246 (ISO 8528-5 as in the limits)."""
        judged = verdict(catalogue, "between 225 and 250 V at the outlet", **HOUSE_SET).judged
        assert judged.verdict == "within"
        assert "It moved out of the band, to 225 V and 250 V." in judged.means

    @pytest.mark.parametrize(
        ("phases", "reads", "expected"),
        [
            (None, "139 V leg 1 to neutral", "within"),  # 240 / √3 = 138.6
            (None, "120 V leg 1 to neutral", "within"),  # 240 / 2
            (3, "139 V leg 1 to neutral", "within"),
            (3, "120 V leg 1 to neutral", "low"),
            (1, "139 V leg 1 to neutral", "high"),
        ],
    )
    def test_a_leg_is_judged_by_the_nearest_that_the_plate_leaves_open(
        self, catalogue: Catalogue, phases: int | None, reads: str, expected: str
    ) -> None:
        plate = {f: v for f, v in {**HOUSE_SET, "phases": phases}.items() if v is not None}
        assert verdict(catalogue, reads, **plate).judged.verdict == expected


class TestWorkings:
    def test_a_three_phase_pump_without_its_letter_spans_the_usual_ones(
        self, catalogue: Catalogue
    ) -> None:
        """NEC table 430.7(B) by letter; which are usual is of the catalogue's table."""
        rows = [row for row in catalogue.tables.motors.usual_letters if row.from_hp <= 1.5]
        assert len(set(rows[-1].letters)) == 2
        small = {**PUMP, "motor_hp": "1.5 hp", "phases": 3}
        ends = [
            done(catalogue, "pump-start", **small, code_letter=letter).answer
            for letter in rows[-1].letters
        ]
        whole = done(catalogue, "pump-start", **small).answer
        lows = [end.low for end in ends if end.low is not None]
        highs = [end.high for end in ends if end.high is not None]
        assert (whole.low, whole.high) == (min(lows), max(highs))

    def test_running_amps_from_the_plate_count_six_times(self, catalogue: Catalogue) -> None:
        """230 V x 17 A = 3.91 kVA, six times is 23.46 (common practice)."""
        worked = done(catalogue, "pump-start", **PUMP, phases=1, running_amps=17)
        assert "23.46 kVA" in worked.model_dump_json()

    def test_starting_amps_that_could_not_turn_it_are_taken_for_running_ones(
        self, catalogue: Catalogue
    ) -> None:
        """230 V x 5 A = 1.15 kVA, and 3 hp is 2.24 kW at the shaft."""
        told = refusals(catalogue, "pump-start", **PUMP, phases=1, locked_amps=5)
        assert "running amps" in told["/locked_amps"].says

    def test_three_of_three_leave_nothing_to_work_out(self, catalogue: Catalogue) -> None:
        told = refusals(catalogue, "speed", poles=4, rpm=1800, hertz=60)
        assert list(told) == ["/poles"]

    def test_a_bare_size_counts_in_the_table_that_was_named_and_in_none_else(
        self, catalogue: Catalogue
    ) -> None:
        named = done(catalogue, "cable", **CABLE, size="2,5", table="iec").answer
        assert named == done(catalogue, "cable", **CABLE, size="2.5 mm2").answer
        assert list(refusals(catalogue, "cable", **CABLE, size="2.5")) == ["/size"]

    def test_a_load_that_runs_for_hours_is_said_to_count_for_more(
        self, catalogue: Catalogue
    ) -> None:
        """NEC 210.19(A), 215.2: conductors for continuous loads at 125 per cent."""
        given = {"amps": 15, "length_m": "20 ft", "volts": 120, "size": "12 AWG"}
        brief = done(catalogue, "cable", **given, insulation_degC=75)
        lasting = done(catalogue, "cable", **given, insulation_degC=75, continuous=True)
        note = catalogue.workings["cable"].notes["continuous"]
        assert note in lasting.model_dump_json()
        assert note not in brief.model_dump_json()

    @pytest.mark.parametrize(("volts", "charge"), [(10, 0), (13.4, 100)])
    def test_beyond_the_table_a_battery_is_flat_or_full(
        self, catalogue: Catalogue, volts: float, charge: float
    ) -> None:
        assert done(catalogue, "battery-state", rested_volts=volts).answer.value == charge

    def test_hotter_than_the_tables_go_is_refused_by_field(self, catalogue: Catalogue) -> None:
        with pytest.raises(RefusedInput) as refusal:
            work("cable", {**CABLE, "size": "2.5 mm2", "ambient_degC": 95}, catalogue)
        assert [fault.at for fault in refusal.value.errors] == ["/ambient_degC"]


class TestBeliefs:
    def test_a_part_said_to_be_good_loses_and_its_neighbours_gain(self, engine: Engine) -> None:
        before = believed(engine, facts_of())
        after = believed(engine, facts_of(cleared=("brushes",)))
        assert probability(engine, after, "brushes") < probability(engine, before, "brushes")
        assert probability(engine, after, "avr") > probability(engine, before, "avr")

    def test_what_was_tried_of_a_part_goes_before_what_was_said_of_it(
        self, engine: Engine
    ) -> None:
        tried = (Attempt(component="brushes", action="clean", result="no-change"),)
        both = believed(engine, facts_of(cleared=("brushes",), tried=tried))
        alone = believed(engine, facts_of(tried=tried))
        assert (both.probability == alone.probability).all()

    def test_something_else_is_listed_however_sure_it_is(self, engine: Engine) -> None:
        question: dict[str, Any] = {
            "machine": {**HOUSE_SET, "starting": "electric", "control": "manual"},
            "complaint": "no power, brushes worn down to the holder, brushes worn",
            "observations": [{"check": "brush-length", "found": "short"}],
        }
        causes = asked(engine, question).causes
        assert len(causes) >= 10 or sum(c.probability for c in causes) >= 0.95
        assert [c.component for c in causes].count(None) == 1
