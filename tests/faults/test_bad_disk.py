"""A service whose disk is full, read-only or fails: told, nothing by half, and it goes on."""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event
from sqlalchemy.exc import OperationalError
from typer.testing import CliRunner

from mendpool.admin import app as operator
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.store.engine import sqlite_library

from tests.api.pools import Pool, rows, running_pool
from tests.databases import Databases, SqliteFiles
from tests.factories import make_id, make_report

SYNCED_ACKS = 40
_WRITES = """
import sys
from datetime import UTC, datetime
from mendpool.store.engine import make_engine
from mendpool.store.pool_store import PoolStore
from tests.store.samples import NOW, POOL_ID, POOL_KEY, add_member, put
store = PoolStore(make_engine(sys.argv[1]))
store.init_pool(POOL_ID, POOL_KEY, NOW)
member = add_member(store, 'ana')
for number in range(int(sys.argv[2])):
    put(store, member, number + 1)
    print(number, flush=True)
"""


@contextmanager
def small_disk(where: Path) -> Iterator[Path]:
    """Give a file system of 8 MiB of its own."""
    where.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=8m", "tmpfs", str(where)],
        capture_output=True,
        check=False,
    )
    if made.returncode:
        pytest.skip("NOT TESTED: a file system can't be mounted here, for that takes root")
    try:
        yield where
    finally:
        subprocess.run(["umount", "--lazy", str(where)], check=True)


@pytest.fixture
def on_small_disk(tmp_path: Path, catalogue: Catalogue) -> Iterator[tuple[Pool, Path]]:
    with small_disk(tmp_path / "disk") as disk:
        files = SqliteFiles(disk, "wal").in_mode("wal")
        with running_pool(files, catalogue) as pool:
            yield pool, disk


