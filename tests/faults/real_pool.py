"""A real pool: made and served by its own command, in a folder of its own, killed and begun
again at will."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import httpx

ROOT = Path(__file__).resolve().parents[2]
POOL = (sys.executable, "-c", "from mendpool.admin import app; app(prog_name='mendpool pool')")
FIELD = (sys.executable, "-m", "mendpool_field.cli")


class RealPool:
    """A pool's folder and, while it runs, its process.

    Args:
        folder: holds the database.
        cache: where the checked catalogue is kept.
    """

    def __init__(self, folder: Path, cache: Path) -> None:
        self.folder = folder
        self._cache = cache
        self._process: subprocess.Popen[bytes] | None = None
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = free.getsockname()[1]
        self._run("init")

    @property
    def url(self) -> str:
        """Where it is served."""
        return f"http://127.0.0.1:{self.port}"

    @property
    def environment(self) -> dict[str, str]:
        """What its command, and a member's, runs in."""
        kept = {k: v for k, v in os.environ.items() if not k.startswith("MENDPOOL_")}
        return {
            **kept,
            "PYTHONPATH": os.pathsep.join(str(ROOT / p) for p in ("service", "clients/field")),
            "MENDPOOL_DATABASE_URL": f"sqlite:///{self.folder / 'pool.db'}",
            "MENDPOOL_CACHE_DIR": str(self._cache),
            "OPENBLAS_NUM_THREADS": "1",
        }

    def member(self, name: str) -> str:
        """Make a member and return the token."""
        token: str = json.loads(self._run("member", "add", name, "--json"))["token"]
        return token

    def start(self) -> None:
        """Serve, and wait until it is ready."""
        self._process = subprocess.Popen(
            [*POOL, "serve", "--port", str(self.port)],
            env=self.environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        until = time.monotonic() + 60
        with httpx.Client() as client:
            while time.monotonic() < until:
                assert self._process.poll() is None, "the service ended by itself"
                try:
                    if client.get(f"{self.url}/readyz").status_code == 200:
                        return
                except httpx.TransportError:
                    time.sleep(0.05)
        raise AssertionError("not ready within a minute")

    def kill(self) -> None:
        """Kill it where it stands."""
        if self._process is not None:
            self._process.send_signal(signal.SIGKILL)
            self._process.wait()
            self._process = None

    def reports(self, token: str) -> list[dict[str, object]]:
        """Return every report it holds, by a line that is good."""
        found: list[dict[str, object]] = []
        query = "?limit=100"
        with httpx.Client(headers={"Authorization": f"Bearer {token}"}) as client:
            while True:
                page = client.get(f"{self.url}/v1/reports{query}").raise_for_status().json()
                found += page["items"]
                if not page["next"]:
                    return found
                query = f"?limit=100&cursor={page['next']}"

    def _run(self, *arguments: str) -> str:
        return subprocess.run(
            [*POOL, *arguments],
            env=self.environment,
            capture_output=True,
            text=True,
            timeout=60,
            check=True,
        ).stdout
