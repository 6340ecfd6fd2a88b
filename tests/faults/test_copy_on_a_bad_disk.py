"""A disk that is full, a home that only reads: the copy stays as it was, and still answers."""

import json
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool_field.copy_fetch import _check_room
from mendpool_field.copy_place import CopyPlace
from mendpool_field.errors import NoRoom

from tests.acceptance.copied_pool import CopiedPool, Member, copied_pool
from tests.databases import SqliteFiles
from tests.factories import make_report

ASK = ("ask", "--offline", "--json", "--fuel", "diesel", "runs but no power")


@pytest.fixture(scope="module")
def running(
    sqlite_files: SqliteFiles, tmp_path_factory: pytest.TempPathFactory, catalogue: Catalogue
) -> Iterator[CopiedPool]:
    with copied_pool(
        sqlite_files, tmp_path_factory.mktemp("copied"), catalogue, most=20
    ) as pool:
        yield pool


@pytest.fixture
def member(running: CopiedPool, tmp_path: Path) -> Member:
    made = running.member(tmp_path / "home")
    assert made.run("sync").exit_code == 0
    return made


def no_space(*_: object, **__: object) -> None:
    raise OSError(28, os.strerror(28))


@pytest.mark.parametrize(
    "where",
    [
        "mendpool_field.copy_sync.index_copy",
        "mendpool_field.copy_sync.hold_still",
        "mendpool_field.copy_place.write_object",
    ],
)
def test_a_disk_that_fills_up_leaves_a_copy_that_answers(
    running: CopiedPool, member: Member, monkeypatch: pytest.MonkeyPatch, where: str
) -> None:
    held = json.loads(member.run(*ASK).stdout)["evidence"]["reports_searched"]
    running.pool.put(make_report(complaint=f"no output, {where}"), "alder")
    with monkeypatch.context() as full:
        full.setattr(where, no_space)
        told = member.run("sync")
    assert told.exit_code == 1
    assert "Make room" in told.stderr.replace("\n", " ")
    assert "Traceback" not in told.output
    # Before the index was brought up or after it: either set of reports, whole.
    searched = json.loads(member.run(*ASK).stdout)["evidence"]["reports_searched"]
    assert searched in (held, held + 1)
    assert member.run("sync").exit_code == 0
    searched = json.loads(member.run(*ASK).stdout)["evidence"]["reports_searched"]
    assert searched == held + 1


def test_a_first_copy_that_finds_no_room_leaves_nothing_that_counts(
    running: CopiedPool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fresh = running.member(tmp_path / "home")
    with monkeypatch.context() as full:
        full.setattr("mendpool_field.copy_sync.index_copy", no_space)
        assert fresh.run("sync").exit_code == 1
    assert CopyPlace(fresh.home).state() is None
    assert fresh.run("sync").exit_code == 0
    folders = [path for path in (fresh.home / "copy").iterdir() if path.is_dir()]
    assert len(folders) == 1


def test_room_is_asked_for_before_anything_is_fetched(tmp_path: Path) -> None:
    _check_room(tmp_path / "part", 1000)
    with pytest.raises(NoRoom):
        _check_room(tmp_path / "part", 1 << 60)


@pytest.mark.skipif(os.geteuid() == 0, reason="root writes everywhere")
def test_a_home_that_only_reads_still_answers(member: Member) -> None:
    before = member.run(*ASK)
    folders = [member.home, *(p for p in member.home.rglob("*") if p.is_dir())]
    for folder in folders:
        folder.chmod(0o500)
    try:
        told = member.run(*ASK)
        assert told.stdout == before.stdout
        assert "can't be kept here" in told.stderr.replace("\n", " ")
        assert member.run("sync").exit_code == 1
    finally:
        for folder in folders:
            folder.chmod(0o700)


def test_where_the_question_can_not_be_kept_it_is_answered(
    member: Member, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = member.run(*ASK)
    monkeypatch.setattr("mendpool_field.asked.keep_question", no_space)
    told = member.run(*ASK)
    assert (told.exit_code, told.stdout) == (0, before.stdout)
    assert "can't be kept here" in told.stderr.replace("\n", " ")


def test_a_copy_of_which_the_small_files_are_gone_reads_its_database(member: Member) -> None:
    before = member.run(*ASK).stdout
    state = CopyPlace(member.home).state()
    assert state is not None
    folder = member.home / "copy" / state.folder
    for name, content in (("fit.json", "{}"), ("still.json", "{"), ("still.json", "{}")):
        (folder / name).write_text(content)
        assert member.run(*ASK).stdout == before, name
    for name in ("fit.json", "still.json"):
        (folder / name).unlink()
    assert member.run(*ASK).stdout == before


def test_a_copy_that_is_still_is_read_without_a_database(
    running: CopiedPool, member: Member
) -> None:
    from tests.field.samples import python  # noqa: PLC0415

    script = (
        "import sys; from mendpool_field.cli import app\n"
        "try: app(['ask', '--offline', '--json', '--fuel', 'diesel', 'no power'])\n"
        "except SystemExit: pass\n"
        "print(sorted({'sqlalchemy', 'sqlmodel', 'httpx'} & set(sys.modules)), "
        "file=sys.stderr)"
    )
    done = python("-c", script, home=member.home)
    assert "from your copy" in done.stderr.replace("\n", " ")
    assert done.stderr.splitlines()[-1] == "[]"
    searched = json.loads(done.stdout)["evidence"]["reports_searched"]
    assert searched >= 20
