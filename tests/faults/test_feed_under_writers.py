"""The feed while several processes write it and are killed: no gap, no repeat, nothing late.

Readers follow with a cursor as a copy does. A line that showed after a later one would be
missing for them for ever, since they had passed it.
"""

import json
import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from mendpool.store.engine import make_engine
from mendpool.store.migrate import migrate
from mendpool.store.pool_store import PoolStore

from tests.postgres_server import running_server
from tests.store.samples import NOW, POOL_ID, POOL_KEY, add_member

ROOT = Path(__file__).resolve().parents[2]
WRITERS, READERS = 3, 2


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'pool.db'}"
        return
    with running_server() as server:
        url = server.make_database()
        yield url
        server.drop_database(url)


class Writer:
    """A process that writes; `kept` is what it said was committed."""

    def __init__(self, url: str, member: int) -> None:
        self.kept: list[tuple[str, str, int]] = []
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.faults.writing", url, str(member)],
            cwd=ROOT,
            env={
                **os.environ,
                "PYTHONPATH": os.pathsep.join(
                    str(ROOT / part) for part in (".", "service", "clients/field")
                ),
            },
            stdout=subprocess.PIPE,
            text=True,
        )
        self._listener = threading.Thread(target=self._listen)
        self._listener.start()

    def _listen(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            if line.endswith("\n"):  # what it was saying when it was killed says nothing
                self.kept.append(tuple(json.loads(line)))

    def kill(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(10)
        self._listener.join(10)
        if self.process.stdout is not None:
            self.process.stdout.close()


class Reader(threading.Thread):
    """Follows the feed from the beginning, a page at a time."""

    def __init__(self, url: str, page: int) -> None:
        super().__init__()
        self._store = PoolStore(make_engine(url))
        self._page = page
        self.seen: list[tuple[int, str, str]] = []
        self.upto: int | None = None

    def run(self) -> None:
        last = 0
        while self.upto is None or last < self.upto:
            lines = self._store.changes_after(last, self._page)
            self.seen += [(line.seq, line.kind, line.ref) for line in lines]
            last = lines[-1].seq if lines else last
            if not lines:
                time.sleep(0.005)
        self._store.engine.dispose()


def until(true: Callable[[], bool], seconds: float = 60) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end
        time.sleep(0.01)


def feed_holds(url: str, deaths: int, each: int) -> int:
    """Let writers write and die; compare what was acknowledged, stored and followed."""
    chance = random.Random(deaths)
    migrate(url)
    store = PoolStore(make_engine(url))
    store.init_pool(POOL_ID, POOL_KEY, NOW)
    member = add_member(store, "ana").id
    readers = [Reader(url, page) for page in (7, 500)[:READERS]]
    for reader in readers:
        reader.start()
    alive = [Writer(url, member) for _ in range(WRITERS)]
    dead: list[Writer] = []
    for _ in range(deaths):
        until(lambda: all(len(writer.kept) >= each for writer in alive))
        time.sleep(chance.random() * 0.05)
        victim = alive.pop(chance.randrange(len(alive)))
        victim.kill()
        dead.append(victim)
        alive.append(Writer(url, member))
    until(lambda: all(len(writer.kept) >= each for writer in alive))
    for writer in alive:
        writer.kill()
    last = store.last_seq()
    for reader in readers:
        reader.upto = last
    for reader in readers:
        reader.join(60)
    lines = [(c.seq, c.kind, c.ref) for c in store.changes_after(0, 10**6)]
    assert [seq for seq, _, _ in lines] == list(range(1, last + 1))
    for reader in readers:
        assert reader.seen == lines
    held = {(kind, ref): seq for seq, kind, ref in lines}
    assert len(held) == len(lines)
    told = [one for writer in (*dead, *alive) for one in writer.kept]
    for kind, ref, seq in told:
        assert held[kind, ref] == (seq or held[kind, ref])
    store.engine.dispose()
    # What was kept but not said was under way in a thread of a process that was killed.
    assert len(lines) - len(told) <= 3 * (len(dead) + len(alive))
    return len(told)


def test_the_feed_holds_while_writers_are_killed(address: str) -> None:
    assert feed_holds(address, deaths=1, each=15) > 45


@pytest.mark.slow
@pytest.mark.timeout(600)
def test_the_feed_holds_through_many_deaths(address: str) -> None:
    assert feed_holds(address, deaths=25, each=60) > 2000
