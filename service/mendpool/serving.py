"""Runs the service: one process, or several that share one port.

Several: this process opens the socket and watches, the workers answer. A worker that dies is
started again; a stop reaches all of them, and each finishes what it has begun. What they
must agree on goes through the database and the index's folder (see `store` and `usecases`),
so nothing here depends on which of them a request meets.
"""

import logging
import logging.config
import multiprocessing
import os
import signal
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import uvicorn
from starlette.types import ASGIApp
from uvicorn.supervisors import Multiprocess

from mendpool.connections import Connection
from mendpool.core.errors import MendpoolError
from mendpool.logs import configuration
from mendpool.main import create_app
from mendpool.settings import Settings

_log = logging.getLogger("uvicorn.error")
_SILENT_S = 20
"""A worker that answers nothing for so long is stuck; long work in it lets go of the
interpreter within seconds. Where one dies while it is being asked, so long passes before it is
started again; the others answer meanwhile."""
_SWITCH_S = 0.002
"""How long a thread that computes keeps the interpreter while others want it. With Python's
own five milliseconds a write that waits ten times for it takes fifty while a fit is made; with
half a millisecond eight writers take turns so often that an eighth of their rate is lost."""
_AGAIN_S = 2


def serve(settings: Settings, host: str, port: int, workers: int) -> bool:
    """Serve until stopped; tell whether it ever began, for the port may be taken."""
    sys.setswitchinterval(_SWITCH_S)
    # Before the pool is opened: to make the index of a large one takes long, and is told.
    logging.config.dictConfig(configuration())
    if workers > 1:
        with _counts_added_up(settings.metrics_port):
            return _serve_with(settings, host, port, workers)
    server = uvicorn.Server(_config(create_app(settings), settings, host, port))
    signal.signal(signal.SIGTERM, _leave)
    try:
        server.run()
    except SystemExit as stopped:
        if server.started or not stopped.code:
            raise
    return server.started


def worker_app() -> ASGIApp:
    """Return the application of one worker, which ends when the one that watches is gone."""
    sys.setswitchinterval(_SWITCH_S)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_after, args=(parent,), daemon=True).start()
    try:
        return create_app(Settings())
    except MendpoolError as error:
        # The watcher looked at the database before, so it will be back: start again then.
        _log.error("a worker can't begin: %s", error)
        time.sleep(_AGAIN_S)
        sys.exit(1)


@contextmanager
def _counts_added_up(port: int | None) -> Iterator[None]:
    """Answer Prometheus for all workers, if it is wanted."""
    if port is None:
        yield
        return
    with tempfile.TemporaryDirectory(prefix="mendpool-counts-") as folder:
        # Read when Prometheus' own package is imported, here and in the workers.
        os.environ["PROMETHEUS_MULTIPROC_DIR"] = folder
        from mendpool.api.metrics import give_out  # noqa: PLC0415 - after the line above

        stop = give_out(port, None)
        try:
            yield
        finally:
            stop()
            del os.environ["PROMETHEUS_MULTIPROC_DIR"]


def _serve_with(settings: Settings, host: str, port: int, workers: int) -> bool:
    config = _config(
        "mendpool.serving:worker_app",
        settings,
        host,
        port,
        factory=True,
        workers=workers,
        timeout_worker_healthcheck=_SILENT_S,
    )
    try:
        socket = config.bind_socket()
    except SystemExit:
        return False
    with socket:
        Multiprocess(config, sockets=[socket]).run()
    return True


def _config(
    app: ASGIApp | str,
    settings: Settings,
    host: str,
    port: int,
    **more: Any,  # noqa: ANN401 - uvicorn's own
) -> uvicorn.Config:
    return _Config(
        app,
        host=host,
        port=port,
        timeout_graceful_shutdown=settings.stop_after_s,
        log_config=None,
        log_level="info",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        http=Connection,
        **more,
    )


class _Config(uvicorn.Config):
    def configure_logging(self) -> None:
        """Set logging up; uvicorn does so first of all in a worker, before it has signals."""
        logging.config.dictConfig(configuration())
        super().configure_logging()
        if multiprocessing.parent_process() is not None:
            signal.signal(signal.SIGTERM, _leave)


def _leave(*_: object) -> None:
    # Uvicorn stops in good order and then raises the signal once more: what is done apart
    # is ended too, and a process that makes a fit is not left behind.
    sys.exit(0)


def _end_after(parent: "multiprocessing.process.BaseProcess") -> None:
    parent.join()
    os.kill(os.getpid(), signal.SIGTERM)
