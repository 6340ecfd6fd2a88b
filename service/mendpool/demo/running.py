"""A real service in a process of its own, on a free loopback port, in a temporary folder."""

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx

_PATIENCE_S = 30.0


@dataclass(frozen=True, slots=True)
class Running:
    """Where the service listens, and the environment its commands need."""

    url: str
    environment: Mapping[str, str]


def command(
    *words: str, environment: Mapping[str, str], told: str = ""
) -> "subprocess.CompletedProcess[str]":
    """Run the installed `mendpool` with these words and return what came of it.

    Raises:
        RuntimeError: it ended with another code than 0.
    """
    done = subprocess.run(  # noqa: S603 - our own program
        [_program(), *words],
        env=dict(environment),
        input=told,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    if done.returncode:
        raise RuntimeError(
            f"mendpool {' '.join(words)} ended with {done.returncode}: {done.stderr}"
        )
    return done


@contextmanager
def service(folder: Path) -> Iterator[Running]:
    """Make a pool in `folder` and serve it until the block ends."""
    environment = {
        **os.environ,
        "MENDPOOL_DATABASE_URL": f"sqlite:///{folder / 'pool.sqlite3'}",
        "MENDPOOL_CACHE_DIR": str(folder / "cache"),
        "MENDPOOL_HOME": str(folder / "field"),
        "MENDPOOL_REQUESTS_A_MINUTE": "100000",
    }
    command("pool", "init", environment=environment)
    port = _free_port()
    url = f"http://127.0.0.1:{port}"
    environment["MENDPOOL_URL"] = url
    log = (folder / "service.log").open("wb")
    process = subprocess.Popen(  # noqa: S603 - our own program
        [_program(), "pool", "serve", "--port", str(port)],
        env=environment,
        stdout=log,
        stderr=log,
    )
    try:
        _wait_until_ready(url, process, folder / "service.log")
        yield Running(url, environment)
    finally:
        process.terminate()
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            process.kill()
        log.close()


def _program() -> str:
    """The `mendpool` that stands beside this Python."""
    return str(Path(sys.executable).with_name("mendpool"))


def _free_port() -> int:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return int(taken.getsockname()[1])


def _wait_until_ready(url: str, process: "subprocess.Popen[bytes]", log: Path) -> None:
    until = time.monotonic() + _PATIENCE_S
    while time.monotonic() < until:
        if process.poll() is not None:
            break
        try:
            if httpx.get(f"{url}/readyz", timeout=2).status_code == httpx.codes.OK:
                return
        except httpx.TransportError:
            pass
        time.sleep(0.05)
    raise RuntimeError(
        f"the service did not come up:\n{log.read_text(errors='replace')[-2000:]}"
    )
