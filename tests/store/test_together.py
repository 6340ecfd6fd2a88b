"""Group commit: one commit for many, nobody told before it, one refused is refused alone."""

import threading
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextlib import contextmanager

import pytest
from sqlalchemy import Connection, event, insert, select

from mendpool.core.errors import Conflict, MendpoolError, TemporarilyImpossible
from mendpool.store import together
from mendpool.store.pool_store import PoolStore
from mendpool.store.tables import POOL
from mendpool.store.values import ReportFilters

from tests.store.samples import NOW, add_member, an_id, follow, new_report, put

WRITERS = 12


@contextmanager
def commits_held_up(store: PoolStore) -> Iterator[tuple[threading.Event, list[int]]]:
    """Let no commit of the store through before the event is set; count those that came."""
    go, seen = threading.Event(), [0]

    def hold(_: Connection) -> None:
        seen[0] += 1
        assert go.wait(4)

    event.listen(store.engine, "commit", hold)
    try:
        yield go, seen
    finally:
        go.set()
        event.remove(store.engine, "commit", hold)


def until(true: object, what: str) -> None:
    end = time.monotonic() + 4
    while not true():  # type: ignore[operator]
        assert time.monotonic() < end, what
        time.sleep(0.002)


def waiting(store: PoolStore) -> int:
    return len(store._together._queue)


@pytest.fixture
def pool() -> Iterator[ThreadPoolExecutor]:
    with ThreadPoolExecutor(WRITERS + 2) as made:
        yield made


def gathered(
    store: PoolStore, pool: ThreadPoolExecutor, go: threading.Event, acts: Sequence[object]
) -> list[Future[object]]:
    """Start one write, let the others gather behind its commit, then let all go."""
    first = pool.submit(store._write, _note, ("first", ""))
    until(lambda: store._together._led and not waiting(store), "the first did not begin")
    time.sleep(0.02)
    others = [pool.submit(act) for act in acts]  # type: ignore[arg-type]
    until(lambda: waiting(store) == len(acts), "the others did not gather")
    assert not any(future.done() for future in (first, *others))
    go.set()
    wait(others, 8)
    assert first.result(1) is None
    return others


def _note_one(connection: Connection, item: tuple[str, str]) -> None:
    key, value = item
    connection.execute(insert(POOL), {"key": key, "value": value})
    if value == "conflict":
        raise Conflict("after it wrote")
    if value == "broken":
        raise ZeroDivisionError


def _note(
    connection: Connection, items: Sequence[tuple[str, str]]
) -> list[MendpoolError | None]:
    for item in items:
        _note_one(connection, item)
    return [None] * len(items)


def noted(store: PoolStore) -> set[str]:
    with store._reading() as connection:
        return {str(key) for key in connection.execute(select(POOL.c.key)).scalars()}


