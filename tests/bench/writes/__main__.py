"""Reports written over HTTP, scrubbing on, beside a bare route that keeps the same rows.

Run: ``python -m tests.bench.writes [--workers 1,2] [--requests 600] [--databases …]``.
Both are real servers with the same number of processes on the same kind of database, with
the same syncing, and take turns in rounds, so that a slow machine is slow for both; the
ratio is what carries over. The load comes from another process over loopback. It prints and
judges nothing. PostgreSQL is a private server that does sync, or is left out where there
are no programs.
"""

import argparse
import itertools
import json
import os
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from uuid_utils.compat import uuid7

from mendpool.coop.reports import invented_reports
from mendpool.core.record.report import Report
from mendpool.main import open_place
from mendpool.settings import Settings
from mendpool.store.engine import make_engine
from mendpool.store.migrate import migrate
from mendpool.store.pool_store import PoolStore
from mendpool.usecases.file_report import new_report
from mendpool.usecases.members import add_member

from tests.bench.writes.load import Load, cpu_ms, idle, put_request, send
from tests.postgres_server import programs, running_server

ROUNDS = 3
_READY_S = 60


@dataclass(frozen=True, slots=True)
class Row:
    """A line of the table: `ratio` is ours to the bare route, in reports a second.

    Times are in milliseconds; `cpu` is what the processes of a service used a report, the
    database's own left out, and says more than the rest on a busy machine.
    """

    database: str
    workers: int
    writers: int
    ours: float
    bare: float
    ratio: float
    ours_p50: float
    ours_p99: float
    bare_p50: float
    bare_p99: float
    ours_cpu: float
    bare_cpu: float
    refused: int


