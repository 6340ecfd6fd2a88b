"""Work that no request waits for: one thread, one thing at a time."""

import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

_log = logging.getLogger("mendpool")
Job = Callable[[], None]


@dataclass(slots=True)
class _Wanted:
    """A job that waits. `soonest`, `latest`: seconds of the monotonic clock."""

    job: Job
    soonest: float
    latest: float


class Apart:
    """Does jobs on a thread of its own, in the order they came; some wait for a pause.

    A job that is waiting already is not put in twice; a failed one is logged, and the next
    time it is wanted it is tried anew.
    """

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._waiting: dict[str, _Wanted] = {}
        self._hurried = 0  # how many wait until all is done
        self._busy = False
        self._stopping = False
        self._thread: threading.Thread | None = None

    @property
    def stopping(self) -> bool:
        """Whether a long job should give up."""
        return self._stopping

    def put(self, name: str, job: Job, pause_s: float = 0, latest_s: float = 0) -> None:
        """Have a job done; under the name of one that is still waiting it takes its place.

        Args:
            name: of the job.
            job: what to do.
            pause_s: not before it was put in by nobody for so long,
            latest_s: but at most so long after it was put in first.
        """
        now = time.monotonic()
        with self._changed:
            if self._stopping:
                return
            waits = self._waiting.get(name)
            latest = now + latest_s if waits is None else min(waits.latest, now + latest_s)
            wanted = _Wanted(job, min(now + pause_s, latest), latest)
            self._waiting[name] = wanted
            if self._thread is None:
                # A daemon, so that a stuck job can't keep the process from ending.
                self._thread = threading.Thread(target=self._work, name=name, daemon=True)
                self._thread.start()
            # Where it is put off, the thread looks again when it would have begun.
            if waits is None or wanted.soonest < waits.soonest:
                self._changed.notify_all()

    def settle(self, timeout_s: float = 60) -> bool:
        """Wait until nothing is left to do, no pause kept; tell whether that came to pass."""
        with self._changed:
            self._hurried += 1
            self._changed.notify_all()
            try:
                return self._changed.wait_for(
                    lambda: not self._waiting and not self._busy, timeout_s
                )
            finally:
                self._hurried -= 1

    def stop(self, timeout_s: float = 5) -> None:
        """Drop what is waiting and wait for what is under way, which is told to give up."""
        with self._changed:
            self._stopping = True
            self._waiting.clear()
            self._changed.notify_all()
            thread = self._thread
        if thread is not None and thread is not threading.current_thread():
            thread.join(timeout_s)

    def _work(self) -> None:
        while True:
            with self._changed:
                while (name := self._next()) is None and not self._stopping:
                    self._changed.wait(self._soonest_s())
                if self._stopping or name is None:
                    return
                job = self._waiting.pop(name).job
                self._busy = True
            try:
                job()
            except Exception:  # noqa: BLE001 - whatever it is, the next job must not suffer
                _log.exception("%s failed; it is tried again when it is next wanted", name)
            finally:
                with self._changed:
                    self._busy = False
                    self._changed.notify_all()

    def _next(self) -> str | None:
        """Return the name of the first job that may begin."""
        now = time.monotonic()
        may = (n for n, w in self._waiting.items() if self._hurried or w.soonest <= now)
        return next(may, None)

    def _soonest_s(self) -> float | None:
        """Return in how many seconds a job may begin, None where there is none."""
        soonest = min((wanted.soonest for wanted in self._waiting.values()), default=None)
        return None if soonest is None else max(0.0, soonest - time.monotonic())
