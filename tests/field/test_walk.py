"""`mendpool ask --steps`: a session at the set, driven by the lines a person types."""

import json
import re
from pathlib import Path

import pytest

from tests.field.conftest import Run
from tests.field.fake_pool import FakePool, problem
from tests.field.samples import BARN, queued
from tests.field.walking import (
    AVR,
    BRUSHES,
    LOOK,
    PROVE,
    SAFE,
    SWITCH,
    VOLTS,
    Planner,
    kept,
    lines,
)

ASK = ("ask", "--on", "barn", "--steps")
BEGIN = (*ASK, "runs but no power")


@pytest.fixture(autouse=True)
def _barn(joined: Run) -> None:
    assert joined(*BARN).exit_code == 0


class TestToTheEnd:
    def test_the_report_is_written_by_walking(self, joined: Run, pool: FakePool) -> None:
        planner = Planner(LOOK, VOLTS, BRUSHES).at(pool)
        typed = lines(
            "1",  # the look: all well
            "0.4",  # volts
            "1", "25",  # brushes: gone, in 25 minutes
            "1", "",  # worn; repaired
            "1",  # nothing was bridged
            "n",  # no proving run
            "left brush down to the holder",
            "y",
        )  # fmt: skip
        told = joined(*BEGIN, typed=typed)
        assert told.exit_code == 0, told.output
        (report,) = pool.reports.values()
        report.pop("id")
        assert re.fullmatch(r"\d{4}-\d\d", report.pop("happened"))
        assert report.pop("machine")["fuel"] == "diesel"
        assert report == {
            "complaint": "runs but no power",
            "symptoms": ["no-output"],
            "observations": [{"check": "walk-round", "found": "all-right"}],
            "readings": [
                {
                    "quantity": "voltage-ac", "point": "output", "condition": "no-load",
                    "value": "0.4", "stage": "found",
                }
            ],
            "attempts": [
                {
                    "component": "brushes", "action": "replace", "result": "fixed",
                    "minutes": 25.0,
                }
            ],
            "cause": {"component": "brushes", "failure": "worn"},
            "outcome": "repaired",
            "protection": {"found": "intact"},
            "note": "left brush down to the holder",
        }  # fmt: skip
        assert len(planner.asked) == 3

    def test_one_step_is_shown_with_how_expect_minutes_why_and_what_it_waits_for(
        self, joined: Run, pool: FakePool
    ) -> None:
        Planner(LOOK, BRUSHES).at(pool)
        told = joined(*BEGIN, typed=lines("1", "q"))
        first, _, second = told.stdout.partition("So: Go on.")
        assert "1. Test: One minute round the set (about 1 min)" in first
        assert "Mend:" not in first
        assert "2. Mend: brushes and holder: replace (about 25 min)" in second
        for words in ("How: Whole block.", "Why: If it comes", "Wait: a part is not at hand",
                      "Or: cleaning the rings"):  # fmt: skip
            assert words in second
        assert told.stdout.index("TAKE CARE") < told.stdout.index("1. Test")

    def test_nothing_is_sent_without_a_yes(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        Planner(BRUSHES).at(pool)
        told = joined(*BEGIN, typed=lines("1", "", "1", "", "", "", "", "n"))
        assert told.exit_code == 0, told.output
        assert "THIS WILL BE SENT" in told.stdout
        assert not pool.reports
        assert queued(home) == []
        assert kept(home)["log"][0]["attempt"]["result"] == "fixed"

    def test_back_at_the_report_answers_the_last_question_otherwise(
        self, joined: Run, pool: FakePool
    ) -> None:
        Planner(BRUSHES).at(pool)
        told = joined(*BEGIN, typed=lines("1", "", "1", "", "", "", "oops", "b", "better", "y"))
        assert told.exit_code == 0, told.output
        assert next(iter(pool.reports.values()))["note"] == "better"

    def test_better_and_then_cured_can_be_two_faults(self, joined: Run, pool: FakePool) -> None:
        planner = Planner(AVR, BRUSHES).at(pool)
        typed = lines("2", "40", "1", "25", "1", "y", "1", "", "", "", "", "y")
        told = joined(*BEGIN, typed=typed)
        assert told.exit_code == 0, told.output
        assert planner.asked[1]["tried"][0]["result"] == "improved"
        (report,) = pool.reports.values()
        assert [a["result"] for a in report["attempts"]] == ["improved", "fixed"]
        assert report["causes"] == [
            {"component": "brushes", "failure": "worn", "role": "root"},
            {"component": "avr", "failure": "failed", "role": "separate"},
        ]

    def test_ended_without_a_cure_it_asks_how(self, joined: Run, pool: FakePool) -> None:
        Planner(BRUSHES).at(pool)
        told = joined(*BEGIN, typed=lines("3", "", "e", "sent-away", "", "1", "", "y"))
        assert told.exit_code == 0, told.output
        (report,) = pool.reports.values()
        assert report["outcome"] == "sent-away"
        assert "cause" not in report

    def test_a_proving_run_is_part_of_it(self, joined: Run, pool: FakePool, home: Path) -> None:
        Planner(BRUSHES).at(pool)
        run = ("y", "61.5", "241", "", "", "", "", "", "", "", "y", "y")
        told = joined(*BEGIN, typed=lines("1", "", "1", "", "1", "y", *run, "", "y"))
        assert told.exit_code == 0, told.output
        (report,) = pool.reports.values()
        assert [r["stage"] for r in report["readings"]] == ["left", "left"]
        assert report["protection"] == {"found": "intact", "left": "proved"}
        assert len(json.loads((home / "past.json").read_bytes())["barn"]) == 2


class TestMoves:
    def test_a_step_that_was_skipped_is_not_asked_again(
        self, joined: Run, pool: FakePool
    ) -> None:
        Planner(LOOK, VOLTS, BRUSHES).at(pool)
        told = joined(*BEGIN, typed=lines("s", "low", "q"))
        assert told.stdout.count("One minute round the set") == 1
        assert "Volts at the output" in told.stdout
        again = joined(*ASK, typed=lines("y", "q"))
        assert "One minute round the set" not in again.stdout
        assert "3. Mend: brushes" in again.stdout

    def test_with_a_fix_its_proving_is_skipped_too(self, joined: Run, pool: FakePool) -> None:
        Planner(SWITCH, PROVE, BRUSHES).at(pool)
        told = joined(*BEGIN, typed=lines("s", "q"))
        assert "2. Mend: brushes" in told.stdout
        assert "Prove:" not in told.stdout

    def test_back_takes_the_last_answer_back(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        planner = Planner(LOOK, VOLTS, BRUSHES).at(pool)
        told = joined(*BEGIN, typed=lines("1", "b", "b", "", "2", "s", "q"))
        assert "This is the first step." in told.stderr
        assert [e["kind"] for e in kept(home)["log"]] == ["saw", "skip"]
        assert planner.asked[-1]["observations"] == [
            {"check": "walk-round", "found": "fuel-out"}
        ]

    def test_back_at_the_first_step_the_words_can_be_changed(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        planner = Planner(LOOK).at(pool)
        joined(*BEGIN, typed=lines("b", "won't start when hot", "q"))
        assert planner.asked[-1]["complaint"] == "won't start when hot"
        assert kept(home)["log"] == []

    def test_back_out_of_a_dialogue_drops_it(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        Planner(BRUSHES).at(pool)
        joined(*BEGIN, typed=lines("1", "b", "3", "b", "q"))
        assert kept(home)["log"] == []
        assert kept(home)["dialog"] is None

    def test_why_shows_the_odds(self, joined: Run, pool: FakePool) -> None:
        Planner(BRUSHES).at(pool)
        told = joined(*BEGIN, typed=lines("w", "q"))
        assert "50 %  brushes: worn" in told.stdout

    def test_another_reading_and_another_deed_go_into_the_next_question(
        self, joined: Run, pool: FakePool
    ) -> None:
        planner = Planner(LOOK, BRUSHES).at(pool)
        typed = lines("r residual 0.4 V", "r", "61 hz no load", "d", "avr", "clean",
                      "no-change", "5", "q")  # fmt: skip
        joined(*BEGIN, typed=typed)
        last = planner.asked[-1]
        assert last["readings"] == [{"text": "residual 0.4 V"}, {"text": "61 hz no load"}]
        assert last["tried"] == [
            {"component": "avr", "action": "clean", "result": "no-change", "minutes": 5.0}
        ]

    def test_a_phrase_is_never_put_where_another_figure_was_asked(
        self, joined: Run, pool: FakePool
    ) -> None:
        planner = Planner(VOLTS, BRUSHES).at(pool)
        joined(*BEGIN, typed=lines("residual 0.4 V", "q"))
        assert planner.asked[-1]["readings"] == [{"text": "residual 0.4 V"}]

    def test_a_lone_digit_that_reads_wrong_is_asked_about(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        """It may have been meant for a key."""
        Planner(VOLTS, BRUSHES).at(pool)
        told = joined(*BEGIN, typed=lines("2", "n", "q"))
        assert "Does it read 2 V?" in told.stderr
        assert kept(home)["log"] == []
        joined(*ASK, typed=lines("y", "2", "y", "q"))
        assert kept(home)["log"][0]["reading"]["value"] == "2"

    def test_a_figure_without_limits_is_judged_by_the_person(
        self, joined: Run, pool: FakePool
    ) -> None:
        check = {**VOLTS, "check": "field-volts", "says": "Field: about 2 min. Look."}
        planner = Planner(check, BRUSHES).at(pool)
        told = joined(*BEGIN, typed=lines("12.5", "1", "q"))
        assert "no limits here to judge that by" in " ".join(told.stderr.split())
        assert planner.asked[-1]["readings"][0]["value"] == "12.5"
        assert planner.asked[-1]["observations"] == [{"check": "field-volts", "found": "low"}]

    def test_rubbish_is_told_so_and_changes_nothing(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        Planner(LOOK, VOLTS).at(pool)
        rubbish = ("", "99", "zz", "\x1b[2J", "x" * 5000, "; drop table", "r", "")
        told = joined(*BEGIN, typed=lines(*rubbish, "1", "12 bananas", "", "?", "q"))
        assert told.exit_code == 0, told.output
        assert "Type one of the keys" in told.stderr
        assert "no such unit" in told.stderr
        assert told.stderr.count("s skip it; b back") == 2
        assert "\x1b" not in told.output
        assert [e["kind"] for e in kept(home)["log"]] == ["saw"]

    def test_what_the_pool_can_not_use_is_taken_back(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        planner = Planner(LOOK, BRUSHES).at(pool)
        plain = pool.instead
        errors = [{"at": "/readings/0", "says": "no such thing is read there"}]
        pool.instead = lambda call: (
            problem(422, errors=errors) if b'"readings"' in call.body else plain(call)
        )
        told = joined(*BEGIN, typed=lines("r 238 V at the outlet", "q"))
        assert told.exit_code == 0, told.output
        assert "no such thing is read there" in " ".join(told.stderr.split())
        assert kept(home)["log"] == []
        assert len(planner.asked) == 2


class TestSafety:
    def test_no_step_comes_before_it_is_safe(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        Planner(SAFE, LOOK).at(pool)
        told = joined(*BEGIN, typed=lines("", "s", "1", "yes"))
        assert told.exit_code == 130
        assert "Shut the fuel tap" in told.stdout
        assert "One minute round" not in told.stdout
        told = joined(*ASK, typed=lines("y", "d", "1", "q"))
        assert "One minute round" in told.stdout
        assert [e["kind"] for e in kept(home)["log"]] == ["safe", "saw"]

    def test_what_was_made_safe_is_not_asked_again_unless_taken_back(
        self, joined: Run, pool: FakePool
    ) -> None:
        Planner(SAFE, LOOK, BRUSHES).at(pool)
        told = joined(*BEGIN, typed=lines("d", "1", "b", "b", "d", "q"))
        assert told.stdout.count("Shut the fuel tap") == 2

    def test_what_can_not_be_made_safe_ends_it(self, joined: Run, pool: FakePool) -> None:
        Planner(SAFE, LOOK).at(pool)
        told = joined(*BEGIN, typed=lines("n", "open", "", "1", "", "y"))
        assert told.exit_code == 0, told.output
        assert "keep everybody away" in told.stdout
        assert next(iter(pool.reports.values()))["outcome"] == "open"

    @pytest.mark.parametrize(
        ("key", "left", "defeated"),
        [("1", "proved", None), ("2", "untested", None), ("3", "defeated", True)],
    )
    def test_a_fix_that_opens_a_protection_is_proved(
        self, joined: Run, pool: FakePool, key: str, left: str, defeated: bool | None
    ) -> None:
        Planner(SWITCH, PROVE).at(pool)
        told = joined(*BEGIN, typed=lines("1", "25", "", key, "", "", "", "", "y"))
        assert told.exit_code == 0, told.output
        assert "put it back and prove that it stops" in " ".join(told.stderr.split())
        (report,) = pool.reports.values()
        assert report["protection"] == {"left": left}
        assert report.get("protection_defeated") is defeated

    def test_a_protection_of_ones_own_accord_is_asked_about_too(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        Planner(LOOK).at(pool)
        told = joined(
            *BEGIN, typed=lines("d", "oil-switch", "clean", "no-change", "", "1", "q")
        )
        assert told.exit_code == 0, told.output
        assert kept(home)["log"][0]["proof"] == "proved"

    def test_a_get_by_is_shown_only_when_asked_for_and_after_a_warning(
        self, joined: Run, pool: FakePool
    ) -> None:
        planner = Planner(BRUSHES).at(pool)
        told = joined(*BEGIN, typed=lines("g", "n", "q"))
        assert "solenoid" not in told.output
        assert [q.get("get_by") for q in planner.asked] == [None, True, None]
        told = joined(*ASK, typed=lines("y", "g", "y", "1", "1", "10", "", "", "", "y"))
        assert told.exit_code == 0, told.output
        said = " ".join(told.stderr.split())
        assert said.index("None of these mends anything") < said.index("fuel solenoid, bypass")
        assert "Limit: one night, never alone" in said
        (report,) = pool.reports.values()
        assert report["outcome"] == "get-by"
        assert report["attempts"][0]["action"] == "bypass"
        assert report["protection_defeated"] is True


class TestForPrograms:
    def test_json_is_one_object_a_line(self, joined: Run, pool: FakePool) -> None:
        Planner(SAFE, LOOK, BRUSHES).at(pool)
        typed = lines("d", "1", "1", "", "1", "", "1", "", "", "y")
        told = joined(*BEGIN, "--json", typed=typed)
        assert told.exit_code == 0, told.output
        said = [json.loads(line) for line in told.stdout.splitlines()]
        kinds = [one["say"] for one in said]
        assert kinds[-1] == "kept"
        assert said[-1]["state"] == "sent"
        assert {"safe", "step", "question", "report", "cautions"} <= set(kinds)
        step = next(one for one in said if one["say"] == "step")
        assert step["step"]["check"] == "walk-round"
        question = next(one for one in said if one["say"] == "question")
        assert question["choices"][0] == {"key": "d", "says": "done, it is safe now"}
