"""A fit made in a process of its own: the same bytes, and it ends when it should."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from textwrap import dedent
from typing import Any

import pytest

from mendpool.usecases import fit_process
from mendpool.usecases import learned as module
from mendpool.usecases.fit_process import NoProcess, Order, fit_apart
from mendpool.usecases.learned import Learned
from mendpool.usecases.ledger_folder import LedgerFolder
from mendpool.usecases.make_fit import GivenUp, made_fit

from tests.api.pools import Pool
from tests.engines import engine_of
from tests.factories import make_report


def order_of(pool: Pool, folder: Path | None = None) -> Order:
    address = pool.store.engine.url.render_as_string(hide_password=False)
    ledger = None if folder is None else LedgerFolder(folder, "v1")
    return Order(address, pool.service.place.catalogue, pool.store.last_seq(), ledger)


def go_on() -> bool:
    return True


def test_it_makes_the_same_bytes_and_keeps_the_ledger(fresh: Pool, tmp_path: Path) -> None:
    for _ in range(3):
        fresh.put(make_report())
    order = order_of(fresh, tmp_path / "ledger")
    expected = fresh.service.place.learned.engine.expectations
    assert fit_apart(order, go_on) == made_fit(fresh.store, expected, order.cut)
    assert order.folder is not None
    assert order.folder.load().seq == order.cut


def test_the_service_has_the_fit_of_a_large_pool_made_apart(
    fresh: Pool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fresh.put(make_report())
    place, orders = fresh.service.place, []

    def watched(order: Order, asked: Callable[[], bool]) -> bytes:
        orders.append(order.cut)
        return made_fit(fresh.store, place.learned.engine.expectations, order.cut, None, asked)

    monkeypatch.setattr(fit_process, "fit_apart", watched)
    learned = Learned(
        fresh.store,
        place.catalogue,
        engine=engine_of(place.catalogue),
        ledger=LedgerFolder(tmp_path / "ledger", "v1"),
    )
    learned.work_apart(in_process=True)
    learned.fit_if_due(fresh.time[0], at_once=True)
    assert learned.settle()
    assert orders == [], "of a few reports the thread is done before a process has begun"
    fresh.put(make_report())
    monkeypatch.setattr(module, "_PROCESS_FROM", 1)
    learned.fit_if_due(fresh.time[0], at_once=True)
    assert learned.settle()
    assert len(orders) == 1
    assert learned.newest_fit().reports == 2
    learned.stop()


def test_where_no_process_can_be_had_the_thread_makes_it(
    fresh: Pool, monkeypatch: pytest.MonkeyPatch
) -> None:
    fresh.put(make_report())
    fresh.put(make_report())

    def none(*_given: Any) -> bytes:
        raise NoProcess("no room")

    monkeypatch.setattr(module, "_PROCESS_FROM", 1)
    monkeypatch.setattr(fit_process, "fit_apart", none)
    catalogue = fresh.service.place.catalogue
    learned = Learned(fresh.store, catalogue, engine=engine_of(catalogue))
    learned.work_apart(in_process=True)
    learned.fit_if_due(fresh.time[0], at_once=True)
    assert learned.settle()
    assert learned.newest_fit().reports == 2
    learned.stop()


@pytest.mark.slow
def test_a_process_that_fails_says_so(fresh: Pool) -> None:
    order = order_of(fresh)
    missing = Order("sqlite:////nowhere/at/all.db", order.catalogue, 1, None)
    with pytest.raises(NoProcess):
        fit_apart(missing, go_on)


@pytest.mark.slow
def test_it_is_ended_when_it_is_no_longer_wanted(fresh: Pool) -> None:
    fresh.put(make_report())
    with pytest.raises(GivenUp):
        fit_apart(order_of(fresh), lambda: False)


PARENT = """
    import sys, threading, time, multiprocessing
    from mendpool.core.catalogue.files import packaged_catalogue
    from mendpool.usecases.fit_process import Order, fit_apart
    if __name__ == "__main__":
        order = Order(sys.argv[1], packaged_catalogue(), 1 << 60, None)
        made = threading.Thread(target=fit_apart, args=(order, lambda: True), daemon=True)
        made.start()
        while not multiprocessing.active_children():
            time.sleep(0.01)
        time.sleep(0.5)
        print(multiprocessing.active_children()[0].pid, flush=True)
        time.sleep(60)
"""


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no such signal here")
def test_it_dies_with_the_process_that_wants_it(tmp_path: Path) -> None:
    """A port that takes callers and says nothing stands for a database: it is waited for."""
    script = tmp_path / "parent.py"
    script.write_text(dedent(PARENT), encoding="utf-8")
    paths = {"PYTHONPATH": os.pathsep.join(sys.path)}
    with (
        socket.create_server(("127.0.0.1", 0)) as silent,
        subprocess.Popen(
            [sys.executable, script, f"postgresql://x@127.0.0.1:{silent.getsockname()[1]}/x"],
            stdout=subprocess.PIPE,
            env={**os.environ, **paths},
            text=True,
        ) as parent,
    ):
        assert parent.stdout is not None
        child = int(parent.stdout.readline())
        assert running(child)
        parent.kill()
        # By itself it would give the database up after five seconds.
        _ends_soon(child)


def _ends_soon(child: int) -> None:
    until = time.monotonic() + 3
    while running(child) and time.monotonic() < until:
        time.sleep(0.05)
    assert not running(child)


def running(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    # One that has ended and that nobody asked after is still in the table.
    state = Path(f"/proc/{process}/stat")
    return not state.exists() or state.read_text(encoding="utf-8").split()[2] != "Z"
