"""The operator's command as it is run: make a pool, its members, serve it, kill it, go on."""

import atexit
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, ClassVar

import httpx
import pytest
from sqlalchemy import select
from sqlalchemy.engine import make_url
from typer.testing import CliRunner, Result

from mendpool.admin import app
from mendpool.store.engine import make_engine, reading, rebuilding
from mendpool.store.pool_store import PoolStore
from mendpool.store.tables import StoreTable

from tests.databases import Databases
from tests.factories import make_id, make_report

COMMAND = (
    sys.executable,
    "-c",
    "from mendpool.admin import app; app(prog_name='mendpool pool')",
)
ROOT = Path(__file__).resolve().parents[2]
REFUSED, FAILED, USAGE = 3, 5, 2
TABLES = StoreTable.metadata.tables
CACHE = tempfile.TemporaryDirectory()
"""Shared by all operators: what is kept there is known by its content, or by its pool's id."""
atexit.register(CACHE.cleanup)


@dataclass
class Operator:
    """Someone with a shell, a folder and the address of a database."""

    folder: Path
    url: str
    patience_s: ClassVar[int] = 60

    @property
    def environment(self) -> dict[str, str]:
        kept = {k: v for k, v in os.environ.items() if not k.startswith("MENDPOOL_")}
        return {
            **kept,
            "PYTHONPATH": os.pathsep.join(str(ROOT / p) for p in ("service", "clients/field")),
            "MENDPOOL_DATABASE_URL": self.url,
            "MENDPOOL_CACHE_DIR": CACHE.name,
        }

    def run(self, *arguments: str, code: int = 0) -> subprocess.CompletedProcess[str]:
        done = subprocess.run(
            [*COMMAND, *arguments],
            env=self.environment,
            capture_output=True,
            text=True,
            timeout=self.patience_s,
            check=False,
        )
        assert done.returncode == code, done.stdout + done.stderr
        assert "Traceback" not in done.stderr
        return done

    def here(self, *arguments: str, code: int = 0) -> Result:
        """Run in the test's own process, in a tenth of the time.

        For what is not about the process: how a command ends is told by other tests.
        """
        unset = dict.fromkeys(name for name in os.environ if name.startswith("MENDPOOL_"))
        done = CliRunner().invoke(app, arguments, env={**unset, **self.environment})
        assert done.exit_code == code, done.output
        assert done.exception is None or isinstance(done.exception, SystemExit)
        return done

    def json(self, *arguments: str) -> dict[str, Any]:
        """Run and read the one JSON object that is all of the output."""
        (line,) = self.run(*arguments, "--json").stdout.splitlines()
        found: dict[str, Any] = json.loads(line)
        return found

    def sql(self, statement: str) -> None:
        engine = make_engine(self.url)
        with rebuilding(engine) as connection:
            connection.exec_driver_sql(statement)
        engine.dispose()

    def everything_held(self) -> bytes:
        """Return all that the database holds, as it lies there or as it is read."""
        engine = make_engine(self.url)
        if engine.dialect.name == "sqlite":
            beside = Path(str(engine.url.database)).parent
            return b"".join(file.read_bytes() for file in beside.iterdir())
        with reading(engine) as connection:
            tables = [connection.execute(select(t)).all() for t in TABLES.values()]
        engine.dispose()
        return repr(tables).encode()

    @contextmanager
    def serving(self) -> Iterator[tuple[subprocess.Popen[str], str]]:
        """Serve on a free port; gives the process and the address once it is ready."""
        with socket.create_server(("127.0.0.1", 0)) as free:
            port = free.getsockname()[1]
        with subprocess.Popen(
            [*COMMAND, "serve", "--port", str(port)],
            env=self.environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        ) as process:
            url = f"http://127.0.0.1:{port}"
            try:
                wait_until_ready(process, url)
                yield process, url
            finally:
                process.kill()


def wait_until_ready(process: subprocess.Popen[str], url: str) -> None:
    until = time.monotonic() + 30
    with httpx.Client() as client:
        while time.monotonic() < until:
            assert process.poll() is None, process.stdout and process.stdout.read()
            try:
                if client.get(f"{url}/readyz").status_code == 200:
                    return
            except httpx.TransportError:
                time.sleep(0.05)
    raise AssertionError("not ready within 30 s")


@pytest.fixture
def operator(databases: Databases, tmp_path: Path) -> Iterator[Operator]:
    """Give an operator with a pool of his own, as `init` leaves it."""
    with databases.migrated() as url:
        store = PoolStore(databases.open(url))
        store.init_pool(make_id(), bytes(range(32)), datetime(2026, 11, 25, tzinfo=UTC))
        store.engine.dispose()
        yield Operator(tmp_path, url)


@pytest.fixture
def beginner(databases: Databases, tmp_path: Path) -> Iterator[Operator]:
    """Give an operator whose database is not there yet, or empty."""
    with databases.empty() as url:
        yield Operator(tmp_path, url)


def test_init_twice_is_harmless_and_makes_no_member(beginner: Operator) -> None:
    first = beginner.json("init")
    assert beginner.json("init") == first
    assert first["database"].endswith(str(make_url(beginner.url).database))
    assert beginner.here("member", "list").stdout == ""


def test_a_member_is_made_with_a_token_that_is_told_once(operator: Operator) -> None:
    made = operator.json("member", "add", "alder")
    assert (made["member"], made["role"]) == ("alder", "member")
    assert operator.json("member", "add", "willow", "--steward")["role"] == "steward"
    listed = operator.here("member", "list").stdout
    assert made["token"] not in listed
    assert [line.split(",")[:2] for line in listed.splitlines()] == [
        ["alder: member", " active"],
        ["willow: steward", " active"],
    ]
    held = operator.everything_held()
    assert made["pseudonym"].encode() in held
    assert made["token"].encode() not in held


