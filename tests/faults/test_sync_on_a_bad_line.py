"""A copy is fetched whole or gone on with, wherever the line or the battery ends."""

import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.store.engine import make_engine, sqlite_library
from mendpool.store.pool_store import PoolStore
from mendpool_field.copy_place import CopyPlace
from mendpool_field.own_copy import CopyFiles, opened

from tests.acceptance.copied_pool import CopiedPool, copied_pool
from tests.databases import Databases, SqliteFiles
from tests.engines import engine_of
from tests.factories import make_report
from tests.faults.cut_line import CutLine
from tests.faults.real_pool import ROOT


@pytest.fixture(scope="module")
def running(
    databases: Databases, tmp_path_factory: pytest.TempPathFactory, catalogue: Catalogue
) -> Iterator[CopiedPool]:
    with copied_pool(databases, tmp_path_factory.mktemp("copied"), catalogue, most=60) as pool:
        yield pool


@pytest.fixture
def line(running: CopiedPool) -> Iterator[CutLine]:
    with CutLine(int(urlsplit(running.url).port or 0)) as cut:
        yield cut


def held(home: Path) -> dict[str, str]:
    """Return the cases of a copy by the ids of their reports, through its own reading."""
    place = CopyPlace(home)
    state = place.state()
    assert state is not None
    with opened(CopyFiles(place.file(state.folder), place.index(state.folder))) as store:
        return _cases(store)


def _cases(store: PoolStore) -> dict[str, str]:
    rows = store.cases_after(0, 10_000)
    return {str(r.report_id): r.case_body for r in rows if r.kind == "report" and r.case_body}


