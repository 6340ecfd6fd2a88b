"""`sheet`, `handon`, `before-off`, `report --from-sheet`, `manual`: paper, phone, pencil."""

import json
import stat
from pathlib import Path

import pytest

from mendpool_field.options import set_names

from tests.field.conftest import Run
from tests.field.fake_pool import FakePool
from tests.field.samples import BARN

KEYED = "PA / a 0,4 / BR N 1 40; AV T 5 / R BR N / 11/26"


@pytest.fixture
def barn(alone: Run) -> Run:
    assert alone(*BARN).exit_code == 0
    return alone


class TestSheet:
    def test_it_prints_front_and_back(self, barn: Run) -> None:
        told = barn("sheet", "barn")
        assert told.exit_code == 0, told.output
        front, back = told.stdout.split("\f")
        assert front.startswith("FAULT SHEET: barn.")
        assert "GOOD VALUES" in front
        assert "REPORT FORM" in back

    def test_the_page_is_written_where_it_is_wanted(self, barn: Run, tmp_path: Path) -> None:
        page = tmp_path / "barn.html"
        told = barn("sheet", "barn", "--page", str(page), "--paper", "letter")
        assert told.exit_code == 0, told.output
        assert "size: letter" in page.read_text("utf-8")
        assert barn("sheet", "barn", "--page", "-").stdout.startswith("<!doctype html>")

    def test_a_folder_that_is_not_there(self, barn: Run, tmp_path: Path) -> None:
        told = barn("sheet", "barn", "--page", str(tmp_path / "no" / "barn.html"))
        assert told.exit_code == 2
        assert "can't be written" in told.stderr

    def test_a_program_gets_it_as_json(self, barn: Run) -> None:
        found = json.loads(barn("sheet", "barn", "--json").stdout)
        assert found["complaints"][0]["steps"]
        assert found["form"]["parts"][0]["letters"]

    def test_a_set_nobody_kept(self, alone: Run) -> None:
        told = alone("sheet", "byre")
        assert told.exit_code == 2
        assert "mendpool set add byre" in told.stderr


class TestFromSheet:
    def test_the_form_becomes_a_report(self, joined: Run, pool: FakePool) -> None:
        joined(*BARN)
        told = joined("report", "--from-sheet", KEYED, "--on", "barn", "--yes")
        assert told.exit_code == 0, told.output
        (body,) = pool.reports.values()
        assert body["symptoms"] == ["no-output"]
        assert [a["component"] for a in body["attempts"]] == ["brushes", "avr"]
        assert body["outcome"] == "repaired"
        assert body["machine"]["fuel"] == "diesel"

    def test_from_a_pipe_it_reads_five_lines(self, joined: Run, pool: FakePool) -> None:
        joined(*BARN)
        rows = KEYED.replace(" / ", "\n")
        told = joined("report", "--from-sheet", "-", "--on", "barn", "--yes", typed=rows)
        assert told.exit_code == 0, told.output
        assert len(pool.reports) == 1

    def test_a_row_that_cannot_be_read_is_told_by_number(self, barn: Run) -> None:
        told = barn("report", "--from-sheet", "PA / q", "--on", "barn", "--yes")
        assert told.exit_code == 2
        assert "Row 2, what was read" in told.stderr


class TestHandOn:
    def test_the_half_page_says_what_was_found_tested_and_ruled_out(self, barn: Run) -> None:
        barn(
            "ask", "--on", "barn", "--offline", "runs but no power",
            "--reading", "residual 0.4 V", "--found", "alternator-look=brushed-avr",
            "--tried", "avr replace no-change minutes=40",
        )  # fmt: skip
        told = barn("handon", "--on", "barn", COLUMNS="40")
        assert told.exit_code == 0, told.output
        text = told.stdout
        assert max(map(len, text.splitlines())) <= 40
        flat = " ".join(text.split())
        assert "It does: runs but no power" in flat
        assert "0.4 V, low (good: 1 to 10)" in flat
        assert "avr, replace: no change, 40 min" in flat
        ruled_out = flat.split("RULED OUT")[1].split("LIKELIEST")[0]
        assert "voltage regulator: failed internally" in ruled_out
        assert "residual magnetism" not in ruled_out
        assert "residual magnetism" in flat.split("LIKELIEST NOW")[1]

    def test_nothing_was_asked_yet(self, barn: Run) -> None:
        told = barn("handon", "--on", "barn")
        assert told.exit_code == 2
        assert "mendpool ask" in told.stderr


class TestBeforeOff:
    TAGS = "1 red, top left\n2 blue beside it\nlink 5 to 6\n\n"

    def test_it_comes_back_in_reverse(self, barn: Run) -> None:
        assert barn("before-off", "barn", "regulator", typed=self.TAGS).exit_code == 0
        assert barn("before-off", "barn", "cover", typed="4 screws\n").exit_code == 0
        told = barn("before-off", "barn").stdout.split("\n")
        order = [line.split(maxsplit=1)[-1] for line in told if line]
        assert order == [
            "ON: cover", "4 screws", "ON: regulator", "link 5 to 6", "2 blue beside it",
            "1 red, top left",
        ]  # fmt: skip

    def test_each_thing_back_is_struck_out_at_once(self, barn: Run) -> None:
        barn("before-off", "barn", "regulator", typed=self.TAGS)
        told = barn("before-off", "barn", "--back", typed="\nn\n")
        assert told.exit_code == 0
        left = json.loads(barn("before-off", "barn", "--json").stdout)["off"]
        assert [record["tags"] for record in left] == [["1 red, top left", "2 blue beside it"]]
        barn("before-off", "barn", "--back", typed="\n\n")
        assert barn("before-off", "barn").exit_code == 2  # nothing is off any more

    def test_every_line_is_kept_when_the_battery_dies(self, barn: Run, home: Path) -> None:
        barn("before-off", "barn", "regulator", typed="1 red\n2 blue")  # ends without a word
        kept = home / "before-off" / "barn.json"
        assert json.loads(kept.read_text())["records"][0]["tags"] == ["1 red", "2 blue"]
        assert stat.S_IMODE(kept.stat().st_mode) == 0o600

    def test_it_never_leaves_this_machine(self, joined: Run, pool: FakePool) -> None:
        joined(*BARN)
        before = len(pool.calls)
        joined("before-off", "barn", "regulator", typed=self.TAGS)
        joined("before-off", "barn")
        assert len(pool.calls) == before

    def test_a_spoilt_file_says_so(self, barn: Run, home: Path) -> None:
        (home / "before-off").mkdir(parents=True)
        (home / "before-off" / "barn.json").write_text('{"records": [3]}')
        assert barn("before-off", "barn").exit_code == 1


class TestManual:
    def test_it_names_every_command_and_option(self, alone: Run) -> None:
        page = alone("manual").stdout
        for word in ("before\\-off", "\\-\\-from\\-sheet", "set add", "EXIT STATUS"):
            assert word in page
        # No line that roff would take for a command it does not know.
        commands = {line.split()[0] for line in page.splitlines() if line.startswith(".")}
        assert commands <= {".TH", ".SH", ".SS", ".TP", ".PP", ".B"}


class TestCompletion:
    def test_the_shell_is_given_the_sets(
        self, barn: Run, home: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setenv("MENDPOOL_HOME", str(home))
        barn("set", "add", "shed", "--fuel", "petrol")
        assert set_names("") == ["barn", "shed"]
        assert set_names("B") == ["barn"]
        (home / "sets.json").write_text("spoilt")
        assert set_names("") == []
