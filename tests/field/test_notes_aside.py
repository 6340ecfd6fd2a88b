"""A set's notes end with its plate: the next one of its name is not judged by them."""

import json
from pathlib import Path

import pytest

from mendpool_field.before_off import Kept
from mendpool_field.past import keep_past, past_of

from tests.field.conftest import Run
from tests.field.samples import BARN
from tests.field.walking import is_kept, kept, lines

OTHER = ("set", "add", "barn", "--fuel", "petrol", "--volts", "400", "--hz", "50")
MORE = ("--hours", "1300", "--make", "Harrow", "--excitation", "brushed-avr")
READ = {"text": "241 V at the outlet, no load"}


@pytest.fixture(autouse=True)
def _notes(alone: Run, home: Path) -> None:
    assert alone(*BARN).exit_code == 0
    keep_past(home, "barn", [READ])
    keep_past(home, "pump", [READ])
    assert alone("ask", "--on", "barn", "no power", "--offline").exit_code == 0
    assert alone("ask", "--on", "barn", "--steps", "--offline", "no power", typed=lines("q"))
    Kept(home, "barn").note("avr", "F+ red")
    assert is_kept(home)


def folders(home: Path) -> list[Path]:
    return sorted((home / "aside").iterdir()) if (home / "aside").exists() else []


def nothing_is_left(home: Path) -> bool:
    asked = home / "asked" / "barn.json"
    return (
        not (past_of(home, "barn") or is_kept(home) or asked.exists())
        and not Kept(home, "barn").open
    )


def test_a_removed_sets_notes_lie_in_a_dated_folder_and_it_is_said(
    alone: Run, home: Path
) -> None:
    session = kept(home)
    told = alone("set", "remove", "barn")
    assert told.exit_code == 0, told.output
    assert nothing_is_left(home)
    assert past_of(home, "pump") == [READ], "another set keeps its own"
    (folder,) = folders(home)
    assert folder.name.startswith("barn-20")
    assert folder.name in "".join(told.stderr.split())
    assert json.loads((folder / "past.json").read_bytes()) == {"barn": [READ]}
    assert json.loads((folder / "sessions-barn.json").read_bytes()) == session
    assert "F+ red" in (folder / "before-off-barn.json").read_text()
    assert (folder / "asked-barn.json").exists()


def test_another_plate_under_the_name_is_not_judged_by_the_old_one(
    alone: Run, home: Path
) -> None:
    told = alone(*OTHER, "--replace")
    assert told.exit_code == 0, told.output
    assert "is set aside in" in " ".join(told.stderr.split())
    assert nothing_is_left(home)
    assert len(folders(home)) == 1


def test_the_same_plate_with_more_hours_or_more_said_keeps_them(alone: Run, home: Path) -> None:
    assert alone(*BARN, *MORE, "--replace").exit_code == 0
    assert past_of(home, "barn") == [READ]
    assert folders(home) == []


def test_twice_on_one_day_both_are_there(alone: Run, home: Path) -> None:
    alone("set", "remove", "barn")
    alone(*BARN)
    keep_past(home, "barn", [READ, READ])
    alone("set", "remove", "barn")
    assert [len(json.loads((f / "past.json").read_bytes())["barn"]) for f in folders(home)] == [
        1, 2,
    ]  # fmt: skip


def test_a_set_nothing_is_known_of_is_removed_in_silence(alone: Run, home: Path) -> None:
    assert alone("set", "add", "shed", "--fuel", "petrol").exit_code == 0
    told = alone("set", "remove", "shed")
    assert told.stderr.strip() == "Forgotten: shed."
    assert folders(home) == []
