"""Before the yes: the member sees what goes, takes more out, puts a trade word back, ticks."""

import json
from pathlib import Path

import pytest

from mendpool_field import console

from tests.field.conftest import Run
from tests.field.fake_pool import FakePool
from tests.field.samples import BARN, REPAIR

NAMED = (*REPAIR, "--note", "ask Tovrin about the Zimbelring, it squeals")


def _note(pool: FakePool) -> str:
    (report,) = pool.reports.values()
    return str(report["note"])


def test_what_goes_is_shown_with_its_words_before_the_yes(joined: Run, pool: FakePool) -> None:
    told = joined(*NAMED, typed="y\n")
    assert told.exit_code == 0, told.output
    assert "Goes: Tovrin (name)" in told.stderr
    assert _note(pool) == "ask [name] about the [name], it squeals"


def test_a_trade_word_is_put_back_by_key_and_kept_for_the_steward(
    joined: Run, pool: FakePool
) -> None:
    told = joined(*NAMED, typed="p\n2\n\ny\n")
    assert told.exit_code == 0, told.output
    assert _note(pool) == "ask [name] about the Zimbelring, it squeals"
    assert "The pool may still take it out" in " ".join(told.stderr.split())
    listed = joined("kept-words", "--json")
    assert json.loads(listed.stdout) == {"words": ["zimbelring"], "shared": []}
    assert joined("kept-words", "--drop", "Zimbelring").exit_code == 0
    assert joined("kept-words", "--drop", "Zimbelring").exit_code == 2
    assert "None was put back" in joined("kept-words").stdout


def test_only_words_are_put_back_never_a_number(joined: Run, pool: FakePool) -> None:
    told = joined(*REPAIR, "--note", "ring me on 020 7946 0123", typed="p\ny\n")
    assert told.exit_code == 0, told.output
    assert "Key p" not in told.stderr
    assert _note(pool) == "ring me on [phone]"


def test_more_is_taken_out_by_key(joined: Run, pool: FakePool) -> None:
    told = joined(*REPAIR, "--note", "the blue mill by the ford", typed="r\nblue mill\n\n")
    assert told.exit_code == 0, told.output
    assert "Taken out once" in told.stderr
    assert _note(pool) == "the [name] by the ford"


def test_a_no_after_looking_sends_and_keeps_nothing(joined: Run, pool: FakePool) -> None:
    told = joined(*NAMED, typed="r\nsqueals\nn\n")
    assert told.exit_code == 0
    assert pool.reports == {}


def test_unattended_it_asks_nothing(joined: Run, pool: FakePool) -> None:
    told = joined(*NAMED, "--yes", "--json")
    assert told.exit_code == 0, told.output
    assert json.loads(told.stdout)["body"]["note"] == "ask [name] about the [name], it squeals"
    assert "Tovrin" not in told.output.replace("Goes: Tovrin", "")


def test_the_words_that_go_are_nowhere_on_the_disk(
    joined: Run, pool: FakePool, home: Path
) -> None:
    joined(*NAMED, typed="y\n")
    held = b"".join(p.read_bytes() for p in home.rglob("*") if p.is_file())
    assert b"squeals" in held
    assert b"Tovrin" not in held


@pytest.mark.parametrize(("typed", "sent"), [("\ny\n", False), ("y\ny\n", True)])
def test_hours_are_sent_only_when_ticked(
    joined: Run, pool: FakePool, monkeypatch: pytest.MonkeyPatch, typed: str, sent: bool
) -> None:
    joined(*BARN)
    monkeypatch.setattr(console, "someone_is_there", lambda: True)
    monkeypatch.setattr("mendpool_field.commands_report._proving_offered", lambda _: False)
    told = joined(*REPAIR, "--on", "barn", typed=typed)
    assert told.exit_code == 0, told.output
    (report,) = pool.reports.values()
    assert ("hours" in report["machine"]) is sent


def test_what_is_typed_in_the_command_is_ticked(joined: Run, pool: FakePool) -> None:
    told = joined(
        *REPAIR,
        "--region",
        "river flats",
        "--tried",
        "avr clean no-change cost=4",
        "-y",
        "--outcome",
        "repaired",
    )
    assert told.exit_code == 0, told.output
    (report,) = pool.reports.values()
    assert report["region"] == "river flats"
    assert [a["cost"] for a in report["attempts"] if "cost" in a] == [4.0]


def test_every_line_fits_a_narrow_screen(joined: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    told = joined(*NAMED, typed="n\n")
    # What is typed is not echoed here, so a prompt runs into what is printed next.
    lines = [line.removeprefix("Your answer? ") for line in told.stderr.splitlines()]
    assert max(map(len, lines)) <= 40
