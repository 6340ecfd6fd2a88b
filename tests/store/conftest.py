"""Stores to test: an SQLite file in each journal mode, and a database of PostgreSQL."""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from sqlalchemy.engine import make_url

from mendpool.store.engine import Journal, make_engine, wal_is_safe
from mendpool.store.migrate import migrate
from mendpool.store.pool_store import PoolStore

from tests.postgres_server import PostgresServer, running_server
from tests.store.samples import NOW, POOL_ID, POOL_KEY


@pytest.fixture(scope="session")
def migrated_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return an SQLite file with every table, to be copied and not written."""
    file = tmp_path_factory.mktemp("migrated") / "empty.db"
    migrate(f"sqlite:///{file}")
    return file


@pytest.fixture(scope="session")
def postgres() -> Iterator[PostgresServer]:
    with running_server() as server:
        yield server


@pytest.fixture(scope="session")
def migrated_database(postgres: PostgresServer) -> Iterator[str]:
    """Give the name of a PostgreSQL database with every table, to be copied."""
    url = postgres.make_database()
    migrate(url)
    yield str(make_url(url).database)
    postgres.drop_database(url)


@pytest.fixture
def sqlite_store(tmp_path: Path, migrated_file: Path) -> Callable[[Journal], PoolStore]:
    def make(journal: Journal) -> PoolStore:
        if journal == "wal" and not wal_is_safe():
            pytest.skip("this SQLite library is older than 3.51.3: no write-ahead log")
        file = tmp_path / "pool.db"
        shutil.copy(migrated_file, file)
        return PoolStore(make_engine(f"sqlite:///{file}", journal=journal))

    return make


@pytest.fixture
def postgres_store(postgres: PostgresServer, migrated_database: str) -> Iterator[PoolStore]:
    url = postgres.make_database(template=migrated_database)
    store = PoolStore(make_engine(url))
    yield store
    store.engine.dispose()
    postgres.drop_database(url)


@pytest.fixture(
    params=["wal", "rollback", pytest.param("postgres", marks=pytest.mark.postgres)]
)
def store(request: pytest.FixtureRequest) -> Iterator[PoolStore]:
    """Give an empty, begun pool on each kind of database in turn."""
    if request.param == "postgres":
        made: PoolStore = request.getfixturevalue("postgres_store")
    else:
        made = request.getfixturevalue("sqlite_store")(request.param)
    made.init_pool(POOL_ID, POOL_KEY, NOW)
    yield made
    made.engine.dispose()
