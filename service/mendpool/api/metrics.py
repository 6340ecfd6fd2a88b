"""Counts for Prometheus, by the route's template. Imported only where they are wanted.

With several processes `PROMETHEUS_MULTIPROC_DIR` has to be set before this is imported: each
writes its counts there, and whoever is asked adds them up.
"""

import os
from collections.abc import Callable

from prometheus_client import (
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    start_http_server,
)
from prometheus_client.multiprocess import MultiProcessCollector

from mendpool.api.seen import Request
from mendpool.core.errors import MendpoolError

SHARED = "PROMETHEUS_MULTIPROC_DIR"
_SECONDS = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10)


class Metrics:
    """What is counted in this process."""

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        self._requests = Counter(
            "mendpool_requests",
            "Requests answered",
            ("method", "route", "status"),
            registry=self.registry,
        )
        self._seconds = Histogram(
            "mendpool_request_seconds",
            "Time from a request's head to the end of its answer",
            ("method", "route"),
            buckets=_SECONDS,
            registry=self.registry,
        )
        self._lag = Gauge(
            "mendpool_index_lag",
            "Changes of the feed that the index of a process has not read",
            registry=self.registry,
            multiprocess_mode="mostrecent",
        )

    def note(self, request: Request) -> None:
        """Count a request."""
        self._requests.labels(request.method, request.route, str(request.status)).inc()
        self._seconds.labels(request.method, request.route).observe(request.seconds)

    def lag(self, changes: int) -> None:
        """Note how far the index is behind."""
        self._lag.set(changes)


def give_out(port: int, registry: CollectorRegistry | None) -> Callable[[], None]:
    """Answer Prometheus on loopback at a port of its own, until what is returned is called.

    Args:
        registry: of this process; None adds up what all of them wrote.

    Raises:
        MendpoolError: the port can't be had.
    """
    if registry is None:
        registry = CollectorRegistry()
        MultiProcessCollector(registry, os.environ[SHARED])  # type: ignore[no-untyped-call]
    try:
        server, thread = start_http_server(port, "127.0.0.1", registry)
    except OSError as error:
        raise MendpoolError(f"Port {port} for the metrics can't be had.") from error

    def stop() -> None:
        server.shutdown()
        server.server_close()
        thread.join()

    return stop
