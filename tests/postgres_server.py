"""A PostgreSQL server for tests: one that is given, one of our own, or a loud skip.

The order: the server at MENDPOOL_TEST_POSTGRES (an account that may make databases); the
programs under /usr/lib/postgresql, run on a new folder and a free port of this machine;
else the tests that need one are skipped. The programs refuse to run as root, so root lends
them the account `postgres`. CI sets MENDPOOL_TEST_POSTGRES_NEEDED, and then a missing
server is a failure.
"""

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
import time
import uuid
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

import pytest
from sqlalchemy import Row, create_engine
from sqlalchemy.engine import URL, make_url

PROGRAMS = Path("/usr/lib/postgresql")
WAIT_S = 60
LET_GO_S = 3
"""A process that was killed is noticed by the server a little later."""


@dataclass(frozen=True, slots=True)
class PostgresServer:
    """A running server; `admin` is the address of an account that may make databases."""

    admin: URL

    def make_database(self, template: str | None = None) -> str:
        """Make an empty database, or a copy of another of this server; return its address."""
        name = f"mendpool_test_{uuid.uuid4().hex}"
        self._run(f'CREATE DATABASE "{name}"' + (f' TEMPLATE "{template}"' if template else ""))
        return self.admin.set(database=name).render_as_string(hide_password=False)

    def drop_database(self, url: str) -> None:
        """Drop a database that `make_database` made, whoever is still connected.

        Raises:
            AssertionError: somebody was. Left to the collector, such a connection would warn
                in the middle of another test.
        """
        name = str(make_url(url).database)
        left = self._still_connected(name)
        self._run(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')
        assert not left, (
            f"{len(left)} connections were left open: dispose of the engine that this test "
            f"made. They asked last: {left}"
        )

    def _still_connected(self, database: str) -> list[str]:
        """Return what each connection asked last, once those that are ending have had time."""
        until = time.monotonic() + LET_GO_S
        asked = (
            "SELECT query FROM pg_stat_activity "
            f"WHERE datname = '{database}' AND backend_type = 'client backend'"
        )
        while (left := [str(row[0]) for row in self._run(asked)]) and time.monotonic() < until:
            time.sleep(0.05)
        return left

    def _run(self, statement: str) -> Sequence[Row[Any]]:
        engine = create_engine(self.admin, isolation_level="AUTOCOMMIT")
        try:
            with engine.connect() as connection:
                done = connection.exec_driver_sql(statement)
                return done.all() if done.returns_rows else ()
        finally:
            engine.dispose()


def programs() -> Path | None:
    """Return the folder of the newest PostgreSQL programs of this machine, if any."""
    found = [path.parent for path in PROGRAMS.glob("*/bin/initdb")]
    return max(found, key=lambda path: float(path.parent.name), default=None)


@contextmanager
def running_server(*, synced: bool = False) -> Iterator[PostgresServer]:
    """Give a server for as long as the block lasts, or skip the test with the reason.

    Args:
        synced: one that syncs its commits, for measuring; a server that is given is taken
            as it is.
    """
    given = os.environ.get("MENDPOOL_TEST_POSTGRES")
    if given:
        yield PostgresServer(make_url(given).set(drivername="postgresql+psycopg"))
        return
    folder = programs()
    if folder is None:
        _without(f"no PostgreSQL: {PROGRAMS}/*/bin is empty and no server was given")
    account = _account()
    home = Path(tempfile.mkdtemp(prefix="mendpool-pg-", dir="/tmp"))
    try:
        if account is not None:
            os.chown(home, account.pw_uid, account.pw_gid)
        with _started(folder, home, account, synced=synced) as server:
            yield server
    finally:
        shutil.rmtree(home, ignore_errors=True)


@contextmanager
def _started(
    folder: Path, home: Path, account: pwd.struct_passwd | None, *, synced: bool
) -> Iterator[PostgresServer]:
    data, port = home / "data", _free_port()
    # In a test the bytes need not outlive a power cut, so nothing is synced.
    fsync = "on" if synced else "off"
    options = f"-c listen_addresses=127.0.0.1 -p {port} -k {home} -c fsync={fsync}"
    control: list[str | Path] = [folder / "pg_ctl", "-D", data, "-w", "-t", str(WAIT_S)]
    _as(
        account,
        [folder / "initdb", "-D", data, "-A", "trust", "-U", "mendpool", "-N", "-E", "UTF8"],
    )
    _as(account, [*control, "-l", home / "log", "-o", options, "start"])
    try:
        yield PostgresServer(
            URL.create(
                "postgresql+psycopg",
                username="mendpool",
                host="127.0.0.1",
                port=port,
                database="postgres",
            )
        )
    finally:
        _as(account, [*control, "-m", "immediate", "stop"])


def _account() -> pwd.struct_passwd | None:
    if os.geteuid() != 0:
        return None
    try:
        return pwd.getpwnam("postgres")
    except KeyError:
        _without("root can't run PostgreSQL and there is no account `postgres`")


def _as(account: pwd.struct_passwd | None, words: Sequence[str | Path]) -> None:
    # Its own standard streams: a server that inherits a pipe keeps the reader waiting.
    with tempfile.TemporaryFile() as said:
        done = subprocess.run(
            words,
            stdin=subprocess.DEVNULL,
            stdout=said,
            stderr=said,
            cwd="/",
            env={"PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8"},
            timeout=WAIT_S * 2,
            check=False,
            user=None if account is None else account.pw_uid,
            group=None if account is None else account.pw_gid,
            extra_groups=None if account is None else [],
        )
        said.seek(0)
        assert done.returncode == 0, said.read().decode(errors="replace")


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _without(reason: str) -> NoReturn:
    if os.environ.get("MENDPOOL_TEST_POSTGRES_NEEDED"):
        pytest.fail(reason)
    pytest.skip(reason)
