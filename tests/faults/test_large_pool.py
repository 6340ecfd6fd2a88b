"""A database too large to be looked through at the start is served all the same."""

from collections.abc import Iterator

import pytest
from sqlalchemy import Engine

from mendpool.store.pool_store import PoolStore
from mendpool.store.sound import quickly_sound

from tests.databases import PostgresDatabases, SqliteFiles

_MEGABYTES = 60


@pytest.fixture
def large(sqlite_files: SqliteFiles) -> Iterator[Engine]:
    """A file that takes much longer to look through than a hundredth of a second."""
    with sqlite_files.migrated() as url:
        engine = sqlite_files.open(url)
        with engine.begin() as connection:
            connection.exec_driver_sql("CREATE TABLE ballast (what BLOB)")
            connection.exec_driver_sql(
                "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < "
                f"{_MEGABYTES * 1000}) INSERT INTO ballast SELECT randomblob(1000) FROM n"
            )
        yield engine
        engine.dispose()


def test_looking_through_a_large_file_is_given_up(large: Engine) -> None:
    assert quickly_sound(large, 0.01) is False
    # What ended it ends nothing else, and it can be looked through by who has the time.
    assert PoolStore(large).last_seq() == 0
    assert quickly_sound(large, 300) is True


@pytest.mark.postgres
def test_so_is_a_count_that_takes_too_long(postgres_databases: PostgresDatabases) -> None:
    with postgres_databases.migrated() as url:
        engine = postgres_databases.open(url)
        with engine.begin() as other:
            other.exec_driver_sql("LOCK TABLE report IN ACCESS EXCLUSIVE MODE")
            assert quickly_sound(engine, 0.1) is False
        assert quickly_sound(engine) is True
        engine.dispose()
