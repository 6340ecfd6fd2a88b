"""Every command can be listened to: by a screen reader, from a pipe, on a terminal that can't.

The commands are taken from the app itself: one that is added must be put down here too.
"""

import re
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import pytest
import typer

from mendpool_field.cli import LATE, app, late_command
from mendpool_field.outbox import Entry, Outbox

from tests.field.conftest import Run
from tests.field.fake_pool import TOKEN, FakePool
from tests.field.samples import BARN
from tests.field.walking import AVR, LOOK, VOLTS, Planner, lines

SILENT = {"TERM": "dumb", "NO_COLOR": "1", "COLUMNS": "40"}
REPORT = "019a0000-0000-7000-8000-0000000000a1"
LOG = "time,Hz\n" + "".join(f"{n},{60 + n % 3 / 10}\n" for n in range(60))
SHEET = ("report", "--on", "barn", "--from-sheet", "-")

DRAWN = "".join(map(chr, range(0x2500, 0x2C00))) + "\u2190\u2191\u2192\u2193\u00d7\u2014"
"""Lines, blocks, arrows, dots and other signs that a voice leaves out or spells."""
COLUMNS = re.compile(r"\S {3,}\S")
PROMPT = re.compile(r"(^|\s)\S*> |\[Enter =")

# What is typed for each command, and at its questions.
TYPED: dict[str, tuple[tuple[tuple[str, ...], str], ...]] = {
    "ask": (
        (("ask", "runs but no power", "--on", "barn", "-r", "residual 0.4 V"), ""),
        (("ask", "no power", "--on", "barn", "--offline", "--get-by"), ""),
        (("ask", "--steps", "--on", "barn", "no power"),
         lines("w", "?", "zz", "1", "0.5", "r", "", "d", "", "g", "s", "e", "", "", "", "y")),
        (("ask", "--steps"), lines("1", "no power", "", "q")),
    ),
    "judge": (
        (("judge", "residual 0.4 V", "59,6 Hz", "--on", "barn"), ""),
        (("judge", "--csv", "-", "--on", "barn"), LOG),
        (("judge", "0.4 soups"), ""),
    ),
    "work": (
        (("work",), ""),
        (("work", "pump-start"), ""),
        (("work", "pump-start", "motor_hp=3 hp", "code_letter=H", "--on", "barn"), ""),
    ),
    "report": (
        (("report",), lines("1", "no power", "1", "output 1 V", "", "avr", "replace", "fixed",
                            "", "", "1", "1", "1", "1", "", "n", "y")),
        (("report", "no power", "--on", "barn", "--tried", "avr replace fixed"), "y\n"),
        (SHEET, lines("PA", "a 0", "BR N 1 40", "R BR N", "11/26", "y")),
        (("report", "--on", "barn", "--from-sheet", "zz"), ""),
    ),
    "followup": ((("followup", REPORT, "--state", "holding"), ""),),
    "well": ((("well", "barn", "--yes"), lines(*[""] * 20)),),
    "show": ((("show", REPORT), ""),),
    "find": ((("find", "no", "power"), ""), (("find", "--symptom", "no-output"), "")),
    "symptoms": ((("symptoms",), ""), (("symptoms", "smoke"), "")),
    "codes": ((("codes",), ""), (("codes", "outcomes"), ""), (("codes", "readings"), "")),
    "join": ((("join", "{url}"), f"{TOKEN}\n"), (("join", "http://far.example"), "x\n")),
    "sync": ((("sync",), ""),),
    "withdraw": ((("withdraw", REPORT), "y\n"),),
    "sheet": ((("sheet", "barn", "--page", "{tmp}/barn.html"), ""),),
    "handon": ((("handon", "--on", "barn"), ""),),
    "before-off": (
        (("before-off", "barn", "regulator"), lines("red", "blue to F+", "")),
        (("before-off", "barn", "--back"), lines("", "", "")),
    ),
    "kept-words": ((("kept-words",), ""),),
    "manual": ((("manual",), ""),),
    "set add": ((("set", "add", "pump", "--fuel", "petrol"), ""), (("set", "add", "barn"), "")),
    "set list": ((("set", "list"), ""),),
    "set show": ((("set", "show", "barn"), ""),),
    "set remove": ((("set", "remove", "barn"), ""),),
    "outbox": ((("outbox",), ""),),
    "outbox fix": ((("outbox", "fix", "00a2"), lines("V", "y")),),
    "copy write": ((("copy", "write", "{tmp}/stick.gz"), ""),),
    "copy read": ((("copy", "read", "{tmp}/stick.gz"), ""),),
    "pool init": ((("pool", "init"), ""),),
    "pool serve": ((("pool", "serve", "--help"), ""),),
    "pool migrate": ((("pool", "migrate"), ""),),
    "pool import": ((("pool", "import", "{tmp}/in.jsonl", "--as", "alder"), ""),),
    "pool export": ((("pool", "export"), ""), (("pool", "export", "--csv"), "")),
    "pool move": ((("pool", "move", "--to", "sqlite:///{tmp}/other.db"), ""),),
    "pool member add": ((("pool", "member", "add", "birch"), ""),),
    "pool member code": ((("pool", "member", "code", "alder"), ""),),
    "pool member rotate": ((("pool", "member", "rotate", "alder"), ""),),
    "pool member forget": ((("pool", "member", "forget", "alder", "--yes"), ""),),
    "pool invite": ((("pool", "invite", "cedar"), ""),),
    "pool review": ((("pool", "review"), ""), (("pool", "review", "--trail"), "")),
    "pool backup": ((("pool", "backup", "{tmp}/kept.sqlite3"), ""),),
    "pool restore": ((("pool", "restore", "{tmp}/none.sqlite3"), ""),),
    "pool check": ((("pool", "check"), ""),),
    "pool privacy": ((("pool", "privacy"), ""),),
    "pool member revoke": ((("pool", "member", "revoke", "alder"), ""),),
    "pool member list": ((("pool", "member", "list"), ""),),
    "pool parcel write": ((("pool", "parcel", "write", "{tmp}/parcel.gz"), ""),),
    "pool parcel read": ((("pool", "parcel", "read", "{tmp}/parcel.gz"), ""),),
    "demo": ((("demo", "--help"), ""),),  # all of it is run in tests/acceptance/test_demo.py
}  # fmt: skip


