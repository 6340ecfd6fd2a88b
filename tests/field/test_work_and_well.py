"""`mendpool work`, `mendpool well`, `judge --csv` and the proving run."""

import json
import math
from pathlib import Path
from typing import Any

import pytest

from mendpool_field.past import KEPT_MOST, keep_past, past_of

from tests.field.conftest import Run
from tests.field.fake_pool import FakePool
from tests.field.samples import BARN, REPAIR, queued

PUMP = ("work", "pump-start", "motor_hp=3 hp", "code_letter=h", "volts=230", "set_kva=15")


class TestWork:
    def test_a_sum_is_done_with_no_pool_and_shows_how(self, alone: Run) -> None:
        told = alone(*PUMP)
        assert told.exit_code == 0, told.output
        assert told.stdout.startswith("TAKE CARE")
        assert "HOW" in told.stdout
        assert "3 x 6.3" in told.stdout
        assert "NEC 430.7(B)" in told.stdout

    def test_json_is_the_answer_of_the_service(self, alone: Run) -> None:
        told = alone(*PUMP, "--json")
        body = json.loads(told.stdout)
        assert next(iter(body)) == "cautions"
        assert body["answer"]["unit"] == "%"

    def test_bare_it_lists_and_with_a_name_it_says_what_it_takes(self, alone: Run) -> None:
        listed = alone("work")
        assert listed.exit_code == 0
        assert "pump-start" in listed.stdout
        usage = alone("work", "cable")
        assert "length_m" in usage.stdout
        assert "mendpool work cable" in usage.stdout

    def test_the_plate_fills_in_what_it_knows(self, alone: Run) -> None:
        assert alone(*BARN).exit_code == 0
        told = alone(
            "work", "pump-start", "motor_hp=1", "code_letter=H", "--on", "barn", "--json"
        )
        given = json.loads(told.stdout)["given"]
        assert (given["set_kva"], given["volts"]) == (6.5, 240)
        over = alone(
            "work", "pump-start", "motor_hp=1", "code_letter=H", "volts=230", "--on", "barn",
            "--json",
        )  # fmt: skip
        assert json.loads(over.stdout)["given"]["volts"] == 230

    @pytest.mark.parametrize(
        "typed", [("amps=20",), ("amps=20 A",), ("amps=20", "length-m=30.48")]
    )
    def test_inputs_are_numbers_or_text_and_a_hyphen_will_do(
        self, alone: Run, typed: tuple[str, ...]
    ) -> None:
        told = alone("work", "cable", "length_m=100 ft", *typed, "volts=120", "size=12 AWG",
                     "insulation_degc=75", "flexible=no", "--json")  # fmt: skip
        assert told.exit_code == 0, told.output
        assert json.loads(told.stdout)["answer"]["value"] == 7.92

    def test_a_wrong_name_or_input_is_helped(self, alone: Run) -> None:
        name = alone("work", "pump-strat", "volts=230")
        assert name.exit_code == 2
        assert "mendpool work pump-start" in name.stderr
        shape = alone("work", "power", "230 volts")
        assert shape.exit_code == 2
        unit = alone("work", "power", "volts=230 A", "kw=3")
        assert unit.exit_code == 3
        assert "Volts: A is a unit of current" in unit.stderr


