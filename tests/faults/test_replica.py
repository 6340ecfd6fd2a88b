"""A real streaming replica takes what it can off the database, and nothing is missed for it."""

import json
import logging
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self
from uuid import UUID

import pytest
from sqlalchemy import Connection, Engine, event
from sqlalchemy.engine import make_url

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.errors import MendpoolError
from mendpool.main import open_place
from mendpool.settings import Settings
from mendpool.store import replica as module
from mendpool.store.engine import reading
from mendpool.store.lines import last_number
from mendpool.store.pool_store import PoolStore
from mendpool.store.replica import Replica, open_replica
from mendpool.usecases.learned import Learned

from tests.api.pools import Pool, running_pool, statements
from tests.databases import PostgresDatabases
from tests.engines import engine_of
from tests.factories import make_id, make_report
from tests.own_postgres import OwnServer, own_server, replica_of

QUESTION = {"complaint": make_report()["complaint"]}


@dataclass
class Pair:
    """A pool, its replica, and the server the replica is on."""

    pool: Pool
    replica: Replica
    server: OwnServer

    def level(self) -> None:
        """Wait until the replica has the whole feed."""
        last, until = self.pool.store.last_seq(), time.monotonic() + 20
        while True:
            with reading(self.replica.engine) as connection:
                if last_number(connection) == last:
                    return
            assert time.monotonic() < until, "the replica does not follow"
            time.sleep(0.02)

    @contextmanager
    def paused(self) -> Iterator[None]:
        """Let the replica fall behind for as long as the block lasts."""
        self._say("SELECT pg_wal_replay_pause()")
        try:
            yield
        finally:
            self._say("SELECT pg_wal_replay_resume()")

    def asked(self, *, of: str = "report.") -> "Asked":
        """Collect the statements about reports that either of the two is sent."""
        return Asked(self, of)

    def _say(self, statement: str) -> None:
        with reading(self.replica.engine) as connection:
            connection.exec_driver_sql(statement)


class Asked:
    """What both servers were sent in the block."""

    def __init__(self, pair: Pair, of: str) -> None:
        self._here = statements(pair.pool.store)
        self._engine = pair.replica.engine
        self._of = of
        self._sent: dict[str, list[str]] = {}

    def __enter__(self) -> Self:
        self._sent = {"database": self._here.__enter__(), "replica": []}
        event.listen(self._engine, "before_cursor_execute", self._note)
        return self

    def __exit__(self, *_: object) -> None:
        self._here.__exit__(None, None, None)
        event.remove(self._engine, "before_cursor_execute", self._note)

    def _note(self, _c: object, _u: object, statement: str, *_rest: object) -> None:
        self._sent["replica"].append(statement)

    @property
    def where(self) -> set[str]:
        """Which of the two was asked about reports."""
        return {
            name for name, sent in self._sent.items() if any(self._of in one for one in sent)
        }


@pytest.fixture(scope="module")
def servers() -> Iterator[tuple[OwnServer, OwnServer]]:
    with own_server() as primary, replica_of(primary) as replica:
        yield primary, replica


@pytest.fixture
def pair(servers: tuple[OwnServer, OwnServer], catalogue: Catalogue) -> Iterator[Pair]:
    primary, second = servers
    with running_pool(PostgresDatabases(primary.server), catalogue) as pool:
        name = str(make_url(str(pool.store.engine.url)).database)
        replica = open_replica(second.address(name).render_as_string(hide_password=False))
        made = Pair(pool, replica, second)
        try:
            until = time.monotonic() + 20
            while True:
                try:
                    made.level()
                except MendpoolError:  # the database itself has yet to arrive there
                    assert time.monotonic() < until
                    time.sleep(0.05)
                else:
                    break
            pool.store.replica = replica
            yield made
        finally:
            replica.engine.dispose()


