"""What the operator's commands say, on a narrow terminal and in a pipe."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from mendpool.core.diagnosis.engine import Engine

from tests.databases import SqliteFiles
from tests.faults.kept_pool import Kept, kept_pool

WIDE = 40


@pytest.fixture
def kept(
    sqlite_files: SqliteFiles, engine: Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Kept]:
    monkeypatch.delenv("COLUMNS", raising=False)
    with kept_pool(sqlite_files, engine, tmp_path, monkeypatch) as made:
        yield made


def said(kept: Kept) -> list[list[str]]:
    """Return what each of the commands says, in lines."""
    backup = str(kept.folder / "b")
    asked = (
        ("backup", backup), ("privacy",), ("check",), ("member", "code", "alder"),
        ("member", "list"), ("review",), ("review", "--words"),
        ("parcel", "write", str(kept.folder / "p")),
    )  # fmt: skip
    told = [kept.run(*one).output.splitlines() for one in asked]
    kept.let_go()
    told.append(kept.run("restore", backup, code=3).output.splitlines())
    return told


def test_no_line_is_wider_than_the_terminal_but_for_a_word_that_must_stay_whole(
    kept: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(WIDE))
    for lines in said(kept):
        assert lines
        assert [line for line in lines if len(line) > WIDE and " " in line.strip()] == []


def test_a_pipe_gets_a_sentence_a_line(kept: Kept) -> None:
    backup, privacy, *_, refused = said(kept)
    assert len(backup) == 2
    assert len(refused) == 1
    assert all(", leaving " in line for line in privacy[:8])


def test_a_code_is_never_cut(kept: Kept, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", str(WIDE))
    told = kept.run("member", "code", "alder").output.splitlines()
    (code,) = [line for line in told if len(line) > WIDE]
    assert code.startswith("in")
