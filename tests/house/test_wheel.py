"""The built package, installed where nothing else is, works from any folder."""

import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from zipfile import ZipFile

import httpx
import pytest

from tests.house.tree import TOP

pytestmark = pytest.mark.slow
_START_S = 60
_PYTHON = Path(sys.base_prefix) / "bin" / "python3"
"""Has pip, which the environments made here have not."""


@dataclass(frozen=True, slots=True)
class Installed:
    """An environment with the wheel in it, and a folder to run from that is no checkout."""

    python: Path
    away: Path

    def mendpool(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [self.python.parent / "mendpool", *arguments],
            cwd=self.away, env=self.env(), capture_output=True, text=True, check=False,
            stdin=subprocess.DEVNULL,
        )  # fmt: skip

    def env(self) -> dict[str, str]:
        return {
            "PATH": "/usr/bin:/bin",
            "HOME": str(self.away),
            "MENDPOOL_HOME": str(self.away / "home"),
            "MENDPOOL_CACHE_DIR": str(self.away / "cache"),
            "MENDPOOL_DATABASE_URL": f"sqlite:///{self.away / 'pool.sqlite3'}",
        }

    def install(self, what: str) -> None:
        """Install with what it asks for, at the pinned versions but chosen by its own list."""
        pinned = self.away.parent / "pinned.txt"
        text = (TOP / "service" / "constraints.txt").read_text("utf-8")
        lines = re.findall(r"^([^ ]+==[^\\]+?) *\\$", text, re.MULTILINE)
        pinned.write_text("\n".join(lines), "utf-8")
        subprocess.run(
            [_PYTHON, "-m", "pip", "--python", self.python, "install", "--quiet",
             "--constraint", pinned, what],
            cwd=self.away, check=True, env={**os.environ, "PIP_DISABLE_PIP_VERSION_CHECK": "1"},
        )  # fmt: skip


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("dist")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", folder],
        cwd=TOP, check=True, capture_output=True,
    )  # fmt: skip
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def bare(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Installed:
    folder = tmp_path_factory.mktemp("installed")
    subprocess.run([_PYTHON, "-m", "venv", "--without-pip", folder / "venv"], check=True)
    (folder / "away").mkdir()
    installed = Installed(folder / "venv" / "bin" / "python", folder / "away")
    installed.install(str(wheel))
    return installed


@pytest.fixture(scope="module")
def whole(bare: Installed, wheel: Path) -> Installed:
    bare.install(f"{wheel}[service]")
    return bare


@pytest.fixture
def service(whole: Installed) -> Iterator[str]:
    """A running service of the installed package; its address."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    running = subprocess.Popen(
        [whole.python.parent / "mendpool", "pool", "serve", "--port", str(port)],
        cwd=whole.away, env=whole.env(), stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    address = f"http://127.0.0.1:{port}"
    try:
        until = time.monotonic() + _START_S
        while not _answers(address):
            assert running.poll() is None, "the service stopped by itself"
            assert time.monotonic() < until, "the service did not start"
            time.sleep(0.1)
        yield address
    finally:
        running.terminate()
        # After an orderly stop uvicorn raises the signal again, as a shell expects.
        assert running.wait(30) in (0, -signal.SIGTERM)


def _answers(address: str) -> bool:
    try:
        return httpx.get(f"{address}/readyz", timeout=2).status_code == 200
    except httpx.TransportError:
        return False


def test_the_wheel_carries_the_migrations_and_the_page(wheel: Path) -> None:
    inside = set(ZipFile(wheel).namelist())
    assert {"mendpool/migrations/env.py", "mendpool/phone/index.html"} <= inside
    assert any(re.fullmatch(r"mendpool/migrations/versions/\w+\.py", name) for name in inside)
    assert "mendpool/core/catalogue/data/ordinary-words.txt" in inside
    assert not any(name.startswith("tests/") or "__pycache__" in name for name in inside)


def test_the_bare_package_is_the_field_command_alone(bare: Installed) -> None:
    if (bare.python.parent / "uvicorn").exists():
        pytest.fail("run before the service is added")
    assert bare.mendpool("--help").returncode == 0
    asked = bare.mendpool("pool", "init")
    assert asked.returncode == 2
    assert "mendpool[service]" in asked.stderr
    judged = bare.mendpool("judge", "battery 12.6 volts")
    assert judged.returncode in (0, 2, 3), judged.stderr  # answered or refused, not broken
    assert "Traceback" not in judged.stderr


def test_a_pool_is_made_and_served_from_another_folder(whole: Installed) -> None:
    made = whole.mendpool("pool", "init")
    assert made.returncode == 0, made.stderr
    assert (whole.away / "pool.sqlite3").is_file()


def test_the_page_of_an_installed_pool_is_served(service: str) -> None:
    page = httpx.get(f"{service}/", timeout=10)
    assert page.status_code == 200
    assert page.headers["content-type"].startswith("text/html")
    assert "<h1>mendpool</h1>" in page.text
    docs = httpx.get(f"{service}/docs", timeout=10)
    assert docs.status_code == 200
