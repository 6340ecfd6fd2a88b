"""A long feed is read by several processes, and the index is what one would have made."""

import threading
import time
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

import pytest

from mendpool.index.folder import Folder
from mendpool.main import feed_reader, open_place
from mendpool.settings import Settings
from mendpool.usecases import indexing, stretches
from mendpool.usecases.indexing import Indexing
from mendpool.usecases.learned import Learned
from mendpool.usecases.spread import Spread
from mendpool.usecases.stretches import Gather, Stretch, stretch_after

from tests.api.pools import Pool
from tests.engines import engine_of
from tests.factories import make_id, make_report

DEAD = {"s:no-output": 50, "k:fuel=diesel": 3, "w:outlet": 7}


@pytest.fixture
def told(fresh: Pool, monkeypatch: pytest.MonkeyPatch) -> Pool:
    """Return a pool of some lines of each kind, long enough to be read by others."""
    monkeypatch.setattr(stretches, "PAGE", 4)
    monkeypatch.setattr(stretches, "SHEAF", 5)
    monkeypatch.setattr(indexing, "_SPREAD_FROM", 10)
    made = [fresh.put(make_report(complaint=f"outlet dead {n}")) for n in range(14)]
    client = fresh.client("alder")
    for number, report in enumerate(made[2:9]):
        body = {"happened": f"2026-0{5 + number % 3}", "state": "holding"}
        client.put(f"/v1/reports/{report}/followups/{make_id()}", json=body)
    for report in made[5:8]:
        client.delete(f"/v1/reports/{report}")
    for number in range(4):
        fresh.put(make_report(complaint=f"outlet dead again {number}"))
    return fresh


one_journal = pytest.mark.parametrize(
    "databases", ["wal", pytest.param("postgres", marks=pytest.mark.postgres)], indirect=True
)
"""Without files whose journal the tests chose: another process would choose its own."""


def learned(pool: Pool, gather: Gather | None, folder: Folder | None = None) -> Learned:
    catalogue = pool.service.place.catalogue
    return Learned(pool.store, catalogue, folder, engine_of(catalogue), gather=gather)


def files(folder: Path) -> dict[str, bytes]:
    return {f.name: f.read_bytes() for f in sorted(folder.rglob("*")) if f.is_file()}


def kept(indexing_: Indexing, seq: int = 0) -> None:
    for _ in indexing_.follow(seq):
        pass
    indexing_.keep(whole=True)


def test_the_index_is_the_same_byte_for_byte(told: Pool, tmp_path: Path) -> None:
    asked: list[int] = []

    def gather(places: Iterable[int]) -> Iterator[Stretch]:
        for place in places:
            asked.append(place)
            yield stretch_after(told.store, place)

    kept(Indexing(told.store, Folder(tmp_path / "helped", "1"), gather))
    kept(Indexing(told.store, Folder(tmp_path / "alone", "1")))
    assert len(asked) > 4, "most of it was read by others"
    assert files(tmp_path / "helped") == files(tmp_path / "alone") != {}


def test_how_far_it_is_is_told_to_the_log(told: Pool, caplog: pytest.LogCaptureFixture) -> None:
    def gather(places: Iterable[int]) -> Iterator[Stretch]:
        return (stretch_after(told.store, place) for place in places)

    with caplog.at_level("INFO", "mendpool"):
        learned(told, gather).catch_up()
    lines = told.store.last_seq()
    said = [r.getMessage() for r in caplog.records if "index" in r.getMessage()]
    assert said[0] == f"making the index: {lines} lines of the feed to read"
    read = [int(words.split()[3]) for words in said[1:-1]]
    assert read == sorted(set(read))
    assert 3 <= len(read) <= 11
    assert lines - 5 <= read[-1] <= lines
    assert said[-1] == "the index is made"


def test_one_process_makes_it_and_the_others_of_the_host_take_it_over(
    told: Pool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(indexing, "TAIL_MOST", 3)
    at_it, go_on, read = threading.Event(), threading.Event(), []

    def gather(places: Iterable[int]) -> Iterator[Stretch]:
        for place in places:
            at_it.set()
            assert go_on.wait(20)
            read.append(place)
            yield stretch_after(told.store, place)

    folders = [Folder(tmp_path, "1"), Folder(tmp_path, "1")]
    one, other = (learned(told, gather, folder) for folder in folders)
    with ThreadPoolExecutor(2) as both:
        first = both.submit(one.search, DEAD)
        assert at_it.wait(20)
        second = both.submit(other.search, DEAD)
        time.sleep(0.3)
        assert not second.done()
        go_on.set()
        found = [list(answer.result(30).cases) for answer in (first, second)]
    assert found[0] == found[1] == list(learned(told, None).search(DEAD).cases)
    assert len(read) == len(set(read)) > 4, "each stretch was read once"
    assert other.held().gone == one.held().gone > 0
    assert other.held().vouched == one.held().vouched


def test_a_withdrawal_that_comes_while_it_is_read_is_heard(told: Pool) -> None:
    late = told.put(make_report(complaint="outlet dead late"))

    def gather(places: Iterable[int]) -> Iterator[Stretch]:
        read = [stretch_after(told.store, place) for place in places]
        told.client("alder").delete(f"/v1/reports/{late}")
        yield from read

    helped, alone = learned(told, gather), learned(told, None)
    found = [case.id for case in helped.search(DEAD).cases]
    assert late not in found
    assert found == [case.id for case in alone.search(DEAD).cases]
    assert helped.held().gone == alone.held().gone > 0


def test_a_line_read_twice_counts_once(told: Pool) -> None:
    def gather(places: Iterable[int]) -> Iterator[Stretch]:
        # As where numbers are missing in the feed: each reaches into the next.
        for place in places:
            yield stretch_after(told.store, max(0, place - 3))

    helped, alone = learned(told, gather), learned(told, None)
    assert list(helped.search(DEAD).cases) == list(alone.search(DEAD).cases)
    assert helped.held().vouched == alone.held().vouched


@one_journal
@pytest.mark.parametrize("starts", [True, False])
def test_real_processes_read_it_and_one_alone_where_none_starts(
    told: Pool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, starts: bool
) -> None:
    if not starts:
        monkeypatch.setattr("mendpool.usecases.spread.ProcessPoolExecutor", _none)
    url = told.store.engine.url.render_as_string(hide_password=False)
    place = open_place(Settings(database_url=url, cache_dir=tmp_path))
    alone = learned(told, None)
    assert list(place.learned.search(DEAD).cases) == list(alone.search(DEAD).cases)
    assert place.learned.held().gone == alone.held().gone
    place.store.let_go()


def _none(*_: object, **__: object) -> None:
    raise OSError("no room for another process")


@pytest.mark.slow
@one_journal
def test_processes_that_begin_from_nothing_read_it_as_well(told: Pool) -> None:
    url = told.store.engine.url.render_as_string(hide_password=False)
    elsewhere = Spread(partial(feed_reader, Settings(database_url=url)), _not_here, 2)
    helped, alone = learned(told, elsewhere.over), learned(told, None)
    assert list(helped.search(DEAD).cases) == list(alone.search(DEAD).cases)
    assert not elsewhere.broken


def _not_here(_: int) -> Stretch:
    raise AssertionError("it was to be read by others")
