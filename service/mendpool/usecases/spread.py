"""Work spread over processes of this machine, its results in order.

A process is started with what makes its worker and hears nothing but jobs; or it is a copy
of this one, which has the worker made already, where the system copies processes safely. So
many jobs are out at a time that memory does not grow with their number. Where processes
can't be started, or one dies, the rest is done here: slower, and the same.
"""

import multiprocessing
import os
import signal
import sys
import threading
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing.context import BaseContext
from typing import Any, Generic, TypeVar

Job = TypeVar("Job")
Done = TypeVar("Done")
Work = Callable[[Job], Done]

_AHEAD = 2
_NICER = 5
"""Bulk work gives way to a service on the same machine."""


def processors() -> int:
    """Return how many processors this process may use."""
    if sys.platform == "linux":
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


class Spread(Generic[Job, Done]):
    """Does jobs in other processes, or here."""

    def __init__(
        self,
        make: Callable[[], Work[Job, Done]],
        here: Work[Job, Done],
        workers: int,
        let_go: Callable[[], None] | None = None,
    ) -> None:
        """Start nothing yet.

        Args:
            make: makes the work in another process; it has to be importable there.
            here: the same work in this process.
            workers: how many processes; with one the work is done here.
            let_go: lets go of what no two processes may share, such as connections. Where it
                is given, others may be copies of this process and do what `here` does.
        """
        self._make = make
        self._let_go = let_go
        self._here = here
        self._workers = workers
        self.broken = False

    def over(self, jobs: Iterable[Job]) -> Generator[Done, None, None]:
        """Yield what comes of each job, in order; close it to stop early."""
        waiting: deque[tuple[Job, Future[Done] | None]] = deque()
        coming = iter(jobs)
        # One job alone is not worth a process.
        first = next(coming, None)
        second = next(coming, None)
        if first is not None and (second is None or self._workers < 2):
            yield self._here(first)
            first = None
        executor = self._executor() if second is not None and self._workers > 1 else None
        try:
            for job in _chained(first, second, coming):
                waiting.append((job, self._begun(executor, job)))
                if len(waiting) > self._workers * _AHEAD or waiting[0][1] is None:
                    yield self._done(*waiting.popleft())
            while waiting:
                yield self._done(*waiting.popleft())
        finally:
            if executor is not None:
                executor.shutdown(wait=True, cancel_futures=True)

    def _executor(self) -> ProcessPoolExecutor | None:
        context, make = self._started_by()
        try:
            return ProcessPoolExecutor(
                self._workers, context, initializer=_start, initargs=(make,)
            )
        except (ImportError, NotImplementedError, OSError):
            self.broken = True
            return None

    def _started_by(self) -> tuple[BaseContext, Callable[[], Work[Job, Done]]]:
        """How processes begin: as copies, which have all in a moment, or from nothing."""
        if self._let_go is None or not _may_copy():
            return multiprocessing.get_context("spawn"), self._make
        self._let_go()
        return multiprocessing.get_context("fork"), lambda: self._here

    def _begun(self, executor: ProcessPoolExecutor | None, job: Job) -> Future[Done] | None:
        if executor is None or self.broken:
            return None
        try:
            with _no_interrupts():
                return executor.submit(_do, job)
        except (BrokenProcessPool, OSError):
            self.broken = True
            return None

    def _done(self, job: Job, future: Future[Done] | None) -> Done:
        if future is not None:
            try:
                return future.result()
            except BrokenProcessPool:
                self.broken = True
        return self._here(job)


def _may_copy() -> bool:
    """Say whether a copy of this process can work: another thread's locks would stay taken."""
    return sys.platform == "linux" and threading.active_count() == 1


def _chained(first: Job | None, second: Job | None, others: Iterable[Job]) -> Iterator[Job]:
    if first is not None:
        yield first
    if second is not None:
        yield second
    yield from others


@contextmanager
def _no_interrupts() -> Iterator[None]:
    """A process started meanwhile never sees Ctrl-C: who started it decides."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


# --- in the other process

_work: list[Work[Any, Any]] = []


def _start(make: Callable[[], Work[Any, Any]]) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(os, "nice"):
        os.nice(_NICER)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    try:
        _work.append(make())
    except Exception:  # noqa: BLE001 - the work is done by who started it, and fails there
        os._exit(1)


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _do(job: Any) -> Any:  # noqa: ANN401 - whatever the work takes and gives
    return _work[0](job)
