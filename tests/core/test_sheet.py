"""The fault sheet: what it says of a set, and the form keyed in by its letters."""

import re
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.catalogue.sheet_rules import broken_sheet_rules
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.errors import RefusedInput
from mendpool.core.record.machine import Machine
from mendpool.core.record.report import Report
from mendpool.core.sheet.keyed import report_of_rows, rows_of
from mendpool.core.sheet.made import Sheet, sheet_of
from mendpool.core.sheet.page import sheet_page
from mendpool.core.sheet.plain import LINES, WIDTH, sheet_text

BARN = Machine(
    fuel="diesel", rated_kva=6.5, rated_volts=240, rated_hz=60, phases=1, cooling="liquid"
)
SUITCASE = Machine(
    fuel="petrol", rated_kva=2, rated_volts=230, rated_hz=50, phases=1, cooling="air",
    excitation="inverter", starting="recoil",
)  # fmt: skip
GAS = Machine(fuel="natural-gas", rated_kva=20, rated_volts=400, rated_hz=50, phases=3)
BARE = Machine(fuel="diesel")
ALL = {"barn": BARN, "suitcase": SUITCASE, "gas": GAS, "bare": BARE}


@pytest.fixture(scope="module")
def sheets(engine: Engine) -> dict[str, Sheet]:
    return {name: sheet_of(machine, engine) for name, machine in ALL.items()}


class TestWhatItSays:
    def test_the_commonest_complaints_come_first(
        self, sheets: dict[str, Sheet], catalogue: Catalogue
    ) -> None:
        shares = [catalogue.symptoms[c.code].share for c in sheets["barn"].complaints]
        assert shares == sorted(shares, reverse=True)
        assert len(shares) == catalogue.sheet.complaints

    def test_it_is_of_such_a_set_only(self, sheets: dict[str, Sheet]) -> None:
        diesel, petrol = sheets["barn"], sheets["suitcase"]
        parts = {choice.code for choice in diesel.form.parts}
        assert {"injector", "glow-plug"} <= parts
        assert not {"spark-plug", "carburettor"} & parts
        assert not {"brushes", "injector"} & {c.code for c in petrol.form.parts}
        assert "rope-fails" in {c.code for c in petrol.form.complaints}

    def test_good_values_are_the_limits_that_judge_readings(
        self, sheets: dict[str, Sheet]
    ) -> None:
        """ISO 8528-5 class G1 up to 10 kW: 10 % of volts, 8 % droop with a 2.5 % band.

        IEEE 43-2013: 5 megohm for random-wound windings under 1 kV, at 40 degrees C.
        """
        bands = {good.letter: (good.band, good.unit) for good in sheets["barn"].good}
        assert bands["a"] == ("216 to 264", "V")
        assert bands["c"] == ("108 to 132", "V")
        assert bands["f"] == ("57.6 to 64.8", "Hz")
        assert bands["n"] == ("5 or more", "Mohm")
        three_phase = {good.letter: good.band for good in sheets["gas"].good}
        # 400 / sqrt(3), and 5 % either side over 10 kW
        assert three_phase["c"] == "219.4 to 242.5"

    def test_cautions_are_those_of_the_fuel(self, sheets: dict[str, Sheet]) -> None:
        for name, sheet in sheets.items():
            assert any("carbon monoxide" in text for text in sheet.cautions), name
            assert any("changeover" in text for text in sheet.cautions), name
        assert any("fuel joint" in text for text in sheets["barn"].cautions)
        assert any("gas" in text.lower() for text in sheets["gas"].cautions[-1:])

    def test_no_step_bypasses_anything(self, engine: Engine, catalogue: Catalogue) -> None:
        for fuel in catalogue.vocabulary.machine["fuel"]:
            sheet = sheet_of(Machine(fuel=fuel), engine)
            for complaint in sheet.complaints:
                assert complaint.steps, (fuel, complaint.code)
                assert not re.search(r"bypass|bridge", " ".join(complaint.steps))


class TestOnPaper:
    @pytest.mark.parametrize("name", ALL)
    def test_each_side_is_one_page_of_text(self, sheets: dict[str, Sheet], name: str) -> None:
        front, back = sheet_text(sheets[name], name).split("\f")
        for side in (front, back):
            lines = side.rstrip("\n").split("\n")
            assert len(lines) <= LINES
            assert max(map(len, lines)) <= WIDTH

    @given(width=st.integers(40, 120))
    def test_it_fits_any_width(self, sheets: dict[str, Sheet], width: int) -> None:
        lines = sheet_text(sheets["barn"], "barn", width).replace("\f", "").split("\n")
        assert max(map(len, lines)) <= width

    def test_the_page_is_whole_and_needs_nothing_from_elsewhere(
        self, sheets: dict[str, Sheet]
    ) -> None:
        page = sheet_page(sheets["barn"], "<b>barn</b>", "letter")
        assert page.startswith("<!doctype html>")
        assert "size: letter" in page
        assert "&lt;b&gt;barn&lt;/b&gt;" in page
        assert "<b>barn" not in page
        assert not re.search(r"<script|https?:|src=|@import|url\(", page)