def test_a_name_is_taken_once_and_an_unknown_one_is_refused(operator: Operator) -> None:
    operator.here("member", "add", "alder")
    assert "alder" in operator.run("member", "add", "alder", code=REFUSED).stderr
    told = operator.here("member", "revoke", "nobody", code=REFUSED)
    assert "member list" in told.stderr
    operator.here("member", "add", " ", code=USAGE)


def test_a_report_outlives_a_kill_and_a_revoked_token_does_not_work(operator: Operator) -> None:
    made = operator.here("member", "add", "alder", "--json").stdout
    headers = {"Authorization": f"Bearer {json.loads(made)['token']}"}
    route, body = f"/v1/reports/{make_id()}", make_report()
    with operator.serving() as (process, url):
        stored = httpx.put(f"{url}{route}", json=body, headers=headers)
        assert stored.status_code == 201
        process.send_signal(signal.SIGKILL)
        process.wait(10)
    with operator.serving() as (process, url):
        assert httpx.get(f"{url}{route}", headers=headers).json() == stored.json()
        assert httpx.put(f"{url}{route}", json=body, headers=headers).status_code == 200
        question = {"complaint": body["complaint"]}
        answer = httpx.post(f"{url}/v1/ask", json=question, headers=headers).json()
        assert answer["evidence"]["reports_searched"] == 1
        assert operator.json("member", "revoke", "alder") == {
            "member": "alder",
            "revoked": True,
        }
        assert httpx.get(f"{url}{route}", headers=headers).status_code == 401, "at once"
        process.send_signal(signal.SIGTERM)
        assert process.wait(10) == 0, process.stdout and process.stdout.read()


@pytest.mark.parametrize(
    ("told", "code"),
    [
        pytest.param(signal.SIGTERM, 0),
        pytest.param(signal.SIGINT, 130, marks=pytest.mark.slow),
    ],
)
def test_being_told_to_stop_it_stops_in_good_time(
    operator: Operator, told: signal.Signals, code: int
) -> None:
    with operator.serving() as (process, url), httpx.Client(base_url=url) as client:
        client.get("/healthz")  # a connection that is kept open must not hold it up
        began = time.monotonic()
        process.send_signal(told)
        assert process.wait(10) == code
        assert time.monotonic() - began < 5


@pytest.mark.slow
def test_a_port_that_is_taken_is_told(operator: Operator) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        assert port in operator.run("serve", "--port", port, code=FAILED).stderr


@pytest.mark.parametrize(
    ("spoil", "names"),
    [
        ("DROP TABLE alembic_version", "mendpool pool init"),
        ("DELETE FROM alembic_version", "mendpool pool"),
        ("UPDATE alembic_version SET version_num = 'ffff'", "newer mendpool"),
        ("UPDATE alembic_version SET version_num = '0001'", "mendpool pool migrate"),
    ],
)
def test_serve_refuses_tables_that_are_not_its_own(
    operator: Operator, spoil: str, names: str
) -> None:
    operator.sql(spoil)
    told = operator.here("serve", "--port", "0", code=FAILED)
    assert names in told.stderr


def test_serve_without_a_pool_says_what_to_run_and_makes_none(beginner: Operator) -> None:
    told = beginner.run("serve", "--port", "0", code=FAILED)
    assert "mendpool pool init" in told.stderr
    assert beginner.here("member", "add", "alder", code=FAILED).stdout == ""


def test_migrate_twice_is_harmless(operator: Operator) -> None:
    for _ in range(2):
        assert "current" in operator.here("migrate").stdout


@pytest.mark.parametrize(
    ("name", "value"),
    [("PORT", "70000"), ("REQUESTS_A_MINUTE", "0"), ("DATABASE_URL", "oracle://x/y")],
)
def test_a_wrong_setting_is_told_by_name_and_no_secret(
    operator: Operator, name: str, value: str
) -> None:
    env = {**operator.environment, f"MENDPOOL_{name}": value}
    done = CliRunner().invoke(app, ["serve", "--port", "0"], env=env)
    assert done.exit_code in (USAGE, FAILED)
    assert isinstance(done.exception, SystemExit)
    assert len(done.stderr.splitlines()) == 1
    assert name in done.stderr or "database" in done.stderr


def test_making_a_member_loads_neither_the_server_nor_the_migrations() -> None:
    late = "{'fastapi', 'uvicorn', 'alembic'}"
    seen = f"import sys, mendpool.admin; print(*{late} & set(sys.modules))"
    done = subprocess.run(
        [sys.executable, "-c", seen],
        env={**os.environ, "PYTHONPATH": str(ROOT / "service")},
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    assert done.stdout.split() == []


@pytest.mark.slow
def test_a_member_is_made_in_about_a_second(operator: Operator) -> None:
    taken = []
    for number in range(3):
        began = time.monotonic()
        operator.run("member", "add", f"alder-{number}", "--json")
        taken.append(time.monotonic() - began)
    assert min(taken) < 1.2, taken


def test_help_names_every_command() -> None:
    done = subprocess.run(
        [*COMMAND, "--help"],
        env={**os.environ, "PYTHONPATH": str(ROOT / "service")},
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    for name in ("init", "migrate", "serve", "member"):
        assert name in done.stdout
