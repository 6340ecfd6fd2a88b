"""What PostgreSQL undoes for another's sake is done once more: real deadlocks and failures."""

import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import pytest
from sqlalchemy import Connection, Engine

from mendpool.core.errors import TemporarilyImpossible
from mendpool.store import again
from mendpool.store.again import TRIES, undone_again
from mendpool.store.engine import reading
from mendpool.store.pool_store import PoolStore
from mendpool.store.troubles import Undone, told_plainly

from tests.store.samples import NOW, POOL_ID, POOL_KEY, add_member, put

Sql = Callable[[str], object]


@pytest.fixture
def begun(postgres_store: PoolStore) -> PoolStore:
    postgres_store.init_pool(POOL_ID, POOL_KEY, NOW)
    return postgres_store


def waiting(engine: Engine) -> int:
    """Count the sessions of this database that wait for a lock."""
    asked = (
        "SELECT count(*) FROM pg_stat_activity"
        " WHERE datname = current_database() AND wait_event_type = 'Lock'"
    )
    with reading(engine) as connection:
        return int(connection.exec_driver_sql(asked).scalar_one())


def wait_until_one_waits(engine: Engine) -> None:
    until = time.monotonic() + 10
    while not waiting(engine):
        assert time.monotonic() < until, "nobody waits"
        time.sleep(0.01)


@pytest.mark.postgres
def test_a_report_caught_in_a_deadlock_is_kept_all_the_same(
    begun: PoolStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    ana = add_member(begun, "ana")
    waits: list[float] = []
    monkeypatch.setattr(again, "sleep", waits.append)
    lock = "SELECT objid FROM pg_locks WHERE locktype = 'advisory' AND granted"
    with ThreadPoolExecutor(1) as another, begun.engine.connect() as other:
        other.exec_driver_sql("LOCK TABLE change IN SHARE MODE")
        kept = another.submit(put, begun, ana)
        wait_until_one_waits(begun.engine)  # it has its turn to write, and wants the table
        number = other.exec_driver_sql(lock).scalar_one()
        # Each now waits for the other. The report waited first, so it is the one undone.
        other.exec_driver_sql(f"SELECT pg_advisory_xact_lock({number})")
        other.commit()
        assert kept.result(timeout=30).created
    assert len(waits) == 1, "it was undone once"
    assert (begun.report_count(), begun.last_seq()) == (1, 1)


@pytest.mark.postgres
@pytest.mark.parametrize(
    ("isolation", "first", "second"),
    [("READ COMMITTED", "a", "b"), ("REPEATABLE READ", "a", "a")],
    ids=["deadlock", "serialisation failure"],
)
def test_of_two_that_can_not_both_be_the_loser_goes_on_after_the_winner(
    begun: PoolStore, isolation: str, first: str, second: str
) -> None:
    with begun.engine.begin() as connection:
        connection.exec_driver_sql("CREATE TABLE tally (name text PRIMARY KEY, many int)")
        connection.exec_driver_sql("INSERT INTO tally VALUES ('a', 0), ('b', 0)")
    both_in = threading.Barrier(2)
    tried: list[str] = []

    @undone_again
    def count(mine: str, theirs: str, name: str) -> None:
        tried.append(name)
        with told_plainly(), begun.engine.connect() as plain:
            connection: Connection = plain.execution_options(isolation_level=isolation)
            connection.exec_driver_sql("SELECT count(*) FROM tally").all()
            if mine != theirs:
                add(connection, mine)
            if tried.count(name) == 1:
                both_in.wait(10)
            add(connection, theirs)
            connection.commit()

    def add(connection: Connection, name: str) -> None:
        more = f"UPDATE tally SET many = many + 1 WHERE name = '{name}'"
        connection.exec_driver_sql(more)

    with ThreadPoolExecutor(2) as threads:
        one = threads.submit(count, first, second, "one")
        two = threads.submit(count, second, first, "two")
        assert (one.result(30), two.result(30)) == (None, None)
    # Where the machine is busy, the loser may meet the winner's second half once more.
    assert set(tried) == {"one", "two"}
    assert len(tried) > 2, "one of them was undone"
    with reading(begun.engine) as connection:
        counted = dict(connection.exec_driver_sql("SELECT name, many FROM tally").all())
    assert counted == ({"a": 2, "b": 0} if first == second else {"a": 2, "b": 2})


class TestBounds:
    def test_it_ends_after_a_few_tries_and_says_try_later(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        waits: list[float] = []
        monkeypatch.setattr(again, "sleep", waits.append)
        tried: list[int] = []

        @undone_again
        def write(number: int) -> None:
            tried.append(number)
            raise Undone("the database is busy with another write")

        for number in (1, 2):
            with pytest.raises(TemporarilyImpossible, match="busy"):
                write(number)
        assert tried == [1] * TRIES + [2] * TRIES
        longest = [again.FIRST_WAIT_S * 2**earlier for earlier in range(TRIES - 1)] * 2
        assert all(0 <= wait <= most for wait, most in zip(waits, longest, strict=True))
        assert waits[: TRIES - 1] != waits[TRIES - 1 :], "two that met wait differently long"

    def test_anything_else_is_told_at_once(self) -> None:
        tried: list[int] = []

        @undone_again
        def write() -> None:
            tried.append(1)
            raise TemporarilyImpossible("the disk of the database is full")

        with pytest.raises(TemporarilyImpossible, match="full"):
            write()
        assert tried == [1]
