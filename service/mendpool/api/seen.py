"""What an operator sees of each request from outside: a line and a measure, never a word of it.

A request gets an id, which goes back as `X-Request-ID` and stands in every log line about it.
Noted are the method, the route's template, the status, bytes sent and the time; not the
address, the query, a header or the body, for any of them may hold a name or a token.
"""

import re
from collections.abc import Callable, Sequence
from contextvars import ContextVar
from typing import NamedTuple

from fastapi import FastAPI
from fastapi.routing import iter_route_contexts
from starlette.types import ASGIApp, Message, Receive, Scope, Send

REQUEST_ID: ContextVar[str | None] = ContextVar("mendpool_request_id", default=None)
"""Of the request under way in this thread or task."""
UNKNOWN = "unknown"
"""The template of an address that no route answers, and the method of no route."""
_METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS", "PATCH"})
_NAMED_PART = re.compile(r"(\{[^}]*\})")
_REST = ":path}"  # a part that runs to the end


class Request(NamedTuple):
    """One request that was answered; status 0 where the connection was cut instead."""

    id: str
    method: str
    route: str
    status: int
    sent: int
    seconds: float


Note = Callable[[Request], None]


class Watch(NamedTuple):
    """Who wants to know of each request, what gives ids, and a clock in seconds."""

    notes: Sequence[Note]
    new_id: Callable[[], str]
    clock: Callable[[], float]


class Seen:
    """The layer outside all others, plain ASGI."""

    def __init__(self, app: ASGIApp, templates: "Templates", watch: Watch) -> None:
        """Take the app, what names its routes, and who watches."""
        self._app = app
        self._templates = templates
        self._notes, self._new_id, self._clock = watch

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request and note it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        began, request_id = self._clock(), self._new_id()
        held = REQUEST_ID.set(request_id)
        status = sent = 0

        async def sending(message: Message) -> None:
            nonlocal status, sent
            if message["type"] == "http.response.start":
                status = message["status"]
                name = (b"x-request-id", request_id.encode())
                message = {**message, "headers": [*message["headers"], name]}
            sent += len(message.get("body", b""))
            await send(message)

        try:
            await self._app(scope, receive, sending)
        finally:
            method = scope["method"] if scope["method"] in _METHODS else UNKNOWN
            route = self._templates.of(scope["path"])
            taken = self._clock() - began
            for note in self._notes:
                note(Request(request_id, method, route, status, sent, taken))
            REQUEST_ID.reset(held)


class Templates:
    """Names the route that an address belongs to, without the ids in it."""

    def __init__(self, app: FastAPI) -> None:
        paths = {c.path for c in iter_route_contexts(app.routes) if c.path}
        self._plain = frozenset(path for path in paths if "{" not in path)
        self._named = [
            (re.compile("".join(map(_like, _NAMED_PART.split(path)))), path)
            for path in sorted(paths - self._plain)
        ]

    def of(self, path: str) -> str:
        """Return the template; `UNKNOWN` for an address that none has."""
        if path in self._plain:
            return path
        return next((name for like, name in self._named if like.fullmatch(path)), UNKNOWN)


def _like(part: str) -> str:
    if not part.startswith("{"):
        return re.escape(part)
    return ".+" if part.endswith(_REST) else "[^/]+"
