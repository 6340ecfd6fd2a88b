"""Ours over HTTP: a real `mendpool pool serve` on loopback, asked from this process."""

import json
import os
import socket
import subprocess
import sys
import time
from collections.abc import Mapping
from pathlib import Path
from time import perf_counter

import httpx

from mendpool.store.engine import make_engine
from mendpool.store.pool_store import PoolStore

from tests.bench.scale.corpus import Corpus
from tests.bench.scale.drawn import Asked
from tests.bench.scale.ours import TOKEN, filled, numbers_of
from tests.bench.scale.postgres import Server
from tests.bench.scale.sides import TOP, Way, resident

_PATIENCE_S = 300.0
_COMMAND = "from mendpool_field.cli import main; main()"


class Served:
    """A service of its own process on one database, with the index that is there already."""

    def __init__(self, running: Server | None, cache: Path) -> None:
        """Take SQLite, or a server; `cache` is where `Ours` put its index."""
        self._server = running
        self._cache = cache
        self._name = "SQLite" if running is None else "PostgreSQL"

    def build(self, corpus: Corpus) -> float:
        """Start the service on what is there; return the seconds until it is ready."""
        url = filled(corpus, self._server)
        self._store = PoolStore(make_engine(url))
        with socket.socket() as taken:
            taken.bind(("127.0.0.1", 0))
            port = int(taken.getsockname()[1])
        environment = {
            **os.environ,
            "MENDPOOL_DATABASE_URL": url,
            "MENDPOOL_CACHE_DIR": str(self._cache),
            "MENDPOOL_REQUESTS_A_MINUTE": "1000000",
        }
        self._log = self._cache / f"serve-{self._name}.log"
        started = perf_counter()
        with self._log.open("wb") as log:
            self._process = subprocess.Popen(
                [sys.executable, "-c", _COMMAND, "pool", "serve", "--port", str(port)],
                env=environment,
                stdout=log,
                stderr=log,
            )
        headers = {"Authorization": f"Bearer {TOKEN}"}
        base = f"http://127.0.0.1:{port}"
        self._client = httpx.Client(base_url=base, headers=headers, timeout=60)
        self._wait()
        return perf_counter() - started

    def ways(self) -> Mapping[str, Way]:
        """Return the whole answer, and a route that returns a constant."""
        return {
            f"ours {self._name}: HTTP": self._ask,
            f"({self._name}: constant route)": self._constant,
        }

    def forget(self) -> None:
        """Do nothing: a service keeps what it keeps."""

    def disk(self) -> float | None:
        """Return nothing: it is that of the side in process."""
        return None

    def memory(self) -> float:
        """Return the service's."""
        return resident(self._process.pid)

    def close(self) -> None:
        """Stop the service."""
        self._client.close()
        self._store.engine.dispose()
        self._process.terminate()
        try:
            self._process.wait(30)
        except subprocess.TimeoutExpired:
            self._process.kill()

    def _ask(self, question: Asked) -> tuple[float, list[int]]:
        body = json.dumps(question.body).encode()
        kind = {"Content-Type": "application/json"}
        started = perf_counter()
        answer = self._client.post("/v1/ask", content=body, headers=kind)
        took = perf_counter() - started
        found = [s["report"] for s in answer.raise_for_status().json()["similar"][:TOP]]
        return took, numbers_of(self._store, found)

    def _constant(self, question: Asked) -> tuple[float, list[int]]:  # noqa: ARG002
        started = perf_counter()
        self._client.get("/healthz").raise_for_status()
        return perf_counter() - started, []

    def _wait(self) -> None:
        until = time.monotonic() + _PATIENCE_S
        while time.monotonic() < until and self._process.poll() is None:
            try:
                if self._client.get("/readyz").is_success:
                    return
            except httpx.TransportError:
                pass
            time.sleep(0.05)
        told = self._log.read_text(encoding="utf-8", errors="replace")[-2000:]
        raise RuntimeError(f"the service did not come up:\n{told}")
