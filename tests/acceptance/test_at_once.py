"""Several operators at once: one makes or changes the tables, the others find it done."""

import json
import subprocess
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import pytest
from alembic import command
from alembic.config import Config
from sqlalchemy import Connection

from mendpool._places import place_of
from mendpool.store.engine import make_engine, reading, rebuilding
from mendpool.store.pool_store import PoolStore
from mendpool.store.schema import schema_state

from tests.acceptance.test_pool_command import COMMAND, Operator
from tests.databases import Databases

pytestmark = pytest.mark.slow
"""Every command here is a process of its own."""

MANY = 3


@pytest.fixture
def operator(databases: Databases, tmp_path: Path) -> Iterator[Operator]:
    with databases.empty() as url:
        yield Operator(tmp_path, url)


@contextmanager
def holding_the_tables(operator: Operator) -> Iterator[Connection]:
    """Be the one who changes tables, so that whoever comes has to wait."""
    with rebuilding(make_engine(operator.url)) as connection:
        yield connection


def all_at_once(
    operator: Operator, arguments: Sequence[str], connection: Connection
) -> list["subprocess.Popen[str]"]:
    """Start the same command several times and see that all of them wait."""
    pipe = subprocess.PIPE
    started = [
        subprocess.Popen(
            [*COMMAND, *arguments],
            env=operator.environment,
            stdout=pipe,
            stderr=pipe,
            text=True,
        )
        for _ in range(MANY)
    ]
    until = time.monotonic() + 30
    if connection.dialect.name == "postgresql":
        waiting = "SELECT count(*) FROM pg_locks WHERE locktype = 'advisory' AND NOT granted"
        while connection.exec_driver_sql(waiting).scalar_one() < MANY:
            assert time.monotonic() < until
            time.sleep(0.05)
    else:  # SQLite tells nobody who waits; by then all have begun
        time.sleep(3)
    assert [process.poll() for process in started] == [None] * MANY
    return started


def ends(started: Sequence["subprocess.Popen[str]"]) -> list[str]:
    """Return what each said; all must end well."""
    said = [process.communicate(timeout=60) for process in started]
    assert [process.returncode for process in started] == [0] * MANY, said
    return [out for out, _ in said]


@pytest.mark.slow
def test_of_many_that_make_the_pool_one_makes_it(operator: Operator) -> None:
    with holding_the_tables(operator) as connection:
        started = all_at_once(operator, ["init", "--json"], connection)
    pools = {json.loads(said)["pool"] for said in ends(started)}
    assert len(pools) == 1
    assert operator.json("init")["pool"] in pools


def test_of_many_that_migrate_one_does_and_the_pool_keeps_what_it_has(
    operator: Operator,
) -> None:
    operator.run("init")
    operator.run("member", "add", "alder")
    engine = make_engine(operator.url)
    with rebuilding(engine) as connection:
        config = Config()
        config.set_main_option("script_location", str(place_of("migrations")))
        config.set_main_option("path_separator", "os")
        config.attributes["connection"] = connection
        command.downgrade(config, "0001")
    assert schema_state(engine) == "behind"
    with holding_the_tables(operator) as connection:
        started = all_at_once(operator, ["migrate"], connection)
    assert all("current" in said for said in ends(started))
    assert schema_state(engine) == "current"
    with reading(engine) as connection:
        versions = connection.exec_driver_sql("SELECT version_num FROM alembic_version")
        assert len(versions.all()) == 1
    assert [member.name for member in PoolStore(engine).list_members()] == ["alder"]
    engine.dispose()
