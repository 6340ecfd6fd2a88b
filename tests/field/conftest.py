"""A command in a folder of its own, and a pool for it to meet."""

import socket
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from mendpool_field.cli import app

from tests.field.fake_pool import TOKEN, FakePool

Run = Callable[..., Result]


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path / "home"


@pytest.fixture(scope="session")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the checked catalogue is kept, once for all tests."""
    return tmp_path_factory.mktemp("cache")


@pytest.fixture
def alone(home: Path, cache: Path) -> Run:
    """The command with no pool joined."""
    return _runner(home, cache, {"MENDPOOL_URL": None, "MENDPOOL_TOKEN": None})


@pytest.fixture
def pool() -> Iterator[FakePool]:
    with FakePool() as running:
        yield running


@pytest.fixture
def joined(home: Path, cache: Path, pool: FakePool) -> Run:
    """The command of a member of the pool."""
    return _runner(home, cache, {"MENDPOOL_URL": pool.url, "MENDPOOL_TOKEN": TOKEN})


@pytest.fixture
def cut_off(home: Path, cache: Path) -> Iterator[Run]:
    """The command of a member whose pool can't be reached: nothing listens at its port."""
    # Bound, so that no pool of another test gets the port meanwhile.
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        url = f"http://127.0.0.1:{taken.getsockname()[1]}"
        yield _runner(home, cache, {"MENDPOOL_URL": url, "MENDPOOL_TOKEN": TOKEN})


def _runner(home: Path, cache: Path, env: dict[str, str | None]) -> Run:
    def run(*args: str, typed: str | None = None, **more: str) -> Result:
        folders = {"MENDPOOL_HOME": str(home), "MENDPOOL_CACHE_DIR": str(cache)}
        full = {**folders, "COLUMNS": "80", **env, **more}
        return CliRunner().invoke(app, list(args), input=typed, env=full)

    return run
