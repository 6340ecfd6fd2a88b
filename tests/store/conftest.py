"""Stores to test: an SQLite file in each journal mode, and a database of PostgreSQL."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack

import pytest

from mendpool.store.engine import Journal
from mendpool.store.pool_store import PoolStore

from tests.databases import Databases, PostgresDatabases, SqliteFiles, of_kind
from tests.store.samples import NOW, POOL_ID, POOL_KEY


@pytest.fixture(
    scope="session",
    params=["wal", "rollback", pytest.param("postgres", marks=pytest.mark.postgres)],
)
def databases(request: pytest.FixtureRequest) -> Databases:
    """Give a maker of databases of each kind in turn; here either journal by default."""
    return of_kind(request, request.param)


@pytest.fixture
def sqlite_store(sqlite_files: SqliteFiles) -> Iterator[Callable[[Journal], PoolStore]]:
    with ExitStack() as opened:

        def make(journal: Journal) -> PoolStore:
            files = sqlite_files.in_mode(journal)
            url = opened.enter_context(files.migrated())
            store = PoolStore(files.open(url))
            opened.callback(store.engine.dispose)
            return store

        yield make


@pytest.fixture
def postgres_store(postgres_databases: PostgresDatabases) -> Iterator[PoolStore]:
    with postgres_databases.migrated() as url:
        store = PoolStore(postgres_databases.open(url))
        yield store
        store.engine.dispose()


@pytest.fixture
def store(databases: Databases) -> Iterator[PoolStore]:
    """Give an empty, begun pool on each kind of database in turn."""
    with databases.migrated() as url:
        made = PoolStore(databases.open(url))
        made.init_pool(POOL_ID, POOL_KEY, NOW)
        yield made
        made.engine.dispose()
