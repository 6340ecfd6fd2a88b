"""Whatever goes wrong is a sentence, a next step and a documented exit code. No traceback."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from mendpool.core import errors as core_errors
from mendpool_field import errors
from mendpool_field.exitcodes import ExitCode
from mendpool_field.explain import explain, is_explained

from tests.field.conftest import Run
from tests.field.fake_pool import FakePool, Reply, problem, sign_in_page
from tests.field.samples import REPAIR, python, queued

ANY_ID = "01930000-0000-7000-8000-000000000001"
CALLING = {
    "ask": ("ask", "no power"),
    "find": ("find", "no power"),
    "show": ("show", ANY_ID),
    "withdraw": ("withdraw", ANY_ID),
    "followup": ("followup", ANY_ID, "--state", "holding"),
    "report": (*REPAIR, "--yes"),
    "judge": ("judge", "residual 0.4 V"),
    "sync": ("sync",),
}
SLOW = {"Retry-After": "30"}
# What comes back, and how a command that keeps nothing ends. Decision 14's codes.
ANSWERS = {
    "400": (problem(400, "The body is not JSON", "Send one JSON object."), 3),
    "401": (problem(401, "Sign in first", "This token has expired"), 4),
    "403": (problem(403, "Not yours to change"), 3),
    "404": (problem(404, "Not here"), 3),
    "409": (problem(409, "This id stands for something else"), 3),
    "410": (problem(410, "It was taken back"), 3),
    "413": (problem(413, "The body is too large", "A body is at most 256 KiB."), 3),
    "422": (problem(422, "No", errors=[{"at": "/readings/0/unit", "says": "no such unit"}]), 3),
    "429": (Reply(429, problem(429).body, "application/problem+json", SLOW), 5),
    "500": (problem(500, "Our fault"), 5),
    "503 html": (Reply(503, b"<h1>Bad gateway</h1>", "text/html"), 5),
    "200 html": (sign_in_page(), 5),
    "302 html": (Reply(302, b"", "text/html", {"Location": "http://login.invalid/"}), 5),
    "403 html": (sign_in_page(403), 5),
    "200 torn": (Reply(200, b'{"items": ['), 5),
    "200 list": (Reply(200, b"[]"), 5),
    "422 torn": (Reply(422, b"{", "application/problem+json"), 5),
    "422 odd": (
        Reply(422, b'{"errors": [3, {"at": 5}], "title": 7}', "application/problem+json"),
        3,
    ),
}


@pytest.mark.parametrize("command", CALLING)
@pytest.mark.parametrize("answer", ANSWERS)
def test_no_answer_of_a_service_ends_in_a_traceback(
    joined: Run, pool: FakePool, command: str, answer: str
) -> None:
    reply, _ = ANSWERS[answer]
    pool.instead = lambda _: reply
    told = joined(*CALLING[command])
    assert "Traceback" not in told.output
    assert told.exit_code in set(ExitCode)
    assert told.exit_code != ExitCode.OUR_FAULT, told.output


@pytest.mark.parametrize("command", ["ask", "find", "show", "withdraw"])
@pytest.mark.parametrize("answer", ANSWERS)
def test_the_exit_code_tells_whose_turn_it_is(
    joined: Run, pool: FakePool, command: str, answer: str
) -> None:
    reply, code = ANSWERS[answer]
    pool.instead = lambda _: reply
    told = joined(*CALLING[command])
    assert told.exit_code == code
    # With a token that is no longer good, a question is answered here all the same.
    assert (told.stdout == "") is not ((command, answer) == ("ask", "401"))
    first, *rest = told.stderr.splitlines()
    assert first
    assert any(line.startswith("Next: ") for line in rest)


@pytest.mark.parametrize("command", CALLING)
def test_a_refused_connection_is_a_sentence(cut_off: Run, command: str) -> None:
    told = cut_off(*CALLING[command])
    assert "Traceback" not in told.output
    # Nothing waits for sync, and there is no copy: it has done nothing.
    keeps = command in {"followup", "report", "judge"}
    assert told.exit_code == (0 if keeps else 5)


@pytest.mark.parametrize("answer", ["429", "500", "503 html", "200 html", "403 html"])
def test_what_may_pass_later_stays_in_the_queue(
    joined: Run, pool: FakePool, home: Path, answer: str
) -> None:
    pool.instead = lambda _: ANSWERS[answer][0]
    assert joined(*REPAIR, "--yes").exit_code == 0
    assert [entry["state"] for entry in queued(home)] == ["waiting"]


def test_a_page_that_is_asked_to_slow_down_says_how_long(joined: Run, pool: FakePool) -> None:
    pool.instead = lambda _: ANSWERS["429"][0]
    assert "Next: Wait 30 seconds and try again." in joined("ask", "no power").stderr


def test_many_complaints_are_listed_one_a_line(joined: Run, pool: FakePool) -> None:
    faults = [{"at": f"/readings/{i}", "says": "no number"} for i in range(10)]
    pool.instead = lambda _: problem(422, "No", errors=faults)
    lines = joined("ask", "no power").stderr.splitlines()
    assert lines[1] == "  Reading 1: no number."
    assert lines[9] == "  and 2 more"


def test_a_service_can_not_move_the_cursor(joined: Run, pool: FakePool) -> None:
    pool.instead = lambda _: problem(404, "No\x1b[2J", "\x9b31m\r\x07")
    assert not [c for c in joined("ask", "x").output if c != "\n" and not c.isprintable()]


def test_a_folder_that_can_not_be_written_is_a_sentence(alone: Run, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    told = alone(*REPAIR, "--yes", MENDPOOL_HOME=str(tmp_path / "file"))
    assert told.exit_code == 1
    assert "MENDPOOL_HOME names another" in told.stderr.replace("\n  ", " ")
    assert "Saved" not in told.output


def test_traceback_is_shown_when_asked_for_wherever_it_stands(joined: Run) -> None:
    assert "Traceback" in joined("--traceback", "ask", "--again").stderr
    assert "Traceback" in joined("ask", "--again", "--traceback").stderr
    assert "Traceback" not in joined("ask", "--again").stderr
    assert joined("ask", "--json", "--", "--traceback").exit_code == 0


def test_a_fault_nobody_foresaw_is_ours() -> None:
    told = explain(ZeroDivisionError("secret token"))
    assert told.code == ExitCode.OUR_FAULT
    assert "secret" not in told.says + told.do


def test_every_error_there_is_has_words_of_its_own() -> None:
    kinds = [*_below(errors.FieldError), *_below(core_errors.MendpoolError)]
    assert len(kinds) > 10
    assert [kind for kind in kinds if not is_explained(kind)] == []


def test_help_documents_every_exit_code(alone: Run) -> None:
    text = " ".join(alone("--help").stdout.split())
    assert [
        code for code in ExitCode if f"{code.value} " not in text.split("Exit codes:")[1]
    ] == []


def test_a_closed_pipe_is_no_error(home: Path) -> None:
    reader = (
        "import subprocess, sys\n"
        "args = [sys.executable, '-m', 'mendpool_field.cli', 'codes', 'components', '--json']\n"
        "run = subprocess.Popen(args, stdout=subprocess.PIPE, stderr=subprocess.PIPE)\n"
        "run.stdout.close()\n"
        "print(run.stderr.read().decode(), run.wait())"
    )
    assert python("-c", reader, home=home).stdout.strip() == "0"


def test_json_never_mixes_with_talk(joined: Run, alone: Run) -> None:
    alone(*REPAIR, "--yes")
    reading = {
        joined: (("ask", "x"), ("judge", "4 V"), ("find",), ("sync",)),
        alone: (("outbox",), ("set", "list"), ("codes", "fuel"), ("symptoms",)),
    }
    for run, commands in reading.items():
        for command in commands:
            json.loads(run(*command, "--json").stdout)


def _below(kind: type[Exception]) -> Iterator[type[Exception]]:
    yield kind
    for child in kind.__subclasses__():
        yield from _below(child)
