"""An import that is killed, interrupted or helped by nobody ends as one that was not."""

import json
import os
import random
import signal
import subprocess
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

import pytest
from sqlalchemy.engine import make_url

from mendpool.store.engine import make_engine, reading

from tests.acceptance.test_pool_command import COMMAND, REFUSED, Operator
from tests.factories import make_id, make_report
from tests.postgres_server import PostgresServer, running_server

pytestmark = pytest.mark.timeout(600)
INTERRUPTED = 130
TABLES = ("report", "report_symptom", "report_component", "followup", "change", "fit")
TIMES = ("received_at", "at", "made_at", "withdrawn_at")


@dataclass
class Importer(Operator):
    """An operator who may have PostgreSQL, and files a file."""

    patience_s: ClassVar[int] = 300
    url: str = ""

    def __post_init__(self) -> None:
        self.url = self.url or f"sqlite:///{self.folder / 'data' / 'pool.db'}"

    def begin(self, file: Path) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [*COMMAND, "import", str(file), "--as", "alder", "--workers", "2"],
            env=self.environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )

    def finish(self, file: Path) -> dict[str, Any]:
        return self.json("import", str(file), "--as", "alder", "--workers", "2")

    def holds(self) -> dict[str, list[tuple[object, ...]]]:
        """Everything that is kept, but for when."""
        engine = make_engine(self.environment["MENDPOOL_DATABASE_URL"])
        found = {}
        with reading(engine) as connection:
            for table in TABLES:
                rows = connection.exec_driver_sql(f"SELECT * FROM {table}").mappings()
                found[table] = sorted(
                    tuple(str(v) for n, v in row.items() if n not in TIMES) for row in rows
                )
        engine.dispose()
        return found

    def count(self) -> int:
        engine = make_engine(self.environment["MENDPOOL_DATABASE_URL"])
        with reading(engine) as connection:
            found = connection.exec_driver_sql("SELECT count(*) FROM report").scalar_one()
        engine.dispose()
        return int(found)


def lines(count: int) -> Iterator[str]:
    """Reports that differ, a third with a follow-up, now and then a bad line."""
    for number in range(count):
        seen = {"id": str(make_id()), "happened": "2026-11", "state": "holding"}
        body = make_report(
            complaint=f"no output, {number % 90 + 10} volts at the outlet, it hunts",
            followups=[seen] if number % 3 == 0 else [],
        )
        yield json.dumps({"id": str(make_id()), **body}) if number % 97 else "{not a report"


def filed(folder: Path, count: int) -> Path:
    file = folder / "in.jsonl"
    file.write_text("\n".join(lines(count)) + "\n", "utf-8")
    return file


def pools(folder: Path, count: int) -> list[Importer]:
    """Pools that are copies of one with a member, so that secrets and names are the same."""
    first = Importer(folder / "pool-0")
    first.run("init")
    first.run("member", "add", "alder")
    made = [first]
    for number in range(1, count):
        other = Importer(folder / f"pool-{number}")
        (other.folder / "data").mkdir(parents=True)
        for file in (first.folder / "data").iterdir():
            (other.folder / "data" / file.name).write_bytes(file.read_bytes())
        made.append(other)
    return made


def kill(importer: Importer, file: Path, after: int) -> None:
    """Kill an import once it has filed so many, without a word."""
    process = importer.begin(file)
    until = time.monotonic() + 60
    while process.poll() is None and importer.count() < after:
        assert time.monotonic() < until, "the import stands still"
        time.sleep(0.01)
    process.kill()
    process.communicate()
    assert gone(process.pid), "a helper lives on without who started it"


def gone(session: int) -> bool:
    """Whether every process of the session ends soon."""
    until = time.monotonic() + 20
    while time.monotonic() < until:
        try:
            os.killpg(session, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.05)
    return False


@pytest.mark.slow
def test_killed_midway_and_run_again_it_ends_as_one_clean_run(tmp_path: Path) -> None:
    clean, killed = pools(tmp_path, 2)
    file = filed(tmp_path, 1000)
    expected = clean.run("import", str(file), "--as", "alder", "--json", code=REFUSED)
    kill(killed, file, after=350)
    assert 350 <= killed.count() < 985
    again = killed.run("import", str(file), "--as", "alder", "--json", code=REFUSED)
    told, whole = json.loads(again.stdout), json.loads(expected.stdout)
    assert told["left_out"] == whole["left_out"] == 11
    assert told["new"] + told["unchanged"] == whole["new"] == 989
    assert told["unchanged"] >= 350
    assert killed.holds() == clean.holds()


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_killed_again_and_again_it_ends_as_one_clean_run(tmp_path: Path, seed: int) -> None:
    _often_killed(*pools(tmp_path, 2), filed(tmp_path, 3000), random.Random(seed))


@pytest.fixture(scope="module")
def postgres() -> Iterator[PostgresServer]:
    with running_server() as server:
        yield server


@pytest.mark.postgres
@pytest.mark.parametrize("seed", range(2))
def test_killed_again_and_again_on_postgresql(
    tmp_path: Path, seed: int, postgres: PostgresServer
) -> None:
    first = Importer(tmp_path / "pool-0", url=postgres.make_database())
    first.run("init")
    first.run("member", "add", "alder")
    template = str(make_url(first.url).database)
    second = Importer(tmp_path / "pool-1", url=postgres.make_database(template=template))
    try:
        _often_killed(first, second, filed(tmp_path, 2000), random.Random(seed))
    finally:
        postgres.drop_database(second.url)
        postgres.drop_database(first.url)


def _often_killed(clean: Importer, killed: Importer, file: Path, rng: random.Random) -> None:
    clean.run("import", str(file), "--as", "alder", code=REFUSED)
    for _ in range(3):
        kill(killed, file, after=killed.count() + rng.randrange(1, 500))
    killed.run("import", str(file), "--as", "alder", code=REFUSED)
    assert killed.holds() == clean.holds()


@pytest.mark.slow
def test_interrupted_it_says_so_and_leaves_nothing_running(tmp_path: Path) -> None:
    (pool,) = pools(tmp_path, 1)
    file = filed(tmp_path, 2000)
    process = pool.begin(file)
    while pool.count() < 100:
        time.sleep(0.01)
    os.killpg(process.pid, signal.SIGINT)  # as a terminal does
    _, said = process.communicate(timeout=60)
    assert process.returncode == INTERRUPTED, said
    assert "the same command goes on" in said
    assert "Traceback" not in said
    assert gone(process.pid)
    assert pool.count() < 1979