class TestKeyedIn:
    def test_five_rows_make_a_report(self, catalogue: Catalogue) -> None:
        rows = rows_of("PA SE; died with a bang / a 241, e 61,5 k 45 psi".replace(" k", ", k")
                       + " / BR N 1 40; AV-T-5 / R BR n / 11/26")  # fmt: skip
        body = report_of_rows(rows, catalogue)
        assert body["symptoms"] == ["no-output", "cranks-no-start"]
        assert body["complaint"] == "died with a bang"
        assert [(r["value"], r["unit"]) for r in body["readings"]] == [
            (241.0, "V"),
            (61.5, "Hz"),
            (45.0, "psi"),
        ]
        assert body["attempts"] == [
            {"component": "brushes", "action": "replace", "result": "fixed", "minutes": 40},
            {"component": "avr", "action": "test", "result": "found-good"},
        ]
        assert (body["outcome"], body["happened"]) == ("repaired", "2026-11")
        assert body["cause"] == {"component": "brushes"}
        assert body["protection_defeated"] is False
        assert Report.model_validate({"machine": {"fuel": "diesel"}, **body})

    @pytest.mark.parametrize("row", ["no power at all", "it is on; no"])
    def test_words_are_words(self, catalogue: Catalogue, row: str) -> None:
        body = report_of_rows([row], catalogue)
        assert "symptoms" not in body
        assert body["complaint"].startswith(row[:5])

    @pytest.mark.parametrize("row", ["11/26", "11 2026", "2026-11", "11-26", "11.2026"])
    def test_a_month_as_people_write_it(self, catalogue: Catalogue, row: str) -> None:
        assert report_of_rows(["", "", "", "", row], catalogue) == {"happened": "2026-11"}

    @pytest.mark.parametrize(
        ("rows", "says"),
        [
            (["PX"], "“PX” is no complaint"),
            (["", "z 3"], "“z” is no reading"),
            (["", "241"], "a letter and a figure"),
            (["", "", "BR"], "part, action, result"),
            (["", "", "QQ N 1"], "“QQ” is no part"),
            (["", "", "BR N 9"], "“9” is no result"),
            (["", "", "", "Q"], "“Q” is no end"),
            (["", "", "", "R BR AV"], "one too many"),
            (["", "", "", "", "13/26"], "a month and a year"),
            (["", "", "", "", "", "x"], "no more"),
        ],
    )
    def test_what_cannot_be_read_says_which_row(
        self, catalogue: Catalogue, rows: list[str], says: str
    ) -> None:
        with pytest.raises(RefusedInput, match=re.escape(says)) as refused:
            report_of_rows(rows, catalogue)
        assert refused.value.errors[0].at == f"/row/{len(rows)}"

    @given(data=st.data())
    def test_every_letter_comes_back_as_its_code(self, data: st.DataObject) -> None:
        catalogue = packaged_catalogue()
        letters = catalogue.sheet.letters
        attempts = data.draw(
            st.lists(
                st.tuples(
                    st.sampled_from(sorted(letters.components)),
                    st.sampled_from(sorted(letters.actions)),
                    st.sampled_from(sorted(letters.results)),
                    st.integers(0, 9999),
                ),
                min_size=1,
                max_size=8,
            )
        )
        joint = data.draw(st.sampled_from([" ", "", "-"]))
        keyed = "; ".join(
            joint.join((letters.components[c], letters.actions[a], letters.results[r]))
            + f" {minutes}"
            for c, a, r, minutes in attempts
        )
        if data.draw(st.booleans()):
            keyed = keyed.lower()
        body = report_of_rows(["", "", keyed], catalogue)
        told = [
            (t["component"], t["action"], t["result"], t["minutes"]) for t in body["attempts"]
        ]
        assert told == attempts

    @given(text=st.text(max_size=200))
    def test_rubbish_is_refused_and_never_breaks(self, text: str) -> None:
        with suppress(RefusedInput):
            body = report_of_rows(rows_of(text), packaged_catalogue())
            assert set(body) <= set(Report.model_fields)


class TestItsRules:
    def test_a_letter_given_twice_and_a_code_without_one(self, catalogue: Catalogue) -> None:
        letters = catalogue.sheet.letters
        twice = {**letters.components, "brushes": letters.components["avr"]}
        less = {code: pair for code, pair in letters.symptoms.items() if code != "no-output"}
        spoilt = letters.model_copy(update={"components": twice, "symptoms": less})
        plan = catalogue.sheet.model_copy(update={"letters": spoilt})
        lines = broken_sheet_rules(catalogue.model_copy(update={"sheet": plan}))
        assert lines == [
            "sheet.yaml: letters: symptoms: no letter for no-output",
            "sheet.yaml: letters: components: AV stands for 2 codes",
        ]
