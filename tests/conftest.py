"""What every test may use: profiles, the packaged catalogue, a closed network."""

import os
import socket
import ssl
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before NumPy: as the service does

import certifi
import pytest
import typer.testing
from hypothesis import HealthCheck, settings

from mendpool.api import app
from mendpool.core.catalogue import files
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.diagnosis.engine import Engine

from tests.databases import Databases, PostgresDatabases, SqliteFiles, of_kind
from tests.engines import engine_of
from tests.postgres_server import PostgresServer, running_server

settings.register_profile(
    "quick",
    max_examples=40,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("thorough", parent=settings.get_profile("quick"), max_examples=1000)
settings.load_profile("quick")

_connect = socket.socket.connect


@pytest.fixture(autouse=True)
def _only_loopback(monkeypatch: pytest.MonkeyPatch) -> None:
    """No test speaks to another machine."""

    def connect(self: socket.socket, address: Any) -> None:
        if self.family in (socket.AF_INET, socket.AF_INET6):
            assert address[0] in ("127.0.0.1", "::1", "localhost"), f"reached out to {address}"
        _connect(self, address)

    monkeypatch.setattr(socket.socket, "connect", connect)


@pytest.fixture(autouse=True)
def _no_waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    """The command, where it runs in the test's own process, waits for no service."""
    monkeypatch.setattr("mendpool_field.console._sleep", lambda _: None)


@pytest.fixture(scope="session", autouse=True)
def _made_once() -> Iterator[None]:
    """What every command and pool in the test's own process would make anew, all alike."""
    trusting, command_of = ssl.create_default_context, typer.testing._get_command
    kept, load, tell = lru_cache(trusting), files._loaded, app._told_of
    catalogues: dict[str, Catalogue] = {}
    told: dict[int, tuple[Catalogue, tuple[bytes, tuple[bytes, bytes]]]] = {}

    def trust(*given: Any, cafile: str | None = None, **more: Any) -> ssl.SSLContext:
        # The usual roots take 20 ms to read. Whoever names no file may change his own.
        usual = cafile in (certifi.where(), os.environ.get("SSL_CERT_FILE"))
        keeps = cafile is not None and usual and not (given or more)
        return kept(cafile=cafile) if keeps else trusting(*given, cafile=cafile, **more)

    def loaded(texts: Mapping[str, str]) -> Catalogue:
        version = files.version_of(texts)
        if version not in catalogues:
            catalogues[version] = load(texts)
        return catalogues[version]

    def told_of(catalogue: Catalogue) -> tuple[bytes, tuple[bytes, bytes]]:
        if id(catalogue) not in told:  # kept with it, so that no other gets its number
            told[id(catalogue)] = catalogue, tell(catalogue)
        return told[id(catalogue)][1]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(app, "_told_of", told_of)
        patch.setattr(files, "_loaded", loaded)
        patch.setattr(ssl, "create_default_context", trust)
        patch.setattr(typer.testing, "_get_command", lru_cache(command_of))
        yield


@pytest.fixture(scope="session")
def catalogue() -> Catalogue:
    """The packaged catalogue."""
    return packaged_catalogue()


@pytest.fixture(scope="session")
def engine(catalogue: Catalogue) -> Engine:
    """An engine that has seen no report."""
    return engine_of(catalogue)


@pytest.fixture(scope="session")
def postgres() -> Iterator[PostgresServer]:
    """Give a PostgreSQL server, or skip loudly."""
    with running_server() as server:
        yield server


@pytest.fixture(scope="session")
def postgres_databases(postgres: PostgresServer) -> Iterator[PostgresDatabases]:
    """Give a maker of databases on PostgreSQL, whatever the mark of the test."""
    made = PostgresDatabases(postgres)
    yield made
    made.close()


@pytest.fixture(scope="session")
def sqlite_files(tmp_path_factory: pytest.TempPathFactory) -> SqliteFiles:
    """Give a maker of SQLite files with a write-ahead log."""
    return SqliteFiles(tmp_path_factory.mktemp("sqlite"), "wal")


@pytest.fixture(
    scope="session",
    params=[
        "wal",
        pytest.param("rollback", marks=pytest.mark.slow),
        pytest.param("postgres", marks=pytest.mark.postgres),
    ],
)
def databases(request: pytest.FixtureRequest) -> Databases:
    """Give a maker of databases, of each kind in turn."""
    return of_kind(request, request.param)
