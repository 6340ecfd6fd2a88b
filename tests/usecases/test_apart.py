"""What is done apart: in order, once, and some of it in a pause."""

import threading
import time
from collections.abc import Iterator

import pytest

from mendpool.usecases.apart import Apart

LONG_S = 60.0


@pytest.fixture
def apart() -> Iterator[Apart]:
    made = Apart()
    yield made
    made.stop()


def test_a_job_waits_for_its_pause_however_often_it_is_put(apart: Apart) -> None:
    begun: list[float] = []
    for _ in range(5):
        last = time.monotonic()
        apart.put("fit", lambda: begun.append(time.monotonic()), 0.3, LONG_S)
        time.sleep(0.1)
    assert begun == []
    time.sleep(0.7)
    assert len(begun) == 1
    assert begun[0] - last >= 0.3


def test_it_waits_no_longer_than_is_said_though_no_pause_comes(apart: Apart) -> None:
    begun = threading.Event()
    until = time.monotonic() + 10
    while not begun.is_set() and time.monotonic() < until:
        apart.put("fit", begun.set, LONG_S, 0.2)
        time.sleep(0.01)
    assert begun.is_set()


def test_another_job_is_done_meanwhile(apart: Apart) -> None:
    fitted, read = threading.Event(), threading.Event()
    apart.put("fit", fitted.set, LONG_S, LONG_S)
    apart.put("read", read.set)
    assert read.wait(10)
    assert not fitted.is_set()


def test_put_without_a_pause_it_is_done_at_once(apart: Apart) -> None:
    done: list[str] = []
    begun = threading.Event()
    apart.put("fit", lambda: done.append("later"), LONG_S, LONG_S)
    apart.put("fit", lambda: (done.append("now"), begun.set())[0])
    assert begun.wait(10)
    assert apart.settle()
    assert done == ["now"]


def test_who_waits_until_all_is_done_waits_for_no_pause(apart: Apart) -> None:
    done: list[int] = []
    apart.put("fit", lambda: done.append(1), LONG_S, LONG_S)
    assert apart.settle(10)
    assert done == [1]


def test_a_stop_drops_what_waits(apart: Apart) -> None:
    done: list[int] = []
    apart.put("fit", lambda: done.append(1), LONG_S, LONG_S)
    apart.stop()
    assert done == []
