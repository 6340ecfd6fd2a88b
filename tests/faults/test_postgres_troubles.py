"""A database that is slow, or goes away and comes back: 503, then all is well, nothing lost."""

import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any

import pytest
from sqlalchemy import Connection

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.store import engine as opening
from mendpool.store.engine import reading, writing

from tests.api.pools import Pool, running_pool
from tests.databases import PostgresDatabases
from tests.factories import make_id, make_report
from tests.own_postgres import OwnServer, own_server

pytestmark = pytest.mark.postgres
QUESTION = {"complaint": make_report()["complaint"]}


@pytest.fixture(scope="module")
def server() -> Iterator[OwnServer]:
    with own_server() as running:
        yield running


@pytest.fixture
def pool(server: OwnServer, catalogue: Catalogue) -> Iterator[Pool]:
    with running_pool(PostgresDatabases(server.server), catalogue) as running:
        yield running


def waits(answer: Any) -> None:
    """Hold that an answer is a problem which says when to come again."""
    assert answer.status_code == 503, answer.text[:300]
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["type"] == "/docs#try-later"
    assert int(answer.headers["retry-after"]) >= 1


def sessions(pool: Pool) -> set[int]:
    """Return which of the server's sessions are the pool's."""
    asked = "SELECT pid FROM pg_stat_activity WHERE datname = current_database()"
    with reading(pool.store.engine) as connection:
        return set(connection.exec_driver_sql(asked).scalars())


@contextmanager
def someone_else(pool: Pool) -> Iterator[Connection]:
    """Give a connection that is not the pool's, and commit nothing."""
    other = opening.make_engine(pool.store.engine.url.render_as_string(hide_password=False))
    try:
        with other.connect() as connection:
            yield connection
    finally:
        other.dispose()


class TestSlow:
    def test_a_statement_has_ten_seconds(self, pool: Pool) -> None:
        with reading(pool.store.engine) as connection:
            assert connection.exec_driver_sql("SHOW statement_timeout").scalar() == "10s"

    def test_one_that_takes_longer_is_told_and_the_connection_lives_on(
        self, server: OwnServer, catalogue: Catalogue, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(opening, "STATEMENT_LIMIT_S", 1)
        with running_pool(PostgresDatabases(server.server), catalogue) as pool:
            alder, report = pool.client("alder"), pool.put(make_report())
            before, route = sessions(pool), f"/v1/reports/{make_id()}"
            with someone_else(pool) as other:
                other.exec_driver_sql("LOCK TABLE report IN ACCESS EXCLUSIVE MODE")
                began = time.monotonic()
                told = alder.get(f"/v1/reports/{report}")
                waits(told)
                assert "too long" in told.json()["detail"]
                assert 0.9 < time.monotonic() - began < 4, "the limit bit, not the lock's"
                waits(alder.put(route, json=make_report()))
                waits(alder.get("/v1/reports"))  # a question asks nothing of that table
            assert alder.get(f"/v1/reports/{report}").status_code == 200
            assert alder.put(route, json=make_report()).status_code == 201
            assert sessions(pool) == before
            assert pool.store.report_count() == 2, "what was not acknowledged is not there"


class TestAway:
    @pytest.mark.parametrize("mode", ["fast", "immediate"])
    def test_a_restart_between_two_requests_is_noticed_by_nobody(
        self, server: OwnServer, pool: Pool, mode: str
    ) -> None:
        alder, report = pool.client("alder"), pool.put(make_report())
        assert alder.post("/v1/ask", json=QUESTION).status_code == 200
        server.restart(mode)
        assert alder.get(f"/v1/reports/{report}").status_code == 200
        server.restart(mode)
        question = alder.post("/v1/ask", json=QUESTION).json()
        assert question["evidence"]["reports_searched"] == 1
        server.restart(mode)
        pool.put(make_report())

    def test_while_it_is_away_each_is_told_to_come_again(
        self, server: OwnServer, pool: Pool
    ) -> None:
        alder, report = pool.client("alder"), pool.put(make_report())
        route = f"/v1/reports/{make_id()}"
        server.stop("fast")
        waits(alder.get(f"/v1/reports/{report}"))
        waits(alder.put(route, json=make_report()))
        waits(alder.post("/v1/ask", json=QUESTION))
        waits(alder.get("/readyz"))
        assert alder.get("/healthz").status_code == 200
        server.start()
        assert alder.put(route, json=make_report()).status_code == 201
        assert alder.get("/readyz").status_code == 200

    @pytest.mark.parametrize("mode", ["fast", "immediate"])
    def test_a_report_on_its_way_when_it_dies_is_told_and_kept_the_next_time(
        self, server: OwnServer, pool: Pool, mode: str
    ) -> None:
        alder, route, body = pool.client("alder"), f"/v1/reports/{make_id()}", make_report()
        first = pool.put(make_report())
        with ThreadPoolExecutor(1) as thread, someone_else(pool) as other:
            other.exec_driver_sql("LOCK TABLE change IN SHARE MODE")
            sent = thread.submit(alder.put, route, json=body)
            until = time.monotonic() + 10
            blocked = "SELECT count(*) FROM pg_locks WHERE NOT granted"
            while not other.exec_driver_sql(blocked).scalar():
                assert time.monotonic() < until
                time.sleep(0.01)
            server.restart(mode)
            waits(sent.result(20))
            other.invalidate()
        # The lock may be let go before the writer is told to stop: then it is there, whole,
        # and nobody could tell. What matters is that sending again ends the same.
        held = pool.store.report_count()
        assert alder.put(route, json=body).status_code == (201 if held == 1 else 200)
        assert pool.store.report_count() == 2, "and nothing is there by half"
        assert alder.put(route, json=body).status_code == 200
        assert alder.get(f"/v1/reports/{first}").status_code == 200

    def test_killed_again_and_again_under_many_writers_it_loses_nothing(
        self, server: OwnServer, pool: Pool
    ) -> None:
        pool.join("rowan")
        done, told = threading.Event(), set[int]()
        acknowledged: list[str] = []
        clients = [pool.client(name) for name in ("alder", "birch", "rowan")]

        def write(client: Any) -> None:
            while not done.is_set():
                name = str(make_id())
                while (
                    answer := client.put(f"/v1/reports/{name}", json=make_report())
                ).status_code == 503:
                    told.add(503)
                    waits(answer)
                told.add(answer.status_code)
                assert answer.status_code in (201, 200), answer.text
                acknowledged.append(name)

        with ThreadPoolExecutor(3) as threads:
            writers = [threads.submit(write, client) for client in clients]
            for _ in range(3):
                time.sleep(0.7)
                server.restart()
            time.sleep(0.7)
            done.set()
            for writer in writers:
                writer.result(30)
        assert 503 in told, "it died under somebody's hands"
        held = [c for c in pool.store.changes_after(0, 10_000) if c.kind == "report"]
        assert {str(c.report_id) for c in held} == set(acknowledged)
        assert len(acknowledged) == len(set(acknowledged)) == pool.store.report_count() > 10
        numbers = [c.seq for c in pool.store.changes_after(0, 10_000)]
        assert numbers == list(range(1, len(numbers) + 1))
        with writing(pool.store.engine) as connection:  # and nobody holds the turn to write
            connection.rollback()
