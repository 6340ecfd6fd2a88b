"""Several processes of one host and one index on disk."""

import json
import threading
from collections.abc import Callable
from pathlib import Path
from uuid import UUID

import pytest

from mendpool.core.errors import TemporarilyImpossible
from mendpool.core.evidence.case import Case, case_from_text, case_to_text, months_later
from mendpool.index.folder import Folder
from mendpool.main import open_place
from mendpool.settings import Settings
from mendpool.store.pool_store import PoolStore
from mendpool.store.values import CaseRow, HeldCase
from mendpool.usecases import indexing, stretches
from mendpool.usecases.learned import Learned

from tests.api.pools import START, Pool
from tests.databases import Databases
from tests.engines import engine_of
from tests.factories import make_case, make_id, make_report

CASE = case_to_text(make_case())
DEAD = {"s:no-output": 50, "k:fuel=diesel": 3, "w:outlet": 7}


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a place for the index, with tails of more than three closed at once."""
    monkeypatch.setattr(indexing, "TAIL_MOST", 3)
    return tmp_path / "index"


def process(pool: Pool, place: Path | None, version: str = "1") -> Learned:
    folder = None if place is None else Folder(place, version)
    catalogue = pool.service.place.catalogue
    return Learned(pool.store, catalogue, folder, engine_of(catalogue))


def ids(learned: Learned) -> list[str]:
    found = learned.search(DEAD)
    assert found.searched == len(found.cases)
    return [case.id for case in found.cases]


def test_a_new_process_begins_with_what_is_on_disk(fresh: Pool, place: Path) -> None:
    fresh.put(make_report())
    made = [fresh.put(make_report()) for _ in range(4)]
    first = process(fresh, place)
    assert len(ids(first)) == 5
    assert Folder(place, "1").newest_seq() > 0
    fresh.client("alder").delete(f"/v1/reports/{made[0]}")
    second, plain = process(fresh, place), process(fresh, None)
    assert ids(second) == ids(plain) == ids(first)
    assert second.engine.fit == plain.engine.fit != process(fresh, None).engine.fit


def test_processes_take_over_what_another_has_closed(
    fresh: Pool, place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    others = [process(fresh, place) for _ in range(3)]
    plain = process(fresh, None)
    published: list[int] = []
    publish = Folder.publish

    def count(self: Folder, *given: object) -> None:
        published.append(1)
        publish(self, *given)  # type: ignore[arg-type]

    monkeypatch.setattr(Folder, "publish", count)
    gone: list[str] = []
    told: list[list[str]] = [[]]
    for number in range(20):
        report = fresh.put(make_report(complaint=f"outlet dead {number}"))
        if number % 6 == 1:
            gone.append(report)
        if number % 6 == 5:
            fresh.client("alder").delete(f"/v1/reports/{gone[-1]}")
        told = [ids(learned) for learned in (*others, plain)]
        assert all(each == told[0] for each in told)
    assert len(told[0]) == 17
    assert 2 <= len(published) < 3 * 20 / 4, "not each of them wrote its own"


def test_follow_ups_reach_every_process_whoever_closed_them(fresh: Pool, place: Path) -> None:
    others, plain = [process(fresh, place) for _ in range(2)], process(fresh, None)
    states = ("holding", "returned", "holding")
    made: list[str] = []
    for number in range(12):
        made.append(fresh.put(make_report(complaint=f"outlet dead {number}")))
        for state in states[: number % 4]:
            route = f"/v1/reports/{made[number // 2]}/followups/{make_id()}"
            body = {"happened": f"2026-{4 + number % 5:02}", "state": state}
            answer = fresh.client("alder").put(route, json=body)
            assert answer.status_code in {201, 410}
        if number % 5 == 4:
            fresh.client("alder").delete(f"/v1/reports/{made[number // 2]}")
        told = [list(learned.search(DEAD).cases) for learned in (*others, plain)]
        assert told[0] == told[1] == told[2]
    assert Folder(place, "1").newest_seq() > 0
    assert list(process(fresh, place).search(DEAD).cases) == told[2]
    read = [_as_stored(held) for held in _every_case(fresh)]
    assert sum(len(case.followups) for case in read) > 5
    plainly = {case.id: case._replace(words=(), healthy=()) for case in read}
    assert {case.id: case for case in told[2]} == plainly


def _as_stored(held: HeldCase) -> Case:
    """The case as the store has it, read without the index."""
    case = case_from_text(held.case_body, group=held.group, vouched=held.vouched)
    bodies = [json.loads(followup) for followup in held.followups]
    seen = sorted(months_later(case.happened, b["happened"], b["state"]) for b in bodies)
    return case._replace(followups=tuple(seen))


def _every_case(pool: Pool) -> list[HeldCase]:
    held = [row.seq for row in pool.store.cases_after(0, 1 << 20) if row.kind == "report"]
    return pool.store.cases_by_seq(held)


def test_a_report_taken_back_is_gone_from_the_disk_too(fresh: Pool, place: Path) -> None:
    kept = fresh.service.place.learned
    learned = process(fresh, place)
    for number in range(5):
        fresh.put(make_report(complaint=f"dead zibeline{number}"))
        assert len(ids(learned)) == number + 1
    assert any(b"zibelin" in f.read_bytes() for f in place.rglob("*") if f.is_file())
    for change in fresh.store.changes_after(0, 100):
        if change.kind == "report":
            fresh.store.withdraw(change.report_id or make_id(), 2, True, fresh.time[0])
    learned.fit_if_due(fresh.time[0], at_once=True)
    assert ids(learned) == []
    assert not any(b"zibelin" in f.read_bytes() for f in place.rglob("*") if f.is_file())
    assert ids(kept) == []


def test_the_index_of_another_feed_is_not_used(fresh: Pool, place: Path) -> None:
    for _ in range(5):
        fresh.put(make_report())
    assert len(ids(process(fresh, place))) == 5
    folder = Folder(place, "1")
    loaded = folder.load()
    assert loaded is not None
    # As after an older backup was put back and others reports came.
    folder.publish(loaded.closed, "another report")
    again = process(fresh, place)
    assert len(ids(again)) == 5
    now = folder.load()
    assert now is not None
    assert now.anchor != "another report"


def test_cases_derived_again_are_indexed_anew(fresh: Pool, place: Path) -> None:
    for _ in range(5):
        fresh.put(make_report())
    assert len(ids(process(fresh, place))) == 5
    learned, go_on, begun = process(fresh, place), threading.Event(), threading.Event()

    def derive(wanted: Callable[[], bool]) -> None:
        begun.set()
        go_on.wait(30)
        assert wanted()
        stale = fresh.store.stale_cases("none", 0, 10)
        case = json.dumps({**json.loads(CASE), "terms": ["w:other"]})
        fresh.store.set_cases([(one.report_id, case) for one in stale[:5]], "none")

    learned.derive_apart(derive)
    assert begun.wait(30)
    fresh.put(make_report())
    assert len(ids(learned)) == 6, "the cases as they are, meanwhile"
    assert Folder(place, "1").load() is None, "those are not kept"
    go_on.set()
    assert learned.settle()
    assert learned.search(DEAD).searched == 6
    assert len(learned.search(DEAD).cases) == 1
    assert [case.terms for case in learned.search({"w:other": 1}).cases] == [("w:other",)] * 5
    for _ in range(5):
        fresh.put(make_report())
        learned.catch_up()
    assert Folder(place, "1").load() is not None, "kept on disk again"
    learned.stop()


def test_without_a_disk_it_goes_on_in_memory(
    fresh: Pool, place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_given: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Folder, "publish", full)
    learned = process(fresh, place)
    for number in range(8):
        fresh.put(make_report())
        assert len(ids(learned)) == number + 1


def test_pools_that_share_a_cache_keep_an_index_each(
    databases: Databases, tmp_path: Path
) -> None:
    held = []
    with databases.migrated() as first, databases.migrated() as second:
        for url in (first, second):
            store = PoolStore(databases.open(url))
            store.init_pool(UUID(str(make_id())), bytes(32), START)
            store.engine.dispose()
            place = open_place(Settings(database_url=url, cache_dir=tmp_path))
            folder = place.learned._index._folder
            assert folder is not None
            held.append(folder.path.parent)
            place.store.engine.dispose()
    # What one of them drops beside its own, such as an older version's, can't be the other's.
    assert held[0] != held[1]


def test_a_long_feed_comes_in_pages_each_line_once(
    fresh: Pool, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = [fresh.put(make_report()) for _ in range(7)]
    monkeypatch.setattr(stretches, "PAGE", 3)
    pages = list(stretches.pages_after(fresh.store, 0))
    last = fresh.store.last_seq()
    assert [row.seq for page in pages for row in page] == list(range(1, last + 1))
    assert [len(page) for page in pages[:-1]] == [3] * (len(pages) - 1)
    assert len(pages[-1]) < 3
    assert sorted(ids(process(fresh, None))) == sorted(map(str, made))


def test_a_page_that_cant_be_fetched_is_no_end_of_the_feed(
    fresh: Pool, monkeypatch: pytest.MonkeyPatch
) -> None:
    for _ in range(5):
        fresh.put(make_report())
    monkeypatch.setattr(stretches, "PAGE", 2)
    fetch = fresh.store.cases_after

    def broken(seq: int, limit: int) -> list[CaseRow]:
        if seq >= 2:
            raise TemporarilyImpossible("the database is away")
        return fetch(seq, limit)

    monkeypatch.setattr(fresh.store, "cases_after", broken)
    with pytest.raises(TemporarilyImpossible):
        list(stretches.pages_after(fresh.store, 0))