def measured(
    databases: Sequence[str] = ("sqlite", "postgresql"),
    workers: Sequence[int] = (1,),
    writers: Sequence[int] = (1, 8),
    requests: int = 600,
) -> Iterator[Row]:
    """Measure, a row for each combination; a database that can't be had is left out."""
    for database, processes in itertools.product(databases, workers):
        with ExitStack() as open_:
            folder = Path(open_.enter_context(tempfile.TemporaryDirectory()))
            urls = open_.enter_context(_databases(database, folder))
            if urls is None:
                continue
            tokens = [_begun(url) for url in urls]
            rows = _ready_rows(urls[0], folder)
            ours = open_.enter_context(_served(_ours(processes), urls[0], folder, "ours"))
            bare = open_.enter_context(_served(_bare(processes), urls[1], folder, "bare"))
            sent = _Sender(ours, bare, tokens[0], rows)
            sent.round(50, 4)  # both warm
            for count in writers:
                rounds = [sent.round(requests // ROUNDS, count) for _ in range(ROUNDS)]
                yield _row(database, processes, count, rounds)


@dataclass(frozen=True, slots=True)
class _Running:
    port: int
    process: int

    def send(self, requests: Sequence[bytes], writers: int) -> tuple[Load, float]:
        """Return what came of it, and how many milliseconds of a processor it took.

        What is put off until nothing comes any more (a fit) is waited for and counted.
        """
        before = cpu_ms(self.process)
        load = send(self.port, requests, writers)
        idle(self.process)
        return load, cpu_ms(self.process) - before


class _Sender:
    def __init__(
        self, ours: _Running, bare: _Running, token: str, rows: Sequence[tuple[bytes, bytes]]
    ) -> None:
        self._ours, self._bare = ours, bare
        self._token = token
        self._rows = itertools.cycle(rows)

    def round(self, requests: int, writers: int) -> "_Round":
        ours, bare = [], []
        for mine, ready in itertools.islice(self._rows, requests):
            path = f"/v1/reports/{uuid7()}"
            ours.append(put_request(path, self._token, mine))
            bare.append(put_request(path, self._token, ready))
        return self._ours.send(ours, writers), self._bare.send(bare, writers)


_Round = tuple[tuple[Load, float], tuple[Load, float]]


def _row(database: str, workers: int, writers: int, rounds: Sequence[_Round]) -> Row:
    ours, bare = (_joined([both[n][0] for both in rounds]) for n in (0, 1))
    cpu = [sum(both[n][1] for both in rounds) / len(ours.times) for n in (0, 1)]
    return Row(
        database, workers, writers,
        ours.a_second, bare.a_second, ours.a_second / bare.a_second,
        ours.at(0.5), ours.at(0.99), bare.at(0.5), bare.at(0.99), cpu[0], cpu[1],
        ours.refused + bare.refused,
    )  # fmt: skip


def _joined(loads: Sequence[Load]) -> Load:
    times = [one for load in loads for one in load.times]
    return Load(times, sum(load.seconds for load in loads), sum(load.refused for load in loads))


@contextmanager
def _databases(kind: str, folder: Path) -> Iterator[tuple[str, str] | None]:
    if kind == "sqlite":
        yield f"sqlite:///{folder / 'ours.sqlite3'}", f"sqlite:///{folder / 'bare.sqlite3'}"
    elif programs() is None:
        yield None
    else:
        with running_server(synced=True) as server:
            yield server.make_database(), server.make_database()


def _begun(url: str) -> str:
    """Make the pool and return a member's token."""
    migrate(url)
    store = PoolStore(make_engine(url))
    now = datetime.now(UTC)
    store.init_pool(uuid7(), bytes(range(32)), now)
    token = add_member(store, "bench", "member", now).token
    store.engine.dispose()
    return token


def _ready_rows(url: str, folder: Path) -> list[tuple[bytes, bytes]]:
    """Return reports as a member sends them, each with its rows as the bare route gets them."""
    place = open_place(Settings(database_url=url, cache_dir=folder / "cache"))
    member = place.store.list_members()[0]
    rows = []
    for invented in invented_reports():
        report = Report.model_validate(invented.body)
        new = new_report(place, member, uuid7(), invented.body, report, datetime.now(UTC))
        ready: dict[str, Any] = {
            "sameness": new.sameness,
            "body": new.body,
            "case_body": new.case_body,
            "derived_version": new.derived_version,
            "fuel": new.facets.fuel,
            "outcome": new.facets.outcome,
            "symptoms": sorted(set(new.facets.symptoms)),
            "components": sorted(set(new.facets.components)),
        }
        rows.append((json.dumps(invented.body).encode(), json.dumps(ready).encode()))
    place.store.engine.dispose()
    return rows


def _ours(workers: int) -> list[str]:
    program = "from mendpool.admin import app; app(prog_name='mendpool pool')"
    return ["-c", program, "serve", "--workers", str(workers), "--port"]


def _bare(workers: int) -> list[str]:
    return [
        "-m", "uvicorn", "tests.bench.writes.floor:create_app", "--factory", "--no-access-log",
        "--log-level", "warning", "--workers", str(workers), "--port",
    ]  # fmt: skip


@contextmanager
def _served(words: Sequence[str], url: str, folder: Path, name: str) -> Iterator[_Running]:
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = int(free.getsockname()[1])
    environment = {
        **os.environ,
        "MENDPOOL_DATABASE_URL": url,
        "MENDPOOL_CACHE_DIR": str(folder / "cache"),
        "MENDPOOL_REQUESTS_A_MINUTE": "100000000",
        "MENDPOOL_REPORTS_A_DAY": "100000000",
    }
    with (folder / f"{name}.log").open("wb") as log:
        process = subprocess.Popen(
            [sys.executable, *words, str(port)], env=environment, stdout=log, stderr=log
        )
        try:
            _wait(port, folder / f"{name}.log")
            yield _Running(port, process.pid)
        finally:
            process.terminate()
            process.wait(30)


def _wait(port: int, log: Path) -> None:
    until = time.monotonic() + _READY_S
    while True:
        try:
            urllib.request.urlopen(f"http://127.0.0.1:{port}/readyz", timeout=2).close()
        except (urllib.error.URLError, OSError):
            assert time.monotonic() < until, log.read_text()
            time.sleep(0.1)
        else:
            return


def main(argv: Sequence[str] | None = None) -> None:
    """Print the table, or its rows as JSON."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.writes")
    parser.add_argument("--databases", default="sqlite,postgresql")
    parser.add_argument("--workers", default="1", help="numbers of processes, as 1,2")
    parser.add_argument("--writers", default="1,8", help="how many write at once")
    parser.add_argument("--requests", type=int, default=600)
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args(argv)
    numbers = [[int(one) for one in text.split(",")] for text in (given.workers, given.writers)]
    if not given.json:
        print(
            "database    workers writers  ours/s  bare/s  ratio  ours p50   p99  bare p50   p99"
            "  cpu ours  bare"
        )
    for row in measured(given.databases.split(","), *numbers, given.requests):
        if given.json:
            print(json.dumps(asdict(row)), flush=True)
            continue
        print(
            f"{row.database:11} {row.workers:7} {row.writers:7} {row.ours:7.0f} {row.bare:7.0f}"
            f"  {row.ratio:5.2f}  {row.ours_p50:8.2f} {row.ours_p99:5.1f}"
            f"  {row.bare_p50:8.2f} {row.bare_p99:5.1f}"
            f"  {row.ours_cpu:8.2f} {row.bare_cpu:5.2f}"
            + (f"  refused {row.refused}" if row.refused else ""),
            flush=True,
        )


if __name__ == "__main__":
    main()
