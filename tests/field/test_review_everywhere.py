"""What goes is seen and mended wherever words are sent: walked sessions, follow-ups."""

import json
from pathlib import Path

import pytest

from mendpool_field import console

from tests.field.conftest import Run
from tests.field.fake_pool import FakePool
from tests.field.samples import BARN, REPAIR, queued
from tests.field.walking import BRUSHES, Planner, kept, lines

NOTE = "ask Tovrin about the Zimbelring, it squeals"
WALK = ("ask", "--on", "barn", "--steps", "runs but no power since Quilla lent it")
TO_THE_NOTE = ("1", "", "1", "", "", "")


class TestWalked:
    @pytest.fixture(autouse=True)
    def _at_the_barn(self, joined: Run, pool: FakePool) -> None:
        assert joined(*BARN).exit_code == 0
        Planner(BRUSHES).at(pool)

    def test_what_goes_is_shown_with_its_words_before_the_yes(
        self, joined: Run, pool: FakePool
    ) -> None:
        told = joined(*WALK, typed=lines(*TO_THE_NOTE, NOTE, "y"))
        assert told.exit_code == 0, told.output
        before, _, _ = told.output.rpartition("Send it?")
        for line in ("Goes: Quilla (name)", "Goes: Tovrin (name)", "Goes: Zimbelring (name)"):
            assert line in before
        (report,) = pool.reports.values()
        assert report["note"] == "ask [name] about the [name], it squeals"
        assert report["complaint"] == "runs but no power since [name] lent it"

    def test_a_trade_word_is_put_back(self, joined: Run, pool: FakePool) -> None:
        told = joined(*WALK, typed=lines(*TO_THE_NOTE, NOTE, "p", "3", "", "y"))
        assert told.exit_code == 0, told.output
        (report,) = pool.reports.values()
        assert report["note"] == "ask [name] about the Zimbelring, it squeals"
        assert json.loads(joined("kept-words", "--json").stdout) == {
            "words": ["zimbelring"],
            "shared": [],
        }

    def test_more_is_taken_out_of_what_was_said_and_of_the_note_here_too(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        taking = (*TO_THE_NOTE, "lent to the mill", "r", "lent", "r", "mill")
        told = joined(*WALK, typed=lines(*taking, "q"))
        assert "Taken out 2 times" in told.output
        assert "Taken out once" in told.output
        assert "mill" not in json.dumps(kept(home))
        told = joined("ask", "--on", "barn", "--steps", typed=lines("", "y"))
        assert told.exit_code == 0, told.output
        (report,) = pool.reports.values()
        assert report["note"] == "[name] to the [name]"
        assert "lent" not in report["complaint"]

    def test_what_is_not_there_is_told_and_nothing_changes(
        self, joined: Run, pool: FakePool
    ) -> None:
        told = joined(*WALK, typed=lines(*TO_THE_NOTE, "fine now", "r", "heron", "y"))
        assert "“heron” is not in the text" in told.output
        (report,) = pool.reports.values()
        assert report["note"] == "fine now"

    def test_b_still_goes_back(self, joined: Run, pool: FakePool) -> None:
        told = joined(*WALK, typed=lines(*TO_THE_NOTE, NOTE, "b", "nothing", "y"))
        assert told.exit_code == 0, told.output
        (report,) = pool.reports.values()
        assert report["note"] == "nothing"

    def test_a_program_is_told_and_asked_the_same(self, joined: Run) -> None:
        told = joined(*WALK, "--json", typed=lines(*TO_THE_NOTE, NOTE, "p", "3", "", "y"))
        assert told.exit_code == 0, told.output
        said = [json.loads(line) for line in told.stdout.splitlines()]
        goes = [one["goes"] for one in said if one["say"] == "goes"]
        assert {"kind": "name", "words": "Zimbelring"} in goes[0]
        assert {"kind": "name", "words": "Zimbelring"} not in goes[1]
        (which,) = [one for one in said if "Which of these" in str(one.get("asks"))]
        assert {"key": "3", "says": "Zimbelring"} in which["choices"]

    def test_nothing_is_told_where_nothing_goes(self, joined: Run) -> None:
        plain = ("ask", "--on", "barn", "--steps", "runs but no power")
        told = joined(*plain, typed=lines(*TO_THE_NOTE, "left brush worn", "y"))
        assert "Goes:" not in told.output
        assert "Key p" not in told.output

    def test_every_line_fits_a_narrow_screen(self, joined: Run) -> None:
        told = joined(*WALK, typed=lines(*TO_THE_NOTE, NOTE, "p", "", "n"), COLUMNS="40")
        said = [line.rpartition("Your answer? ")[2] for line in told.output.splitlines()]
        assert max(map(len, said)) <= 40


class TestFollowup:
    @pytest.fixture
    def later(self, joined: Run, pool: FakePool) -> tuple[str, ...]:
        assert joined(*REPAIR, "--yes").exit_code == 0
        (report,) = pool.reports
        return ("followup", report, "--state", "holding", "--note", NOTE)

    @pytest.fixture
    def someone(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(console, "someone_is_there", lambda: True)

    def sent(self, pool: FakePool) -> str:
        (followup,) = pool.followups.values()
        return str(followup["note"])

    def test_a_script_is_shown_what_goes_and_not_asked(
        self, joined: Run, pool: FakePool, later: tuple[str, ...]
    ) -> None:
        told = joined(*later)
        assert told.exit_code == 0, told.output
        assert "Goes: Tovrin (name)" in told.stderr
        assert "The note goes as: ask [name] about the [name], it squeals" in told.stderr
        assert "Send it?" not in told.output
        assert self.sent(pool) == "ask [name] about the [name], it squeals"

    @pytest.mark.usefixtures("someone")
    def test_a_person_puts_back_and_takes_out(
        self, joined: Run, pool: FakePool, later: tuple[str, ...]
    ) -> None:
        told = joined(*later, typed=lines("p", "2", "", "r", "squeals", "y"))
        assert told.exit_code == 0, told.output
        assert self.sent(pool) == "ask [name] about the Zimbelring, it [name]"

    @pytest.mark.usefixtures("someone")
    def test_a_no_sends_and_keeps_nothing(
        self, joined: Run, pool: FakePool, later: tuple[str, ...], home: Path
    ) -> None:
        told = joined(*later, typed=lines("x", "n"))
        assert told.exit_code == 0, told.output
        assert "Nothing was sent" in told.stderr
        assert not pool.followups
        assert queued(home) == []

    @pytest.mark.usefixtures("someone")
    def test_yes_asks_nothing(
        self, joined: Run, pool: FakePool, later: tuple[str, ...]
    ) -> None:
        assert joined(*later, "--yes").exit_code == 0
        assert "Tovrin" not in self.sent(pool)

    @pytest.mark.usefixtures("someone")
    def test_without_a_note_there_is_nothing_to_look_at(
        self, joined: Run, pool: FakePool, later: tuple[str, ...]
    ) -> None:
        assert joined(*later[:4]).exit_code == 0
        assert pool.followups
