"""Real services in processes of their own, one or several on one database."""

import json
import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from uuid_utils.compat import uuid7

from mendpool.store.engine import make_engine
from mendpool.store.migrate import migrate
from mendpool.store.pool_store import PoolStore
from mendpool.usecases.members import add_member

ROOT = Path(__file__).resolve().parents[2]
_PROGRAM = "from mendpool.admin import app; app(prog_name='mendpool pool')"
_READY_S = 60


def begin(url: str, *members: str) -> dict[str, str]:
    """Make a pool and return the members' tokens."""
    migrate(url)
    store, now = PoolStore(make_engine(url)), datetime.now(UTC)
    store.init_pool(uuid7(), bytes(range(32)), now)
    tokens = {name: add_member(store, name, "member", now).token for name in members}
    store.engine.dispose()
    return tokens


@dataclass
class Service:
    """A running service."""

    process: subprocess.Popen[bytes]
    url: str
    log: Path

    def client(self, token: str) -> "Client":
        return Client(self.url, token)

    def workers(self) -> list[int]:
        """Return the process ids of those that answer."""
        told = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text()
        return [
            int(child)
            for child in told.split()
            if b"spawn_main" in Path(f"/proc/{child}/cmdline").read_bytes()
        ]


@dataclass
class Answer:
    """What came back; status 0 where the connection broke."""

    status: int
    body: Any
    retry_after: str | None = None


@dataclass
class Client:
    """One member. Each request has a connection of its own, so that any worker may get it."""

    url: str
    token: str

    def send(self, method: str, path: str, body: object = None) -> Answer:
        request = urllib.request.Request(  # noqa: S310 - a loopback address
            self.url + path,
            None if body is None else json.dumps(body).encode(),
            {"Authorization": f"Bearer {self.token}", "Content-Type": "application/json"},
            method=method,
        )
        try:
            with urllib.request.urlopen(request, timeout=30) as answer:  # noqa: S310
                return Answer(answer.status, json.loads(answer.read() or b"null"))
        except urllib.error.HTTPError as error:
            with error:
                told = error.headers.get("Retry-After")
                return Answer(error.code, error.read().decode(), told)
        except (OSError, ValueError):
            return Answer(0, None)


@contextmanager
def serving(url: str, folder: Path, *words: str, **settings: str) -> Iterator[Service]:
    """Serve a database on a free port until the block ends; gives it once it is ready."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = int(free.getsockname()[1])
    kept = {name: value for name, value in os.environ.items() if "MENDPOOL" not in name}
    environment = {
        **kept,
        "PYTHONPATH": os.pathsep.join(str(ROOT / p) for p in ("service", "clients/field")),
        "MENDPOOL_DATABASE_URL": url,
        "MENDPOOL_CACHE_DIR": str(folder / "cache"),
        "MENDPOOL_REQUESTS_A_MINUTE": "1000000",
        "MENDPOOL_REPORTS_A_DAY": "1000000",
        **settings,
    }
    log = folder / f"{port}.log"
    with (
        log.open("wb") as out,
        subprocess.Popen(
            [sys.executable, "-c", _PROGRAM, "serve", "--port", str(port), *words],
            env=environment,
            stdout=out,
            stderr=out,
        ) as process,
    ):
        service = Service(process, f"http://127.0.0.1:{port}", log)
        try:
            wait_until_ready(service)
            yield service
        finally:
            if process.poll() is None:
                process.terminate()
                try:
                    process.wait(30)
                except subprocess.TimeoutExpired:
                    process.kill()


def wait_until_ready(service: Service) -> None:
    until = time.monotonic() + _READY_S
    while True:
        try:
            urllib.request.urlopen(f"{service.url}/readyz", timeout=5).close()  # noqa: S310
        except OSError:
            assert service.process.poll() is None, service.log.read_text()
            assert time.monotonic() < until, service.log.read_text()
            time.sleep(0.05)
        else:
            return