@pytest.fixture
def no_locks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let no file of the queue stay open: none is remounted that is open for writing.

    A kernel that meets a bad sector does not ask; only so can it be tried here.
    """
    monkeypatch.setattr("mendpool.store.queueing.system_locks", lambda: None)


def come_again(answer: Any, says: str) -> None:
    assert answer.status_code == 503, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    assert int(answer.headers["retry-after"]) >= 1
    assert says in answer.json()["detail"]


def takes_nothing_and_reads(pool: Pool, report: str, says: str) -> None:
    alder = pool.client("alder")
    for _ in range(3):
        come_again(alder.put(f"/v1/reports/{make_id()}", json=make_report()), says)
    come_again(alder.get("/readyz"), says)
    assert alder.get("/healthz").status_code == 200
    assert alder.get(f"/v1/reports/{report}").status_code == 200
    assert alder.post("/v1/ask", json={"complaint": "dead"}).status_code == 200


def test_a_full_disk_is_told_and_left_behind(on_small_disk: tuple[Pool, Path]) -> None:
    pool, disk = on_small_disk
    acknowledged = [pool.put(make_report()) for _ in range(3)]
    filler = disk / "filler"
    with filler.open("wb") as file:
        free = shutil.disk_usage(disk).free
        file.write(bytes(free))
    takes_nothing_and_reads(pool, acknowledged[0], "full")
    filler.unlink()
    acknowledged.append(pool.put(make_report()))
    assert pool.client("alder").get("/readyz").status_code == 200
    assert rows(pool.store)[0] == len(acknowledged)


@pytest.mark.usefixtures("no_locks")
def test_a_disk_that_only_reads_is_told_and_left_behind(
    on_small_disk: tuple[Pool, Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    pool, disk = on_small_disk
    kept = pool.put(make_report())
    pool.store.engine.dispose()
    remount = ["mount", "-o"]
    if subprocess.run(
        [*remount, "remount,ro", str(disk)], capture_output=True, check=False
    ).returncode:
        pytest.skip("NOT TESTED: something keeps the disk open for writing")
    if os.access(disk, os.W_OK):
        pytest.skip("NOT TESTED: a file system can't be made read-only here")
    try:
        answer = pool.client("alder").put(f"/v1/reports/{make_id()}", json=make_report())
        assert answer.status_code == 503
        ready = pool.client("").get("/readyz")
        come_again(ready, "may it be written")
        assert len(ready.json()["detail"].splitlines()) == 1
        assert pool.client("").get("/healthz").status_code == 200
        url = pool.store.engine.url.render_as_string()
        monkeypatch.setenv("MENDPOOL_DATABASE_URL", url)
        monkeypatch.setenv("MENDPOOL_CACHE_DIR", str(tmp_path / "cache"))
        for command in (["serve", "--port", "0"], ["check"], ["member", "list"], ["init"]):
            told = CliRunner().invoke(operator, command)
            assert told.exit_code == 5, told.output
            assert "is read-only" in told.output
            assert "mount it for writing" in told.output
            assert len(told.output.splitlines()) == 1
    finally:
        subprocess.run([*remount, "remount,rw", str(disk)], check=True)
    assert pool.client("alder").get(f"/v1/reports/{kept}").status_code == 200
    pool.put(make_report())


def test_a_database_that_may_only_be_read_is_told(
    sqlite_files: SqliteFiles, catalogue: Catalogue
) -> None:
    with running_pool(sqlite_files, catalogue) as pool:
        kept = pool.put(make_report())
        pool.store.engine.dispose()

        def only_read(raw: Any, _: object) -> None:
            raw.execute("PRAGMA query_only = ON")

        event.listen(pool.store.engine, "connect", only_read)
        takes_nothing_and_reads(pool, kept, "read-only")
        event.remove(pool.store.engine, "connect", only_read)
        pool.store.engine.dispose()
        pool.put(make_report())


def test_a_database_that_may_grow_no_more_is_as_a_full_disk(
    sqlite_files: SqliteFiles, catalogue: Catalogue
) -> None:
    with running_pool(sqlite_files, catalogue) as pool:
        kept = pool.put(make_report())
        pool.store.engine.dispose()
        limits = []

        def bound(raw: Any, _: object) -> None:
            limits.append(raw.execute("PRAGMA max_page_count = 1").fetchone())

        event.listen(pool.store.engine, "connect", bound)
        large = make_report(note="the bolt " * 400)
        refused = 0
        for _ in range(60):
            answer = pool.client("alder").put(f"/v1/reports/{make_id()}", json=large)
            refused += answer.status_code == 503
            if refused:
                come_again(answer, "full")
                break
        assert refused
        event.remove(pool.store.engine, "connect", bound)
        pool.store.engine.dispose()
        before = rows(pool.store)[0]
        pool.put(large)
        assert rows(pool.store)[0] == before + 1
        assert pool.client("alder").get(f"/v1/reports/{kept}").status_code == 200


class Failing:
    """Fails the N-th thing that is asked of the database, commits counted too."""

    def __init__(self, pool: Pool) -> None:
        self._engine = pool.store.engine
        self.left = 0
        event.listen(self._engine, "before_cursor_execute", self._statement)
        event.listen(self._engine, "commit", self._commit)

    def close(self) -> None:
        event.remove(self._engine, "before_cursor_execute", self._statement)
        event.remove(self._engine, "commit", self._commit)

    def _statement(self, _c: object, _u: object, statement: str, *_rest: object) -> None:
        if not statement.startswith(("ROLLBACK", "SELECT pg_")):
            self._count()

    def _commit(self, _: object) -> None:
        self._count()

    def _count(self) -> None:
        self.left -= 1
        if self.left == 0:
            cause = sqlite_library().OperationalError("disk I/O error")
            cause.sqlite_errorcode = 10  # SQLITE_IOERR
            raise OperationalError("a statement", None, cause)


def test_whichever_call_of_the_database_fails_nothing_is_kept_by_half(
    databases: Databases, catalogue: Catalogue
) -> None:
    with running_pool(databases, catalogue) as pool:
        kept = pool.put(make_report())
        alder = pool.client("alder")
        later = {"happened": "2026-11", "state": "holding"}
        requests = (
            ("/v1/reports/{}", make_report(), [1, 0, 1]),
            (f"/v1/reports/{kept}/followups/{{}}", later, [0, 1, 1]),
        )
        failing = Failing(pool)
        failed = 0
        for route, body, whole in requests:
            for number in range(1, 100):
                before, to = rows(pool.store), route.format(make_id())
                after = [a + b for a, b in zip(before, whole, strict=True)]
                failing.left = number
                answer = alder.put(to, json=body)
                came = failing.left > 0  # all was asked before the N-th
                failing.left = 0
                if answer.status_code >= 500:
                    failed += 1
                    assert answer.headers["content-type"] == "application/problem+json"
                    # Where it failed after the commit it is there; all of it or nothing.
                    assert rows(pool.store) in (before, after)
                    assert alder.put(to, json=body).status_code in (200, 201)
                else:
                    assert answer.status_code == 201
                assert rows(pool.store) == after
                assert alder.get(f"/v1/reports/{kept}").status_code == 200
                if came:
                    break
            else:
                raise AssertionError("it never came to an end")
        failing.close()
        assert failed >= 6
        assert pool.store.last_seq() == rows(pool.store)[2]


@pytest.mark.skipif(shutil.which("strace") is None, reason="needs strace")
def test_every_acknowledged_write_was_synced(sqlite_files: SqliteFiles, tmp_path: Path) -> None:
    with sqlite_files.migrated() as url:
        calls = tmp_path / "calls"
        traced = ["strace", "-f", "-qq", "-e", "trace=fsync,fdatasync", "-o", str(calls)]
        program = [sys.executable, "-c", _WRITES, url, str(SYNCED_ACKS)]
        done = subprocess.run(
            [*traced, *program],
            env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
            capture_output=True,
            text=True,
            check=False,
        )
        if "ptrace" in done.stderr:
            pytest.skip("no process may be traced here")
        assert done.returncode == 0, done.stderr
        assert len(done.stdout.splitlines()) == SYNCED_ACKS
        synced = [line for line in calls.read_text().splitlines() if line.endswith("= 0")]
        assert len(synced) >= SYNCED_ACKS
