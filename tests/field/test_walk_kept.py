"""A session outlives the battery, the signal and the person; so do a report's answers."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from mendpool_field.cli import app
from mendpool_field.disk import locked
from mendpool_field.sessions import Sessions, ago

from tests.field.conftest import Run
from tests.field.fake_pool import FakePool, problem
from tests.field.samples import BARN, queued
from tests.field.walking import (
    AVR,
    BRUSHES,
    LOOK,
    SAFE,
    VOLTS,
    Planner,
    is_kept,
    kept,
    lines,
)

ASK = ("ask", "--on", "barn", "--steps")
BEGIN = (*ASK, "runs but no power")
TO_THE_END = ("1", "0.4", "1", "25", "1", "", "1", "n", "a note", "y")


@pytest.fixture
def barn(joined: Run) -> None:
    assert joined(*BARN).exit_code == 0


@pytest.mark.usefixtures("barn")
class TestResumed:
    @pytest.mark.parametrize("died_after", range(len(TO_THE_END)))
    def test_wherever_it_breaks_off_it_goes_on_from_there(
        self, joined: Run, pool: FakePool, home: Path, died_after: int
    ) -> None:
        Planner(LOOK, VOLTS, BRUSHES).at(pool)
        first = joined(*BEGIN, typed=lines(*TO_THE_END[:died_after]))
        assert first.exit_code == 130
        assert "mendpool ask --on barn --steps" in first.stderr
        told = joined(*ASK, typed=lines("y", *TO_THE_END[died_after:]))
        assert told.exit_code == 0, told.output
        (report,) = pool.reports.values()
        assert report["attempts"][0]["minutes"] == 25.0
        assert report["readings"][0]["value"] == "0.4"
        assert report["note"] == "a note"
        assert not is_kept(home)

    def test_it_says_where_it_stood_and_what_was_found(
        self, joined: Run, pool: FakePool
    ) -> None:
        Planner(LOOK, VOLTS, BRUSHES).at(pool)
        joined(*BEGIN, typed=lines("1", "0.4", "q"))
        told = joined(*ASK, typed=lines("q"))
        said = " ".join(told.stderr.split())
        assert "You were at step 3 with barn (“runs but no power”)" in said
        assert "So far: walk round: all right; voltage ac, output: 0.4" in said

    def test_q_stops_with_0_and_an_empty_session_is_not_kept(
        self, joined: Run, home: Path
    ) -> None:
        told = joined(*ASK, typed=lines("q"))
        assert told.exit_code == 0, told.output
        assert not is_kept(home)

    def test_only_its_owner_reads_it(self, joined: Run, pool: FakePool, home: Path) -> None:
        Planner(LOOK).at(pool)
        joined(*BEGIN, typed=lines("q"))
        modes = {
            path.name: path.stat().st_mode & 0o777
            for path in (home / "sessions" / "barn.json", home / "asked" / "barn.json")
        }
        assert modes == {"barn.json": 0o600}
        assert (home / "sessions").stat().st_mode & 0o777 == 0o700

    def test_begun_afresh_the_old_one_is_set_aside(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        Planner(LOOK, BRUSHES).at(pool)
        joined(*BEGIN, typed=lines("1", "q"))
        told = joined(*ASK, "smokes black", typed=lines("n", "q"))
        assert told.exit_code == 0, told.output
        assert kept(home)["asked"]["complaint"] == "smokes black"
        aside = json.loads((home / "sessions" / "barn.aside.json").read_bytes())
        assert aside["asked"]["complaint"] == "runs but no power"

    def test_what_is_typed_on_the_line_is_added_to_it(
        self, joined: Run, pool: FakePool
    ) -> None:
        planner = Planner(LOOK, VOLTS, BRUSHES).at(pool)
        joined(*BEGIN, typed=lines("q"))
        joined(*ASK, "--found", "walk-round=all-right", "--tried", "avr clean no-change",
               typed=lines("y", "q"))  # fmt: skip
        last = planner.asked[-1]
        assert last["observations"] == [{"check": "walk-round", "found": "all-right"}]
        assert last["tried"][0]["component"] == "avr"
        assert last["complaint"] == "runs but no power"

    def test_again_asks_with_all_that_the_session_told(
        self, joined: Run, pool: FakePool
    ) -> None:
        planner = Planner(LOOK, VOLTS, BRUSHES).at(pool)
        joined(*BEGIN, typed=lines("1", "q"))
        assert joined("ask", "--on", "barn", "--again").exit_code == 0
        assert planner.asked[-1]["observations"] == [
            {"check": "walk-round", "found": "all-right"}
        ]

    def test_a_report_that_was_saved_is_not_made_twice(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        """The battery dies after the outbox has it and before the session is gone."""
        Planner(BRUSHES).at(pool)
        joined(*BEGIN, typed=lines("1", "", "1", "", "1", "", "", "n"))
        path = home / "sessions" / "barn.json"
        session = json.loads(path.read_bytes())
        joined(*ASK, typed=lines("y", "y"))
        (report,) = pool.reports
        path.write_text(json.dumps({**session, "report": report}), "utf-8")
        told = joined(*ASK, "smokes", typed=lines("q"))
        assert told.exit_code == 0, told.output
        assert "You were at" not in told.stderr
        assert len(pool.reports) == 1

    def test_a_session_that_can_not_be_read_says_so(self, joined: Run, home: Path) -> None:
        (home / "sessions").mkdir()
        (home / "sessions" / "barn.json").write_text('{"on": "other"}', "utf-8")
        told = joined(*BEGIN, typed="")
        assert told.exit_code == 1
        assert "can't be read" in told.stderr

    def test_two_can_not_walk_one_set(self, joined: Run, home: Path) -> None:
        with locked(Sessions(home).lock_of("barn"), wait=False) as ours:
            assert ours
            told = joined(*BEGIN, typed=lines("q"))
        assert told.exit_code == 2
        assert "Another mendpool is walking this set" in " ".join(told.stderr.split())

    def test_a_session_of_another_catalogue_asks_its_last_questions_again(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        Planner(BRUSHES).at(pool)
        joined(*BEGIN, typed=lines("1", "", "1"))
        path = home / "sessions" / "barn.json"
        session = json.loads(path.read_bytes())
        assert session["dialog"]["typed"] == ["1"]
        session["dialog"]["catalogue"] = "older"
        path.write_text(json.dumps(session), "utf-8")
        told = joined(*ASK, typed=lines("y", "q"))
        assert "The likeliest stands first" in " ".join(told.stderr.split())


@pytest.mark.usefixtures("barn")
class TestWithoutSignal:
    def test_a_pool_that_goes_away_is_told_once_and_the_report_waits(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        planner = Planner(LOOK, VOLTS, BRUSHES).at(pool)
        plain = pool.instead
        pool.instead = lambda call: plain(call) if len(planner.asked) < 1 else problem(503)
        told = joined(*BEGIN, typed=lines("1", "s", "s", "e", "open", "", "1", "", "y"))
        assert told.exit_code == 0, told.output
        assert told.stderr.count("Going on without the pool") == 1
        (entry,) = queued(home)
        assert json.loads(entry["body"])["observations"][0]["check"] == "walk-round"
        assert not is_kept(home)

    def test_with_no_connection_it_begins_offline(self, cut_off: Run) -> None:
        told = cut_off(*BEGIN, typed=lines("1", "q"))
        assert told.exit_code == 0, told.output
        assert "No way through" in told.stderr
        assert "1. Test: One minute round the set" in told.stdout
        assert "2. " in told.stdout

    @pytest.mark.parametrize("more", [(), ("--offline",)])
    def test_with_no_pool_joined_it_walks_too(self, alone: Run, more: tuple[str, ...]) -> None:
        told = alone(*BEGIN, *more, typed=lines("1", "q"))
        assert told.exit_code == 0, told.output
        assert "2. " in told.stdout

    def test_words_nobody_knows_are_asked_for_again_once(self, alone: Run) -> None:
        told = alone(*ASK, "grmbl", typed=lines("no power at all", "q"))
        assert "Say it in other words?" in " ".join(told.stderr.split())
        assert "Taken as: no output" in told.stdout

    def test_an_expired_token_is_no_reason_to_stop(self, joined: Run) -> None:
        told = joined(*BEGIN, typed=lines("q"), MENDPOOL_TOKEN="not-the-one")
        assert told.exit_code == 0, told.output
        assert "Going on without the pool" in told.stderr


@pytest.mark.parametrize("columns", [40, 80])
def test_no_line_is_wider_than_the_terminal(
    joined: Run, alone: Run, pool: FakePool, columns: int
) -> None:
    assert joined(*BARN).exit_code == 0
    Planner(SAFE, LOOK, VOLTS, AVR, BRUSHES).at(pool)
    typed = ("d", "1", "bananas", "0.4", "w", "?", "2", "", "g", "y", "", "d", "", "q")
    env = {"COLUMNS": str(columns), "NO_COLOR": "1", "TERM": "dumb"}
    told = joined(*BEGIN, typed=lines(*typed), **env)
    assert told.exit_code == 0, told.output
    resumed = joined(*ASK, typed=lines("r", "open", "", "1", "", "y"), **env)
    assert resumed.exit_code == 0, resumed.output
    real = alone("ask", "--steps", "--on", "barn", "petrol leak, no power, shocks me",
                 typed=lines("d", "d", "1", "w", "s", "s", "s", "q"), **env)  # fmt: skip
    assert real.exit_code == 0, real.output
    for run in (told, resumed, real):
        for stream in (run.stdout, run.stderr):
            # What is typed is not echoed here, so a question's last line ends in the prompt.
            rows = [row.removeprefix("Your answer? ") for row in stream.splitlines()]
            assert [row for row in rows if len(row) > columns] == []
            assert "\x1b" not in stream


@pytest.mark.usefixtures("barn")
class TestReport:
    def test_a_bare_report_offers_the_session_of_that_set(
        self, joined: Run, pool: FakePool
    ) -> None:
        Planner(LOOK, BRUSHES).at(pool)
        joined(*BEGIN, typed=lines("1", "q"))
        told = joined(
            "report", "--on", "barn", typed=lines("y", "1", "", "1", "", "1", "", "", "y")
        )
        assert told.exit_code == 0, told.output
        assert "You were at step 2 with barn" in told.stderr
        assert next(iter(pool.reports.values()))["outcome"] == "repaired"

    def test_it_can_write_the_report_at_once(self, joined: Run, pool: FakePool) -> None:
        Planner(LOOK, BRUSHES).at(pool)
        joined(*BEGIN, typed=lines("1", "q"))
        told = joined("report", typed=lines("r", "open", "", "1", "", "y"))
        assert told.exit_code == 0, told.output
        (report,) = pool.reports.values()
        assert report["outcome"] == "open"
        assert report["observations"]

    def test_left_alone_it_stays_and_the_questions_begin(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        Planner(LOOK, BRUSHES).at(pool)
        joined(*BEGIN, typed=lines("1", "q"))
        told = joined("report", "--on", "barn", typed=lines("n", "q"))
        assert "What did it do, or not do?" in told.stderr
        assert is_kept(home)

    def test_its_own_answers_outlive_the_battery(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        answers = ("no power", "", "", "brushes", "replace", "fixed", "25", "", "yes", "1",
                   "repaired", "", "b", "", "", "y")  # fmt: skip
        for died_after in (1, 6, 12):
            first = joined("report", "--on", "barn", typed=lines(*answers[:died_after]))
            assert first.exit_code == 130
            assert "mendpool report --on barn" in first.stderr
            told = joined("report", "--on", "barn", typed=lines("y", *answers[died_after:]))
            assert told.exit_code == 0, told.output
            assert pool.reports.popitem()[1]["attempts"] == [
                {"component": "brushes", "action": "replace", "result": "fixed",
                 "minutes": 25.0}
            ]  # fmt: skip
            assert not list((home / "answers").glob("*.json"))

    def test_back_goes_back_and_q_stops(self, joined: Run, home: Path) -> None:
        told = joined(
            "report", "--on", "barn", typed=lines("b", "no powr", "b", "no power", "q")
        )
        assert told.exit_code == 0, told.output
        assert "This is the first question." in told.stderr
        kept_answers = json.loads((home / "answers" / "barn.json").read_bytes())
        assert kept_answers["typed"] == ["no power"]

    def test_what_was_refused_can_be_answered_otherwise(
        self, joined: Run, pool: FakePool
    ) -> None:
        errors = [{"at": "/note", "says": "too long"}]
        pool.instead = lambda call: (
            problem(422, errors=errors) if b"bananas" in call.body else None
        )
        answers = ("no power", "", "", "", "", "open", "", "bananas")
        told = joined("report", "--on", "barn", typed=lines(*answers))
        assert told.exit_code == 3, told.output
        told = joined("report", "--on", "barn", typed=lines("y", "short", "y"))
        assert told.exit_code == 0, told.output
        assert next(iter(pool.reports.values()))["note"] == "short"


def test_how_long_ago_is_said_as_people_do() -> None:
    assert [ago(s) for s in (0, 3599, 7200, 90_000, 300_000)] == [
        "a short while ago", "a short while ago", "2 h ago", "yesterday", "3 days ago",
    ]  # fmt: skip


def test_the_options_are_told_by_help() -> None:
    told = CliRunner().invoke(app, ["ask", "--help"])
    for option in ("--steps", "--get-by", "--again", "--have", "--must-run", "--found"):
        assert option in told.stdout