class TestWell:
    def test_a_well_report_is_sent_and_its_readings_kept_for_the_set(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        assert joined(*BARN).exit_code == 0
        told = joined("well", "barn", "61.5 hz no load", "aux winding 101 V", "--yes")
        assert told.exit_code == 0, told.output
        (report,) = pool.reports.values()
        assert report["outcome"] == "well"
        assert [r["text"] for r in report["readings"]] == [
            "61.5 hz no load", "aux winding 101 V",
        ]  # fmt: skip
        assert "hours" not in report["machine"]
        assert len(past_of(home, "barn")) == 2

    def test_the_past_goes_with_the_next_question_about_that_set(
        self, joined: Run, pool: FakePool
    ) -> None:
        assert joined(*BARN).exit_code == 0
        assert joined("well", "barn", "aux winding 101 V", "--yes").exit_code == 0
        assert joined("judge", "aux winding 60 V", "--on", "barn").exit_code == 0
        assert pool.calls[-1].json["past"] == [{"text": "aux winding 101 V"}]
        assert joined("judge", "aux winding 60 V", "--fuel", "diesel").exit_code == 0
        assert "past" not in pool.calls[-1].json

    def test_judged_here_the_past_counts_too(self, alone: Run, home: Path) -> None:
        assert alone(*BARN).exit_code == 0
        keep_past(home, "barn", [{"text": "aux winding 101 V"}])
        told = alone("judge", "aux winding 60 V", "--on", "barn", "--json")
        reading = json.loads(told.stdout)["readings"][0]
        assert (reading["against"], reading["verdict"]) == ("own past", "low")

    def test_bare_it_asks_for_the_proving_run(self, joined: Run, pool: FakePool) -> None:
        assert joined(*BARN).exit_code == 0
        # running, hertz, volts, leg 1, leg 2, battery, step volts, step hertz, oil, coolant,
        # protection, changeover, send
        typed = "y\n61.5\nrubbish\n241\n\n\n13.9\n236\n59.8\n\n\ny\ny\n\n"
        told = joined("well", "barn", typed=typed)
        assert told.exit_code == 0, told.output
        (report,) = pool.reports.values()
        places = [(r["quantity"], r["point"], r["value"]) for r in report["readings"]]
        assert places == [
            ("frequency", "output", "61.5"), ("voltage-ac", "output", "241"),
            ("voltage-dc", "battery-charging", "13.9"), ("voltage-ac", "output", "236"),
            ("frequency", "output", "59.8"),
        ]  # fmt: skip
        assert report["protection"] == {"left": "proved"}
        assert "no number" in told.stderr

    def test_a_reading_that_shows_a_fault_is_no_good_reading(
        self, joined: Run, pool: FakePool
    ) -> None:
        assert joined(*BARN).exit_code == 0
        told = joined("well", "barn", "300 V at the outlet, no load", "--yes")
        assert told.exit_code == 2
        assert "That is no healthy set." in " ".join(told.stderr.split())
        assert not pool.reports

    def test_a_set_that_does_not_run_is_not_proved(self, joined: Run, pool: FakePool) -> None:
        assert joined(*BARN).exit_code == 0
        told = joined("well", "barn", typed="n\n")
        assert told.exit_code == 2
        assert not pool.reports

    def test_a_proving_run_is_offered_after_a_repair_to_someone_at_a_terminal(
        self, joined: Run, pool: FakePool, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr("mendpool_field.console.someone_is_there", lambda: True)
        assert joined(*BARN).exit_code == 0
        repair = ("report", "no power", "--on", "barn", "--tried", "brushes replace fixed")
        # yes to the run, its twelve answers, no hours, yes to sending
        told = joined(*repair, typed="y\ny\n61.5\n241\n\n\n\n\n\n\n\ny\ny\n\ny\n")
        assert told.exit_code == 0, told.output
        (report,) = pool.reports.values()
        assert {r["stage"] for r in report["readings"]} == {"left"}
        pool.reports.clear()
        # no to the run, no hours, yes to sending
        assert joined(*repair, typed="n\n\ny\n").exit_code == 0
        (plain,) = pool.reports.values()
        assert "readings" not in plain

    def test_a_repair_is_proved_and_its_readings_are_as_left(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        assert joined(*BARN).exit_code == 0
        told = joined(
            "report", "no power", "--on", "barn", "--tried", "brushes replace fixed",
            "--prove", "--yes", typed="y\n61.5\n241\n\n\n\n\n\n\n\ny\ny\n",
        )  # fmt: skip
        assert told.exit_code == 0, told.output
        (report,) = pool.reports.values()
        assert [r["stage"] for r in report["readings"]] == ["left", "left"]
        assert report["protection"] == {"left": "proved"}
        assert [r["stage"] for r in past_of(home, "barn")] == ["left", "left"]

    def test_no_load_is_asked_of_a_set_that_reads_wrong_without_one(
        self, joined: Run, pool: FakePool
    ) -> None:
        assert joined(*BARN).exit_code == 0
        told = joined(
            "report", "no power", "--on", "barn", "--tried", "brushes replace fixed",
            "--prove", "--yes", typed="y\n61.5\n300\n\n",
        )  # fmt: skip
        assert told.exit_code == 0, told.output
        assert "No load is put on" in " ".join(told.output.split())
        assert "Switch on a plain load" not in " ".join(told.output.split())
        (report,) = pool.reports.values()
        assert [r["value"] for r in report["readings"]] == ["61.5", "300"]
        assert "protection" not in report

    def test_without_the_option_nothing_is_asked(self, joined: Run, pool: FakePool) -> None:
        assert joined(*REPAIR, "--yes").exit_code == 0
        (report,) = pool.reports.values()
        assert "readings" not in report

    def test_with_no_signal_it_waits_in_the_outbox(self, cut_off: Run, home: Path) -> None:
        assert cut_off(*BARN).exit_code == 0
        assert cut_off("well", "barn", "61.5 hz no load", "--yes").exit_code == 0
        assert len(queued(home)) == 1

    def test_a_reading_that_is_none_is_refused_before_it_is_kept(
        self, alone: Run, home: Path
    ) -> None:
        assert alone(*BARN).exit_code == 0
        assert alone("well", "barn", "blah", "--yes").exit_code == 3
        assert past_of(home, "barn") == []

    def test_the_newest_three_hundred_are_kept(self, home: Path) -> None:
        home.mkdir()
        keep_past(home, "barn", [{"text": f"{n} hz"} for n in range(KEPT_MOST + 5)])
        kept = past_of(home, "Barn")
        assert len(kept) == KEPT_MOST
        assert kept[-1] == {"text": f"{KEPT_MOST + 4} hz"}


class TestLog:
    def csv(self, folder: Path, swing: float) -> str:
        file = folder / "run.csv"
        rows = [f"{t},{60 + swing * math.sin(t):.3f}" for t in range(200)]
        file.write_text("time,Hz\n" + "\n".join(rows) + "\n", "utf-8")
        return str(file)

    def judged(self, run: Run, file: str) -> dict[str, Any]:
        assert run("set", "add", "barn", "--fuel", "diesel", "--hz", "60", "--duty",
                   "standby").exit_code == 0  # fmt: skip
        told = run("judge", "--csv", file, "--on", "barn", "--json")
        assert told.exit_code == 0, told.output
        found: dict[str, Any] = json.loads(told.stdout)
        return found

    def test_a_log_is_judged_by_the_class_of_the_set(self, alone: Run, tmp_path: Path) -> None:
        (column,) = self.judged(alone, self.csv(tmp_path, 0.3))["columns"]
        assert (column["verdict"], column["class"], column["best"]) == ("steady", "G2", "G2")

    def test_it_is_drawn_within_the_width(self, alone: Run, tmp_path: Path) -> None:
        file = self.csv(tmp_path, 2.0)
        told = alone("judge", "--csv", file, "--fuel", "diesel", "--ascii", COLUMNS="40")
        assert told.exit_code == 0, told.output
        assert told.stdout.isascii()
        assert "#" in told.stdout
        assert max(map(len, told.stdout.split("\n"))) <= 40

    def test_a_log_comes_from_stdin_too(self, alone: Run) -> None:
        told = alone("judge", "--csv", "-", typed="time,V\n0,240\n1,241\n2,240\n")
        assert told.exit_code == 0, told.output
        assert "3 readings, 240 to 241 V" in told.stdout

    def test_a_log_that_is_not_whole_is_refused_with_its_line(self, alone: Run) -> None:
        told = alone("judge", "--csv", "-", typed="time,V\n0,240\n1,dead\n2,240\n")
        assert told.exit_code == 3
        assert "no number" in told.stderr

    def test_no_file_and_no_readings_are_matters_of_usage(self, alone: Run) -> None:
        assert alone("judge", "--csv", "nowhere.csv").exit_code == 2
        assert alone("judge").exit_code == 2
        assert alone("judge", "60 hz", "--csv", "-").exit_code == 2
