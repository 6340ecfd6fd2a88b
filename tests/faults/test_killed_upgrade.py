"""An upgrade killed at any moment leaves the old tables or the new ones, and all the rows."""

import os
import random
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from alembic import command
from alembic.config import Config
from sqlalchemy import Engine, inspect

from mendpool._places import place_of
from mendpool.store.engine import reading, rebuilding
from mendpool.store.migrate import migrate
from mendpool.store.pool_store import PoolStore
from mendpool.store.schema import REVISIONS, schema_state

from tests.databases import Databases
from tests.store.samples import NOW, POOL_ID, POOL_KEY, add_member, follow, put

_UPGRADE = """
import sys
from mendpool.store.migrate import migrate
print('go', flush=True)
migrate(sys.argv[1])
"""
LONGEST_S = 0.25


@pytest.fixture(params=REVISIONS[:-1])
def older(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def address(databases: Databases, older: str) -> Iterator[str]:
    """Give a database of an older version with reports in it."""
    with databases.migrated() as url:
        store = PoolStore(databases.open(url))
        store.init_pool(POOL_ID, POOL_KEY, NOW)
        member = add_member(store, "ana")
        for number in range(1, 30):
            put(store, member, number)
        follow(store, member, 1)
        _set_back(store.engine, older)
        store.engine.dispose()
        yield url


def _set_back(engine: Engine, older: str) -> None:
    config = Config()
    config.set_main_option("script_location", str(place_of("migrations")))
    config.set_main_option("path_separator", "os")
    with rebuilding(engine) as connection:
        config.attributes["connection"] = connection
        command.downgrade(config, older)


def _kill_at(url: str, after_s: float) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", _UPGRADE, url],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"go\n"
        time.sleep(after_s)
        process.kill()


def _state(databases: Databases, url: str) -> tuple[str, object, list[int]]:
    engine = databases.open(url)
    try:
        state = schema_state(engine)
        look = inspect(engine)
        shape = {
            table: sorted(column["name"] for column in look.get_columns(table))
            for table in look.get_table_names()
        }
        with reading(engine) as connection:
            counted = [
                int(connection.exec_driver_sql(f"SELECT count(*) FROM {table}").scalar_one())
                for table in ("member", "report", "followup", "change")
            ]
        return state, shape, counted
    finally:
        engine.dispose()


def _killed(databases: Databases, url: str, older: str, times: int) -> None:
    old = _state(databases, url)
    assert old[0] == "behind"
    chance = random.Random(older)
    for _ in range(times):
        _kill_at(url, chance.uniform(0, LONGEST_S))
        found = _state(databases, url)
        assert found[2] == old[2]
        if found[0] == "current":
            engine = databases.open(url)
            _set_back(engine, older)
            engine.dispose()
        else:
            assert found == old
    migrate(url)
    new = _state(databases, url)
    assert new[0] == "current"
    assert new[2] == old[2]


def test_killed_once_it_is_old_or_new(databases: Databases, address: str, older: str) -> None:
    _killed(databases, address, older, 1)


@pytest.mark.slow
def test_killed_many_times_it_is_old_or_new(
    databases: Databases, address: str, older: str
) -> None:
    _killed(databases, address, older, 8)


def test_there_is_something_to_upgrade_from() -> None:
    assert len(REVISIONS) > 1
    assert Path(place_of("migrations")).is_dir()