def test_a_line_cut_at_any_byte_is_gone_on_from(
    running: CopiedPool, line: CutLine, tmp_path: Path
) -> None:
    size = _size(running)
    member = running.member(tmp_path / "home")
    places = [1, 2, size // 9, size // 3, size // 3 + 1, size // 2, size - 70, size - 1]
    line.cut_after(*(to - at for at, to in pairwise([0, *places])))
    for _ in places:
        told = member.run("sync", MENDPOOL_URL=line.url)
        if told.exit_code == 0:
            break
        assert told.exit_code == 5, told.stderr
        assert "Traceback" not in told.output
    assert line.passed == size, "no byte was fetched twice"
    assert held(member.home) == _cases(running.pool.store)
    assert len(held(member.home)) == 60


def test_a_member_killed_at_any_byte_goes_on_from_there(
    running: CopiedPool, line: CutLine, tmp_path: Path
) -> None:
    size = _size(running)
    home = tmp_path / "home"
    at = 0
    for upto in (1, size // 2, size - 1):
        assert _killed(running, line, home, upto - at) == -signal.SIGKILL
        at = upto
        assert not (home / "copy" / "state.json").exists()
    member = running.member(home)
    assert member.run("sync", MENDPOOL_URL=line.url).exit_code == 0
    # What was in the system's hands when the process died may be fetched again, no more.
    assert line.passed <= size + 3 * 65_536
    assert held(home) == _cases(running.pool.store)


@pytest.mark.slow
def test_a_member_killed_at_many_moments_ends_with_the_whole_copy(
    running: CopiedPool, tmp_path: Path
) -> None:
    home = tmp_path / "home"
    for tenth in range(20):
        process = _started(running, running.url, home)
        try:
            process.wait(0.5 + tenth / 10)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
    assert running.member(home).run("sync").exit_code == 0
    assert held(home) == _cases(running.pool.store)


def test_bytes_spoilt_on_the_way_or_on_the_disk_are_fetched_again(
    running: CopiedPool, line: CutLine, tmp_path: Path
) -> None:
    size = _size(running)
    member = running.member(tmp_path / "home")
    line.cut_after(size // 2)
    packed = running.snapshots.newest(10)
    assert packed is not None
    part = member.home / "copy" / f"part-{packed.name}"
    part.parent.mkdir(parents=True)
    part.write_bytes(b"x" * (size // 2))
    assert member.run("sync").exit_code == 0
    assert held(member.home) == _cases(running.pool.store)
    assert not part.exists()


def test_a_packed_feed_that_is_gone_meanwhile_is_begun_anew(
    running: CopiedPool, line: CutLine, tmp_path: Path
) -> None:
    home = tmp_path / "home"
    stale = home / "copy" / "part-feed-1-0123456789abcdef"
    stale.parent.mkdir(parents=True)
    stale.write_bytes(b"of another day")
    assert running.member(home).run("sync").exit_code == 0
    assert not stale.exists()


def test_what_is_new_comes_in_pages_and_a_withdrawal_erases(
    running: CopiedPool, tmp_path: Path
) -> None:
    member = running.member(tmp_path / "home")
    secret = "quokkazibelinewort"
    gone = running.pool.put(make_report(complaint=f"no output {secret}"), "alder")
    assert member.run("sync").exit_code == 0
    assert gone in held(member.home)
    assert _found_in(member.home, gone) or _found_in(member.home, secret)
    client = running.pool.client("alder")
    assert client.delete(f"/v1/reports/{gone}").status_code == 204
    told = member.run("sync")
    assert "1 withdrawn" in told.stdout
    assert gone not in held(member.home)
    assert not _found_in(member.home, secret), "erased from file and index"
    shown = member.run("show", gone, "--offline")
    assert shown.exit_code == 2


def test_a_packed_feed_from_before_a_withdrawal_is_not_handed_out(
    running: CopiedPool, tmp_path: Path
) -> None:
    client = running.pool.client("alder")
    kept = running.pool.put(make_report(complaint="no output, wortquokka"), "alder")
    running.pool.service.place.learned.fit_if_due(running.pool.time[0], at_once=True)
    before = running.snapshots.newest(10)
    assert before is not None
    running.snapshots.settle()
    before = running.snapshots.newest(10)
    assert before is not None
    assert client.get(f"/v1/snapshot/{before.name}").status_code == 200
    assert client.delete(f"/v1/reports/{kept}").status_code == 204
    assert client.get(f"/v1/snapshot/{before.name}").status_code == 404
    after = client.get("/v1/snapshot").json()
    assert after["upto"] > before.upto
    assert after["name"] != before.name
    names = {path.name for path in (tmp_path / "..").glob("feed-*")}
    assert before.name not in names


def _size(running: CopiedPool) -> int:
    running.snapshots.newest(10)
    running.snapshots.settle()
    packed = running.snapshots.newest(10)
    assert packed is not None
    return packed.size


def _killed(running: CopiedPool, line: CutLine, home: Path, count: int) -> int:
    box: list[subprocess.Popen[bytes]] = []
    line.cut_after(count, then=lambda: box[0].kill())  # noqa: PLW0108 - not there yet
    box.append(_started(running, line.url, home))
    return box[0].wait(60)


def _started(running: CopiedPool, url: str, home: Path) -> "subprocess.Popen[bytes]":
    kept = {k: v for k, v in os.environ.items() if not k.startswith("MENDPOOL_")}
    env = {
        **kept,
        "PYTHONPATH": os.pathsep.join(str(ROOT / p) for p in ("service", "clients/field")),
        "MENDPOOL_URL": url,
        "MENDPOOL_TOKEN": running.pool.members["birch"].token,
        "MENDPOOL_HOME": str(home),
        "MENDPOOL_CACHE_DIR": str(running.cache),
    }
    return subprocess.Popen(
        [sys.executable, "-m", "mendpool_field.cli", "sync"],
        env=env,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def _found_in(folder: Path, word: str) -> bool:
    raw = word.encode()
    plain = word.replace("-", "").encode()
    files = [path for path in folder.rglob("*") if path.is_file()]
    return any(raw in path.read_bytes() or plain in path.read_bytes() for path in files)


class TestACopyThatIsNoGood:
    @pytest.mark.slow
    def test_a_damaged_file_is_thrown_away_and_fetched_again(
        self, running: CopiedPool, tmp_path: Path
    ) -> None:
        member = running.member(tmp_path / "home")
        assert member.run("sync").exit_code == 0
        file = _file(member.home)
        whole = file.read_bytes()
        for spoilt in (b"", whole[: len(whole) // 2], b"\0" * len(whole), whole[:4096] * 9):
            file = _file(member.home)
            file.write_bytes(spoilt)
            asked = member.run("ask", "--offline", "--fuel", "diesel", "no power")
            assert asked.exit_code == 0, asked.stderr
            told = member.run("sync")
            assert told.exit_code == 0, told.stderr
            assert "fetched anew" in told.stderr
            assert held(member.home) == _cases(running.pool.store)

    def test_an_index_that_is_gone_or_spoilt_is_made_anew(
        self, running: CopiedPool, tmp_path: Path
    ) -> None:
        member = running.member(tmp_path / "home")
        assert member.run("sync").exit_code == 0
        ask = ("ask", "--offline", "--json", "--fuel", "diesel", "no power")
        before = member.run(*ask).stdout
        index = _file(member.home).parent / "index"
        for manifest in index.rglob("manifest.json"):
            manifest.write_text("{")
        assert member.run(*ask).stdout == before
        shutil.rmtree(index)
        assert member.run(*ask).stdout == before

    def test_one_of_an_older_form_is_fetched_anew_and_the_outbox_stays(
        self, running: CopiedPool, tmp_path: Path
    ) -> None:
        member = running.member(tmp_path / "home")
        assert member.run("sync").exit_code == 0
        state = member.home / "copy" / "state.json"
        for old in ('"format": 0', '"format": 1, "more": 2'):
            state.write_text(state.read_text().replace('"format": 1', old))
            waiting = member.home / "outbox" / "kept.json"
            waiting.parent.mkdir(exist_ok=True)
            waiting.write_text("{")
            assert member.run("ask", "--offline", "--fuel", "diesel", "x").exit_code == 0
            told = member.run("sync")
            assert told.exit_code == 0, told.stderr
            assert "fetched anew: it could not be used" in told.stderr.replace("\n", " ")
            assert waiting.read_text() == "{"
            waiting.unlink()

    def test_one_made_by_another_version_of_the_code_is_fetched_anew(
        self, running: CopiedPool, tmp_path: Path
    ) -> None:
        member = running.member(tmp_path / "home")
        assert member.run("sync").exit_code == 0
        state = member.home / "copy" / "state.json"
        state.write_text(state.read_text().replace('"derived": "', '"derived": "0'))
        assert "by another version" in member.run("sync").stderr.replace("\n", " ")
        assert "fetched anew" not in member.run("sync").stderr


def _file(home: Path) -> Path:
    place = CopyPlace(home)
    state = place.state()
    assert state is not None
    return place.file(state.folder)


class TestAnotherPoolOrAnotherPast:
    def test_another_pool_is_refused_until_it_is_asked_for(
        self,
        running: CopiedPool,
        databases: Databases,
        catalogue: Catalogue,
        tmp_path: Path,
    ) -> None:
        member = running.member(tmp_path / "home")
        assert member.run("sync").exit_code == 0
        before = held(member.home)
        with copied_pool(databases, tmp_path / "other", catalogue, most=20) as other:
            there = other.member(member.home)
            told = there.run("sync")
            assert told.exit_code == 3
            assert "mendpool sync --anew" in told.stderr.replace("\n  ", " ")
            assert held(member.home) == before
            assert there.run("sync", "--anew").exit_code == 0
            assert len(held(member.home)) == 20

    def test_a_pool_put_back_from_a_backup_is_fetched_anew(
        self, sqlite_files: SqliteFiles, catalogue: Catalogue, tmp_path: Path
    ) -> None:
        with copied_pool(sqlite_files, tmp_path / "pool", catalogue, most=20) as running:
            store = running.pool.store
            store.engine.dispose()
            backup = tmp_path / "backup.db"
            backed_up(store, backup)
            member = running.member(tmp_path / "home")
            lost = running.pool.put(make_report(complaint="lost with the disk"), "alder")
            assert member.run("sync").exit_code == 0
            assert lost in held(member.home)
            put_back(running, backup, catalogue, tmp_path)
            again = running.pool.put(make_report(complaint="filed after it"), "alder")
            told = member.run("sync")
            assert "put back to an older state" in told.stderr.replace("\n", " ")
            assert lost not in held(member.home)
            assert again in held(member.home)


def backed_up(store: PoolStore, to: Path) -> None:
    library = sqlite_library()
    source, target = library.connect(str(store.engine.url.database)), library.connect(str(to))
    source.backup(target)
    source.close()
    target.close()


def put_back(running: CopiedPool, backup: Path, catalogue: Catalogue, folder: Path) -> None:
    from dataclasses import replace  # noqa: PLC0415

    from mendpool.usecases.learned import Learned  # noqa: PLC0415

    file = folder / "restored.db"
    shutil.copy(backup, file)
    store = PoolStore(make_engine(f"sqlite:///{file}"))
    old = running.pool.service.place
    place = replace(
        old, store=store, learned=Learned(store, catalogue, engine=engine_of(catalogue))
    )
    # The running service, over the file that was put back.
    service = replace(running.pool.service, place=place, snapshots=None)
    running.pool.service = service
    running.pool.app._app.state.service = service  # type: ignore[attr-defined]


class TestWhoMayNot:
    def test_two_at_once_one_works_and_the_other_says_so(
        self, running: CopiedPool, tmp_path: Path
    ) -> None:
        member = running.member(tmp_path / "home")
        with CopyPlace(member.home).syncing() as ours:
            assert ours
            told = member.run("sync")
        assert told.exit_code == 0
        assert "Another mendpool is fetching the copy" in told.stderr.replace("\n", " ")
        assert member.run("sync").exit_code == 0

    def test_a_revoked_member_keeps_the_copy_and_is_told(
        self, running: CopiedPool, tmp_path: Path
    ) -> None:
        running.pool.join("larch")
        member = running.member(tmp_path / "home", "larch")
        assert member.run("sync").exit_code == 0
        before = held(member.home)
        running.pool.store.revoke_member("larch", running.pool.time[0])
        told = member.run("sync")
        assert told.exit_code == 4
        assert "mendpool join" in told.stderr
        assert held(member.home) == before
        asked = member.run("ask", "--fuel", "diesel", "no power")
        assert asked.exit_code == 0
        assert "from your copy" in asked.stderr.replace("\n", " ")

    def test_without_a_way_the_copy_stays_as_it_was(
        self, running: CopiedPool, tmp_path: Path
    ) -> None:
        member = running.member(tmp_path / "home")
        gone = "http://127.0.0.1:9"
        assert member.run("sync", MENDPOOL_URL=gone).exit_code == 5
        assert member.run("sync").exit_code == 0
        assert member.run("sync", MENDPOOL_URL=gone).exit_code == 0
        assert member.run("sync", "--require-online", MENDPOOL_URL=gone).exit_code == 75
