"""A connection that can't be held for nothing: slow clients, half-open ones, too many of them.

The server knows a timer for connections that are idle between requests and none for one that
never finishes what it began. A phone on the worst signal still sends some kilobytes a second;
whoever drips bytes to hold a connection does not.
"""

import asyncio
from http import HTTPStatus

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol, RequestResponseCycle

from mendpool.api.outer import HEADERS
from mendpool.api.problems import KINDS, Kind, problem

GRACE_S = 30.0
"""A request may take so long whatever its size."""

LEAST_RATE = 500
"""Bytes a second that a larger one must come with on average. Common practice: the slowest
telephone data in use (GPRS) brings some thousand."""

MOST = 400
"""Connections at once of one process: under the usual limit of 1,024 open files, with room for
the database. More are told to come back."""


class Connection(H11Protocol):
    """One connection; see the module."""

    _late: asyncio.TimerHandle | None = None
    _began = 0.0
    _came = 0

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Take a connection, or say that there are too many."""
        super().connection_made(transport)
        if len(self.connections) > MOST:
            self._leave(KINDS["try-later"], retry_after=2)
            return
        self._begin()

    def connection_lost(self, exc: Exception | None) -> None:
        """Stop watching."""
        self._end()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Take what came, and watch until the request is whole."""
        if self.transport.is_closing():
            return
        super().data_received(data)
        if self.conn.their_state not in (h11.IDLE, h11.SEND_BODY):
            self._end()
            return
        if self._late is None:
            self._begin()
        self._came += len(data)

    def _begin(self) -> None:
        self._began, self._came = self.loop.time(), 0
        self._late = self.loop.call_later(GRACE_S, self._look)

    def _end(self) -> None:
        if self._late is not None:
            self._late.cancel()
            self._late = None

    def _look(self) -> None:
        """End it if it is too slow, else look again when it would be."""
        left = GRACE_S + self._came / LEAST_RATE - (self.loop.time() - self._began)
        if left > 0 and self._came:
            self._late = self.loop.call_later(left + 0.01, self._look)
            return
        self._late = None
        if not self.transport.is_closing():
            self._leave(KINDS["too-slow"] if self._came else None)

    def _leave(self, kind: Kind | None, retry_after: int | None = None) -> None:
        """Answer where no answer has begun, and close."""
        if kind is not None and not self._answering():
            self.transport.write(_answer(kind, retry_after))
        self.transport.close()

    def _answering(self) -> bool:
        cycle: RequestResponseCycle | None = self.cycle
        return cycle is not None and cycle.response_started and not cycle.response_complete


def _answer(kind: Kind, retry_after: int | None) -> bytes:
    more = {} if retry_after is None else {"Retry-After": str(retry_after)}
    told = problem(kind, headers={**more, "Connection": "close"})
    status = HTTPStatus(kind.status)
    lines = [f"HTTP/1.1 {status.value} {status.phrase}".encode()]
    lines += [name + b": " + value for name, value in (*told.raw_headers, *HEADERS)]
    return b"\r\n".join([*lines, b"", bytes(told.body)])