class TestTogether:
    def test_many_writes_that_wait_cost_one_commit_and_keep_their_order(
        self, store: PoolStore, pool: ThreadPoolExecutor
    ) -> None:
        ana = add_member(store, "ana")
        with commits_held_up(store) as (go, commits):
            acts = [lambda n=n: put(store, ana, n) for n in range(1, WRITERS + 1)]
            done = gathered(store, pool, go, acts)
            assert commits[0] == 2
        assert all(future.result().created for future in done)  # type: ignore[attr-defined]
        told = [future.result().record.seq for future in done]  # type: ignore[attr-defined]
        assert sorted(told) == [c.seq for c in store.changes_after(0, 99)]
        assert told == [store.get_report(an_id(n)).seq for n in range(1, WRITERS + 1)]

    def test_nobody_is_told_before_the_commit(
        self, store: PoolStore, pool: ThreadPoolExecutor
    ) -> None:
        ana = add_member(store, "ana")
        with commits_held_up(store) as (go, commits):
            told = pool.submit(put, store, ana)
            until(lambda: commits[0], "no commit came")
            time.sleep(0.05)
            assert not told.done()
            assert store.report_count() == 0
            go.set()
            assert told.result(4).created  # type: ignore[attr-defined]
        assert store.report_count() == 1

    def test_what_is_refused_is_refused_alone(
        self, store: PoolStore, pool: ThreadPoolExecutor
    ) -> None:
        ana, ben = add_member(store, "ana"), add_member(store, "ben")
        put(store, ana, 1)
        with commits_held_up(store) as (go, commits):
            done = gathered(
                store,
                pool,
                go,
                [
                    lambda: put(store, ana, 1, sameness="another"),
                    lambda: put(store, ana, 2),
                    lambda: put(store, ben, 2),
                    lambda: follow(store, ben, followup_id=an_id(50)),
                    lambda: follow(store, ana, followup_id=an_id(51)),
                    lambda: store.withdraw(an_id(9), ana.id, steward=False, now=NOW),
                    lambda: put(store, ana, 3),
                ],
            )
            assert commits[0] == 2
        said = [type(future.exception()).__name__ for future in done]
        assert said == ["Conflict", "NoneType", "Conflict", "NotAllowed", "NoneType",
                        "NotFound", "NoneType"]  # fmt: skip
        assert (store.report_count(), store.last_seq()) == (3, 4)

    def test_of_the_same_put_twice_in_one_transaction_one_is_created(
        self, store: PoolStore, pool: ThreadPoolExecutor
    ) -> None:
        ana = add_member(store, "ana")
        with commits_held_up(store) as (go, _):
            done = gathered(store, pool, go, [lambda: put(store, ana, 7)] * 3)
        created = [future.result().created for future in done]  # type: ignore[attr-defined]
        assert sorted(created) == [False, False, True]
        assert store.last_seq() == 1

    @pytest.mark.parametrize(
        ("how", "error"), [("conflict", Conflict), ("broken", ZeroDivisionError)]
    )
    def test_one_that_raises_after_it_wrote_is_undone_and_the_others_are_kept(
        self, store: PoolStore, pool: ThreadPoolExecutor, how: str, error: type[Exception]
    ) -> None:
        with commits_held_up(store) as (go, _):
            items = [("a", ""), ("b", how), ("c", "")]
            done = gathered(
                store, pool, go, [lambda i=i: store._write(_note, i) for i in items]
            )
        assert [type(future.exception()) for future in done] == [
            type(None), error, type(None),
        ]  # fmt: skip
        assert {"a", "c"} <= noted(store)
        assert "b" not in noted(store)

    def test_a_commit_that_fails_fails_all_and_keeps_nothing(
        self, store: PoolStore, pool: ThreadPoolExecutor
    ) -> None:
        ana = add_member(store, "ana")

        def fail(_: Connection) -> None:
            raise OSError("the disk is gone")

        with commits_held_up(store) as (go, commits):
            first = pool.submit(put, store, ana, 1)
            until(lambda: commits[0], "no commit came")
            others = [pool.submit(put, store, ana, n) for n in (2, 3, 4)]
            until(lambda: waiting(store) == 3, "the others did not gather")
            event.listen(store.engine, "commit", fail)
            go.set()
            wait([first, *others], 8)
            event.remove(store.engine, "commit", fail)
        for future in others:
            assert isinstance(future.exception(), TemporarilyImpossible)
        assert len({id(future.exception()) for future in others}) == 3
        assert store.report_count() == int(first.exception() is None)
        assert put(store, ana, 2).created

    def test_a_full_queue_refuses_and_says_it_can_be_tried_again(
        self, store: PoolStore, pool: ThreadPoolExecutor, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        ana = add_member(store, "ana")
        monkeypatch.setattr(together, "WAITING_MOST", 3)
        with commits_held_up(store) as (go, commits):
            first = pool.submit(put, store, ana, 1)
            until(lambda: commits[0], "no commit came")
            others = [pool.submit(put, store, ana, n) for n in (2, 3, 4)]
            until(lambda: waiting(store) == 3, "the others did not gather")
            with pytest.raises(TemporarilyImpossible):
                put(store, ana, 5)
            go.set()
            assert all(f.result(4).created for f in (first, *others))  # type: ignore[attr-defined]
        assert store.report_count() == 4

    def test_who_waits_too_long_is_told_and_not_written(
        self, store: PoolStore, pool: ThreadPoolExecutor, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        ana = add_member(store, "ana")
        monkeypatch.setattr(together, "WAIT_S", 0.1)
        with commits_held_up(store) as (go, commits):
            first = pool.submit(put, store, ana, 1)
            until(lambda: commits[0], "no commit came")
            with pytest.raises(TemporarilyImpossible):
                put(store, ana, 2)
            go.set()
            assert first.result(4).created  # type: ignore[attr-defined]
        assert (store.report_count(), waiting(store)) == (1, 0)
        assert put(store, ana, 2).created


def test_a_report_is_made_the_same_alone_and_among_many(store: PoolStore) -> None:
    ana = add_member(store, "ana")
    alone = put(store, ana, 1)
    many = store.put_reports([new_report(ana, n) for n in (2, 3, 1)], NOW)
    assert [p.created for p in many] == [True, True, False]
    assert many[2].record == alone.record
    assert [p.record.seq for p in many] == [2, 3, 1]
    assert [r.id for r in store.list_reports(ReportFilters(), None, 9)] == [
        an_id(3), an_id(2), an_id(1),
    ]  # fmt: skip
