"""The application behind a real uvicorn on loopback, for what only a socket shows."""

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

import uvicorn
from starlette.types import ASGIApp

from mendpool.connections import Connection


@contextmanager
def served(app: ASGIApp) -> Iterator[str]:
    """Serve an application in a thread; gives its address."""
    config = uvicorn.Config(
        app,
        port=0,
        log_level="critical",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        http=Connection,
        lifespan="off",
        ws="none",
        timeout_graceful_shutdown=2,
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        until = time.monotonic() + 10
        while not server.started:
            assert time.monotonic() < until, "the server did not start"
            time.sleep(0.01)
        yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
    finally:
        server.should_exit = True
        thread.join(10)
