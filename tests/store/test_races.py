"""Many threads at once: one wins, and the feed stays in order."""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

from mendpool.core.errors import Conflict
from mendpool.store.pool_store import PoolStore

from tests.store.samples import NOW, add_member, an_id, follow, put

THREADS = 8


def race(act: Callable[[int], object]) -> list[object]:
    """Run `act` in every thread at the same moment; an error stands for its result."""
    start = threading.Barrier(THREADS)

    def run(number: int) -> object:
        start.wait()
        try:
            return act(number)
        except Exception as error:  # noqa: BLE001 - looked at by the caller
            return error

    with ThreadPoolExecutor(THREADS) as pool:
        return list(pool.map(run, range(THREADS)))


def another(store: PoolStore) -> PoolStore:
    """Return a store with its own turn to write, as another process would have."""
    return PoolStore(store.engine)


def same_report_put_by_all(store: PoolStore) -> None:
    ana = add_member(store, "ana")
    results = race(lambda _: put(another(store), ana).created)
    assert sorted(map(str, results)) == ["False"] * (THREADS - 1) + ["True"]
    assert (store.report_count(), store.last_seq()) == (1, 1)


def feed_under_many_writers(store: PoolStore) -> None:
    """Write from every thread while a reader follows, and compare what it saw at the end."""
    ana = add_member(store, "ana")
    total, followed = THREADS * 20, []
    done = threading.Event()

    def follow() -> None:
        last = 0
        while last < total and not (done.is_set() and store.last_seq() == last):
            for change in store.changes_after(last, 7):
                followed.append(change.seq)
                assert change.body is not None
                last = change.seq

    reader = threading.Thread(target=follow)
    reader.start()
    stores = [another(store) for _ in range(THREADS)]
    results = race(
        lambda number: [
            put(stores[number], ana, 1000 * number + step).record.seq for step in range(20)
        ]
    )
    done.set()
    reader.join(timeout=30)
    numbers = [seq for result in results for seq in result]  # type: ignore[attr-defined]
    assert sorted(numbers) == list(range(1, total + 1))
    # A line that showed after a later one would be missing here: the reader had passed it.
    assert followed == list(range(1, total + 1))


class TestRaces:
    def test_of_the_same_report_put_by_all_one_is_created(self, store: PoolStore) -> None:
        same_report_put_by_all(store)

    def test_of_different_bodies_under_one_id_one_is_kept(self, store: PoolStore) -> None:
        ana = add_member(store, "ana")
        results = race(lambda number: put(another(store), ana, sameness=f"s{number}").created)
        assert results.count(True) == 1
        assert sum(isinstance(result, Conflict) for result in results) == THREADS - 1

    def test_the_feed_has_no_repeat_no_gap_and_nothing_late(self, store: PoolStore) -> None:
        feed_under_many_writers(store)

    def test_a_put_and_a_withdrawal_leave_no_half(self, store: PoolStore) -> None:
        ana = add_member(store, "ana")
        put(store, ana)
        results = race(
            lambda number: (
                another(store).withdraw(an_id(1), ana.id, steward=False, now=NOW)
                if number % 2
                else follow(another(store), ana, followup_id=an_id(100 + number))
            )
        )
        assert results.count(True) == 1
        assert [change.body for change in store.changes_after(0, 99)] == [None] * (
            store.last_seq()
        )
