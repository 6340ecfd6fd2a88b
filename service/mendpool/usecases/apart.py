"""Work that no request waits for: one thread, one thing at a time."""

import logging
import threading
from collections.abc import Callable

_log = logging.getLogger("mendpool")
Job = Callable[[], None]


class Apart:
    """Does jobs on a thread of its own, in the order they came.

    A job that is waiting already is not put in twice; a failed one is logged, and the next
    time it is wanted it is tried anew.
    """

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._waiting: dict[str, Job] = {}
        self._busy = False
        self._stopping = False
        self._thread: threading.Thread | None = None

    @property
    def stopping(self) -> bool:
        """Whether a long job should give up."""
        return self._stopping

    def put(self, name: str, job: Job) -> None:
        """Have a job done; under the name of one that is still waiting it takes its place."""
        with self._changed:
            if self._stopping:
                return
            self._waiting[name] = job
            if self._thread is None:
                # A daemon, so that a stuck job can't keep the process from ending.
                self._thread = threading.Thread(target=self._work, name=name, daemon=True)
                self._thread.start()
            self._changed.notify_all()

    def settle(self, timeout_s: float = 60) -> bool:
        """Wait until nothing is left to do; tell whether that came to pass."""
        with self._changed:
            return self._changed.wait_for(
                lambda: not self._waiting and not self._busy, timeout_s
            )

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
                self._changed.wait_for(lambda: self._waiting or self._stopping)
                if self._stopping:
                    return
                name = next(iter(self._waiting))
                job = self._waiting.pop(name)
                self._busy = True
            try:
                job()
            except Exception:  # noqa: BLE001 - whatever it is, the next job must not suffer
                _log.exception("%s failed; it is tried again when it is next wanted", name)
            finally:
                with self._changed:
                    self._busy = False
                    self._changed.notify_all()
