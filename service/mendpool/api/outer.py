"""The outermost layer, plain ASGI: bounds the body, answers what nobody caught, sets headers.

It stands outside everything, so that a 413 and a 500 are problems like any other and the
connection lives on.
"""

import logging
import re
from collections.abc import MutableMapping, Sequence
from typing import Any

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from mendpool.api.problems import KINDS, Refusal, problem

_log = logging.getLogger("mendpool")

_POLICY = (
    # A photograph is asked for with the page's token and then shown from the phone itself.
    b"default-src 'self'; img-src 'self' blob:; base-uri 'none'; object-src 'none'; "
    b"form-action 'self'; frame-ancestors 'none'"
)
HEADERS = (
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"content-security-policy", _POLICY),
    # No page of another origin embeds an answer, nor keeps a hand on a window of ours.
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cache-control", b"no-store"),
)


_MORE = "mendpool.headers"


def say_more(scope: MutableMapping[str, Any], *headers: tuple[str, str]) -> None:
    """Have the answer of this request carry these headers too, whatever it will be."""
    scope.get(_MORE, []).extend((name.encode(), value.encode()) for name, value in headers)


class Outer:
    """Wraps the app."""

    def __init__(
        self, app: ASGIApp, body_max: int, larger: Sequence[tuple[re.Pattern[str], int]] = ()
    ) -> None:
        """Take the app, the largest body in bytes, and the addresses that have another."""
        self._app = app
        self._body_max = body_max
        self._larger = larger

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        if scope["method"] == "HEAD":
            # Every GET answers HEAD; the server itself leaves the body out.
            scope = {**scope, "method": "GET"}
        scope = {**scope, _MORE: []}
        sending = _Sending(send, scope[_MORE])
        try:
            await self._within_bounds(scope, receive, sending)
        except Exception:
            # Only the kind of error is logged with its stack: no body, no token.
            _log.exception("unhandled error on %s", scope["method"])
            if not sending.started:
                await problem(KINDS["our-fault"])(scope, receive, sending)
            elif not sending.ended:
                # Half an answer is out: only a cut connection tells the client so.
                raise

    async def _within_bounds(self, scope: Scope, receive: Receive, send: Send) -> None:
        most = self._most(scope)
        declared = next((v for n, v in scope["headers"] if n == b"content-length"), b"0")
        if declared.isdigit() and int(declared) > most:
            await _drain(receive, most * 4)
            await problem(KINDS["too-large"], _at_most(most))(scope, receive, send)
            return
        await self._app(scope, _bounded(receive, most), send)

    def _most(self, scope: Scope) -> int:
        for address, most in self._larger:
            if address.fullmatch(scope["path"]):
                return most
        return self._body_max


class _Sending:
    """Sends on, adds the headers every response has, and knows how far it got."""

    def __init__(self, send: Send, more: Sequence[tuple[bytes, bytes]]) -> None:
        self._send = send
        self._more = more
        self.started = self.ended = False

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.started = True
            present = {name.lower() for name, _ in message["headers"]}
            more = [h for h in (*HEADERS, *self._more) if h[0] not in present]
            message = {**message, "headers": [*message["headers"], *more]}
        await self._send(message)
        if message["type"] == "http.response.body":
            self.ended = not message.get("more_body", False)


def _at_most(most: int) -> str:
    size = f"{most // 1024**2} MiB" if most >= 1024**2 else f"{most // 1024} KiB"
    return f"A body is at most {size}."


def _bounded(receive: Receive, body_max: int) -> Receive:
    read = 0

    async def receiving() -> Message:
        nonlocal read
        message = await receive()
        read += len(message.get("body", b""))
        if read > body_max:
            if message.get("more_body"):
                await _drain(receive, body_max * 4)
            raise Refusal("too-large", _at_most(body_max))
        return message

    return receiving


async def _drain(receive: Receive, most: int) -> None:
    """Read on to the end of a body that is a little too large.

    The client is still sending; without this it gets a reset instead of the answer.
    """
    read = 0
    while read < most:
        message = await receive()
        read += len(message.get("body", b""))
        if message["type"] != "http.request" or not message.get("more_body"):
            return
