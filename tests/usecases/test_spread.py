"""Work spread over processes: in order, bounded, and done here where nobody can help."""

import multiprocessing
import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from functools import partial
from unittest.mock import Mock

import pytest

from mendpool.usecases import spread as spreading
from mendpool.usecases.spread import Spread


def doubled(job: int) -> tuple[int, int]:
    """The work: with the number of the process that did it."""
    return 2 * job, os.getpid()


def doubling() -> Callable[[int], tuple[int, int]]:
    return doubled


def dying() -> Callable[[int], tuple[int, int]]:
    return die_at_three


def die_at_three(job: int) -> tuple[int, int]:
    if job == 3 and multiprocessing.parent_process() is not None:
        os._exit(9)
    return doubled(job)


def not_starting() -> Callable[[int], tuple[int, int]]:
    raise RuntimeError("no such thing here")


def values(spread: Spread[int, tuple[int, int]], count: int) -> list[int]:
    return [value for value, _ in spread.over(range(count))]


def test_results_come_in_order_from_other_processes() -> None:
    spread = Spread(doubling, doubled, 2)
    done = list(spread.over(range(20)))
    assert [value for value, _ in done] == [2 * n for n in range(20)]
    assert os.getpid() not in {who for _, who in done}
    assert not spread.broken


@pytest.mark.parametrize(("workers", "count"), [(1, 5), (2, 1), (2, 0)])
def test_no_process_is_started_for_little(workers: int, count: int) -> None:
    done = list(Spread(not_starting, doubled, workers).over(range(count)))
    assert done == [(2 * n, os.getpid()) for n in range(count)]


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("make", [dying, not_starting])
def test_where_one_dies_or_none_starts_it_is_done_here(make: Callable[[], object]) -> None:
    spread = Spread(make, doubled, 2)  # type: ignore[arg-type]
    assert values(spread, 12) == [2 * n for n in range(12)]
    assert spread.broken


def test_where_there_are_no_processes_it_is_done_here(monkeypatch: pytest.MonkeyPatch) -> None:
    # What Python's own says where the system has no semaphores that processes share.
    none_here = Mock(side_effect=NotImplementedError)
    monkeypatch.setattr(spreading, "ProcessPoolExecutor", none_here)
    spread = Spread(doubling, doubled, 2)
    assert values(spread, 5) == [0, 2, 4, 6, 8]
    assert spread.broken
    none_here.assert_called_once()


def test_no_more_is_read_than_can_be_worked_on() -> None:
    read = 0

    def jobs() -> Iterator[int]:
        nonlocal read
        for job in range(1000):
            read = job
            yield job

    done = Spread(doubling, doubled, 2).over(jobs())
    for expected in range(10):
        assert next(done)[0] == 2 * expected
        assert read <= expected + 5
    done.close()


def test_what_the_work_raises_is_raised_here() -> None:
    spread = Spread(partial(partial, doubled_or_not), doubled, 2)
    with pytest.raises(ValueError, match="four"):
        values(spread, 9)


def doubled_or_not(job: int) -> tuple[int, int]:
    if job == 4:
        raise ValueError("four")
    return doubled(job)


_COPIED = """
import os
import subprocess
import sys
import threading
from mendpool.usecases.spread import Spread
let_go = []
made = object()  # can't be sent to another process
def work(job):
    return job, os.getpid(), id(made)
def make():
    raise RuntimeError("nothing is made anew")
spread = Spread(make, work, 2, lambda: let_go.append(1))
done = list(spread.over(range(9)))
assert [job for job, _, _ in done] == list(range(9))
assert os.getpid() not in {who for _, who, _ in done}
assert {what for _, _, what in done} == {id(made)}
assert let_go == [1] and not spread.broken
"""


@pytest.mark.skipif(sys.platform != "linux", reason="processes are not copied safely here")
def test_where_this_is_the_only_thread_the_others_are_copies() -> None:
    done = subprocess.run([sys.executable, "-c", _COPIED], capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()


def test_beside_another_thread_nothing_is_copied() -> None:
    held = threading.Event()
    waiting = threading.Thread(target=held.wait)
    waiting.start()
    try:
        spread = Spread(doubling, doubled, 2, lambda: pytest.fail("nothing to let go of"))
        assert values(spread, 5) == [0, 2, 4, 6, 8]
        assert not spread.broken
    finally:
        held.set()
        waiting.join()