def commands(group: object, path: tuple[str, ...] = ()) -> Iterator[str]:
    """Give the names of all commands there are, those of a group after its own."""
    own = getattr(group, "invoke_without_command", False)
    if path and (own or not hasattr(group, "list_commands")):
        yield " ".join(path)
    for name in group.list_commands(None) if hasattr(group, "list_commands") else ():
        late = not path and name in LATE
        found = late_command(name) if late else group.get_command(None, name)  # type: ignore[attr-defined]
        yield from commands(found, (*path, name))


def test_every_command_is_listened_to() -> None:
    assert sorted(commands(typer.main.get_command(app))) == sorted(TYPED)


@pytest.fixture
def furnished(joined: Run, pool: FakePool, home: Path, tmp_path: Path) -> Run:
    """A member with a set, a report sent, one waiting and one set aside."""
    joined(*BARN)
    Planner(LOOK, VOLTS, AVR).at(pool)
    outbox = Outbox(home)
    body = '{"machine":{"fuel":"diesel"},"complaint":"no power","outcome":"open"}'
    for number in (1, 2, 3):
        report = f"{REPORT[:-1]}{number}"
        outbox.save(Entry(report, "report", report, body))
    sent, refused, _ = outbox.entries()
    outbox.mark_sent(sent)
    outbox.park(refused, "/readings/0/unit: V is meant.", 422)
    pool.reports[REPORT] = {
        "id": REPORT, "machine": {"fuel": "diesel"}, "complaint": "no power", "outcome": "open",
        "received": "2026-11-25T12:00:00Z", "followups": [],
    }  # fmt: skip
    database = f"sqlite:///{tmp_path}/pool.db"

    def run(*args: str, typed: str | None = None, **more: str) -> object:
        return joined(*args, typed=typed, MENDPOOL_DATABASE_URL=database, **{**SILENT, **more})

    return run  # type: ignore[return-value]


@pytest.mark.parametrize("name", TYPED)
def test_it_reads_well_aloud(furnished: Run, pool: FakePool, name: str, tmp_path: Path) -> None:
    if name.startswith("pool ") and name != "pool init":
        assert furnished("pool", "init").exit_code == 0
        furnished("pool", "member", "add", "alder")
        (tmp_path / "in.jsonl").write_text('{"id":"no"}\n')
    for argv, typed in TYPED[name]:
        args = [one.format(url=pool.url, tmp=tmp_path) for one in argv]
        told = furnished(*args, typed=typed)
        assert told.exception is None or isinstance(told.exception, SystemExit)
        assert told.output.strip() or name == "pool export", args  # of an empty pool
        assert not troubles_of(told.stdout, told.stderr), args


def troubles_of(stdout: str, stderr: str) -> list[str]:
    """Return what could not be listened to."""
    found = [
        f"{unicodedata.name(one, hex(ord(one)))} in {line!r}"
        for line in (stdout + stderr).split("\n")
        for one in line
        if unicodedata.category(one) in {"Cc", "Cf"} or one in DRAWN
    ]
    found += [
        f"columns in {line!r}"
        for line in stdout.split("\n")
        if COLUMNS.search(line) and not line.startswith("  -")
    ]  # an option and what it does are one line
    # What is typed is not echoed here, so a prompt runs into what is printed next.
    found += [f"no question: {line!r}" for line in stderr.split("\n") if PROMPT.search(line)]
    return found


@pytest.mark.parametrize(
    "said",
    ["\u2500", "\x1b[1m", "done\rloading", "alder    member    active", "Go on? > ",
     "1> ", "Sure? [Enter = yes, n = no] ", "a \u2192 b", "\u2588"],
)  # fmt: skip
def test_the_check_hears_what_can_not_be_listened_to(said: str) -> None:
    assert troubles_of(said, said)


def test_a_question_says_its_keys_and_ends_as_one(furnished: Run) -> None:
    told = furnished("ask", "--steps", typed="q\n")
    assert told.stderr.split("\n")[1:5] == [
        "Which set?", "Key 1: barn.", "One key; Enter for another set; b back,", "q stop.",
    ]  # fmt: skip
    assert "Your answer? " in told.stderr
    asked = furnished("report", "dead", "--on", "barn", "--outcome", "open", typed="n\n")
    assert "Send it?\nKey y: yes.\nKey n: no, and keep nothing.\n" in asked.stderr