def all_answers(pool: Pool, report: str) -> dict[str, Any]:
    """Ask every route that a replica may serve, as one who looks for a report."""
    alder = pool.client("alder")
    return {
        "get": alder.get(f"/v1/reports/{report}"),
        "list": alder.get("/v1/reports?limit=100"),
        "search": alder.get("/v1/reports", params={"q": QUESTION["complaint"], "limit": 100}),
        "ask": alder.post("/v1/ask", json=QUESTION),
        "changes": alder.get("/v1/changes?limit=1000"),
    }


def found(answers: dict[str, Any], report: str) -> set[str]:
    """Return by which routes a report was found."""
    return {name for name, answer in answers.items() if report in answer.text}


@pytest.mark.postgres
class TestReplica:
    def test_what_is_asked_is_read_there_and_what_is_written_is_not(self, pair: Pair) -> None:
        pool = pair.pool
        report = pool.put(make_report())
        pair.level()
        with pair.asked() as asked:
            answers = all_answers(pool, report)
        assert found(answers, report) == set(answers)
        assert asked.where == {"replica"}
        with pair.asked() as asked:
            catalogue = pool.service.place.catalogue
            learned = Learned(pool.store, catalogue, engine=engine_of(catalogue))
            assert learned.search({"s:no-output": 5}).searched == 1
        assert asked.where == {"replica"}, "and so is the whole feed, by one that begins"
        with pair.asked(of="INSERT INTO report") as asked:
            pool.put(make_report())
        assert asked.where == {"database"}

    def test_one_that_lags_is_passed_by_so_that_nothing_acknowledged_is_missed(
        self, pair: Pair
    ) -> None:
        pool = pair.pool
        with pair.paused():
            for number in range(1, 6):
                report = pool.put(make_report())
                with pair.asked() as asked:
                    answers = all_answers(pool, report)
                # An answer names the few nearest, and how many were searched.
                evidence = answers.pop("ask").json()["evidence"]
                assert evidence["reports_searched"] == number
                assert found(answers, report) == set(answers)
                assert asked.where == {"database"}
            pool.client("alder").delete(f"/v1/reports/{report}").raise_for_status()
            answers = all_answers(pool, report)
            assert answers["get"].status_code == 410
            assert found(answers, report) == {"changes"}, "that it is gone"
        pair.level()
        with pair.asked() as asked:
            all_answers(pool, report)
        assert asked.where == {"replica"}, "as soon as it has caught up"

    def test_what_another_process_was_told_is_not_missed_either(self, pair: Pair) -> None:
        pool = pair.pool
        pool.client("alder").get("/v1/reports").raise_for_status()
        other = PoolStore(pool.store.engine)
        with pair.paused():
            pool.store.replica, mine = None, pool.store.replica
            report = pool.put(make_report())  # as by a process that shares nothing with this
            pool.store.replica = mine
            answers = all_answers(pool, report)
            assert found(answers, report) == set(answers)
            assert other.last_seq() == pool.store.last_seq()

    def test_cases_derived_again_are_read_as_they_are_now(self, pair: Pair) -> None:
        pool = pair.pool
        pool.put(make_report())
        pair.level()
        again = json.dumps({"terms": ["w:other"]})
        with pair.paused():
            (stale,) = pool.store.stale_cases("another", 0, 9)
            pool.store.set_cases([(stale.report_id, again)], "another")
            assert pool.store.stale_cases("another", 0, 9) == []
            assert pool.store.cases_by_seq([1])[0].case_body == again
        pair.level()

    def test_without_it_the_database_serves_and_that_is_told_once(
        self, pair: Pair, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
    ) -> None:
        monkeypatch.setattr(module, "AGAIN_S", 0.2)
        pool, report = pair.pool, pair.pool.put(make_report())
        pair.level()
        pair.server.stop("fast")
        try:
            for _ in range(3):
                answers = all_answers(pool, report)
                assert found(answers, report) == set(answers)
                time.sleep(0.25)
        finally:
            pair.server.start()
        warned = [r for r in caplog.records if r.levelno == logging.WARNING]
        assert [r.message.partition(",")[0] for r in warned] == ["the replica can't be asked"]
        assert str(pair.server.port) not in caplog.text
        pair.level()
        time.sleep(0.25)
        with pair.asked() as asked:
            all_answers(pool, report)
        assert asked.where == {"replica"}

    def test_a_question_that_stood_in_the_logs_way_is_put_to_the_database(
        self, pair: Pair, caplog: pytest.LogCaptureFixture
    ) -> None:
        pool = pair.pool
        pool.put(make_report())
        pair.level()
        _say_alone(pair, "ALTER SYSTEM SET max_standby_streaming_delay = 0")
        _say_alone(pair, "SELECT pg_reload_conf()")
        asked: list[bool] = []

        def slow_there(connection: Connection) -> int:
            there = bool(connection.exec_driver_sql("SELECT pg_is_in_recovery()").scalar())
            asked.append(there)
            pause = "pg_sleep(20)" if there else "pg_sleep(0)"
            query = f"SELECT count(*) FROM report, {pause}"
            return int(connection.exec_driver_sql(query).scalar_one())

        with ThreadPoolExecutor(1) as thread:
            counted = thread.submit(pool.store._look, slow_there)
            until = time.monotonic() + 10
            while not asked:
                assert time.monotonic() < until
                time.sleep(0.01)
            time.sleep(0.3)
            with pool.store.engine.begin() as connection:
                connection.exec_driver_sql("LOCK TABLE report IN ACCESS EXCLUSIVE MODE")
                connection.exec_driver_sql("ALTER TABLE report SET (fillfactor = 90)")
            assert counted.result(15) == 1
        assert asked == [True, False]
        assert caplog.text == "", "nothing is the matter with the replica"

    def test_a_process_takes_its_replica_from_the_settings(
        self, pair: Pair, tmp_path: Path
    ) -> None:
        report = pair.pool.put(make_report())
        place = open_place(
            Settings(
                database_url=address_of(pair.pool.store.engine),
                replica_url=address_of(pair.replica.engine),
                cache_dir=tmp_path,
            )
        )
        pair.level()
        assert place.store.replica is not None
        with statements(PoolStore(place.store.replica.engine)) as sent:
            assert [str(one.id) for one in place.store.get_reports([UUID(report)])] == [report]
        assert any("report." in statement for statement in sent)
        place.store.replica.engine.dispose()
        place.store.engine.dispose()

    def test_a_second_process_begins_with_a_replica_that_lags(self, pair: Pair) -> None:
        pool = pair.pool
        with pair.paused():
            report = pool.put(make_report())
            store = PoolStore(pool.store.engine)
            store.replica = Replica(pair.replica.engine)
            catalogue = pool.service.place.catalogue
            learned = Learned(store, catalogue, engine=engine_of(catalogue))
            assert [case.id for case in learned.search({"s:no-output": 5}).cases] == [report]


def address_of(engine: Engine) -> str:
    return engine.url.render_as_string(hide_password=False)


def _say_alone(pair: Pair, statement: str) -> None:
    with pair.replica.engine.connect() as connection:
        alone = connection.execution_options(isolation_level="AUTOCOMMIT")
        alone.exec_driver_sql(statement)


def test_a_file_is_no_replica(tmp_path: object) -> None:
    with pytest.raises(MendpoolError, match="PostgreSQL"):
        open_replica(f"sqlite:///{tmp_path}/pool.db")


def test_one_that_is_not_there_is_left_alone_for_a_while(
    sqlite_files: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    tried: list[int] = []

    def away(_engine: object) -> Any:
        tried.append(1)
        raise MendpoolError("the database can't be reached")

    monkeypatch.setattr(module, "reading", away)
    replica = open_replica("postgresql://nobody@127.0.0.1:1/none")
    for _ in range(5):
        with pytest.raises(module.PassedBy):
            replica.ask(lambda _: make_id())
    assert len(tried) == 1
