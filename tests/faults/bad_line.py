"""A line between a client and a service that does what bad lines do, one connection at a time.

A proxy of the tests' own: it reads one request whole, sends it on or not, and gives the answer
back whole, in part, twice, late, changed for another, or not at all.
"""

import socket
import struct
import threading
import time
from collections import Counter, deque
from collections.abc import Callable
from typing import Self

_BUFFER = 65536
_PORTAL = b"<!doctype html><title>Welcome</title><form>Sign in to the guest network</form>"
_LATE_S = 0.05


def _answer(status: str, kind: str, body: bytes, *more: str) -> bytes:
    heads = [
        f"HTTP/1.1 {status}",
        f"Content-Type: {kind}",
        f"Content-Length: {len(body)}",
        *more,
    ]
    return "\r\n".join([*heads, "Connection: close", "", ""]).encode() + body


ANSWERS = {
    "500": _answer("500 Internal Server Error", "text/plain", b"oops"),
    "503": _answer("503 Service Unavailable", "text/plain", b"", "Retry-After: 0"),
    "429": _answer(
        "429 Too Many Requests", "application/problem+json", b"{}", "Retry-After: 0"
    ),
    "408": _answer("408 Request Timeout", "text/plain", b""),
    "portal": _answer("200 OK", "text/html; charset=utf-8", _PORTAL),
    "portal that sends elsewhere": _answer(
        "302 Found", "text/html", b"", "Location: http://127.0.0.1:9/sign-in"
    ),
}
"""What something else answers in the service's place; the service never sees the request."""

LINES = (
    "no connection", "request lost", "request cut", "answer lost", "answer reset",
    "answer cut", "answer half closed", "sent twice", "late",
)  # fmt: skip
FAULTS = (*LINES, *ANSWERS)


class BadLine:
    """Listens on a loopback port and passes connections to the service's.

    Args:
        service_port: where the service listens.
    """

    def __init__(self, service_port: int) -> None:
        self._to = service_port
        self._faults: deque[str] = deque()
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.done: Counter[str] = Counter()
        self._thread = threading.Thread(target=self._listen, daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._listener.close()

    @property
    def url(self) -> str:
        """The address a client is given."""
        return f"http://127.0.0.1:{self._listener.getsockname()[1]}"

    def next_do(self, fault: str) -> None:
        """Do this to the next connection that has nothing to suffer yet."""
        self._faults.append(fault)

    def heal(self) -> None:
        """Pass everything from now on."""
        self._faults.clear()

    def _listen(self) -> None:
        while True:
            try:
                client, _ = self._listener.accept()
            except OSError:
                return
            fault = self._faults.popleft() if self._faults else ""
            threading.Thread(target=self._serve, args=(client, fault), daemon=True).start()

    def _serve(self, client: socket.socket, fault: str) -> None:
        with client:
            client.settimeout(20)
            try:
                self._pass(client, fault)
            except OSError:
                return

    def _pass(self, client: socket.socket, fault: str) -> None:
        if fault:
            self.done[fault] += 1
        if fault == "no connection":
            _reset(client)
            return
        request = _request(client)
        if not request or fault == "request lost":
            return
        if fault in ANSWERS:
            client.sendall(ANSWERS[fault])
            return
        if fault == "request cut":
            self._send_on(request[: len(request) // 2], wait=False)
            return
        answer = self._send_on(request)
        if fault == "sent twice":
            answer = self._send_on(request) or answer
        _ENDINGS.get(fault, socket.socket.sendall)(client, answer)

    def _send_on(self, request: bytes, *, wait: bool = True) -> bytes:
        with socket.create_connection(("127.0.0.1", self._to), timeout=20) as service:
            service.sendall(request)
            if not wait:
                return b""
            answer = b""
            while piece := service.recv(_BUFFER):
                answer += piece
            return answer


def _request(client: socket.socket) -> bytes:
    """Read one request whole and ask that the connection be closed after it."""
    held = b""
    while b"\r\n\r\n" not in held:
        piece = client.recv(_BUFFER)
        if not piece:
            return b""
        held += piece
    head, _, body = held.partition(b"\r\n\r\n")
    lines = [
        line for line in head.split(b"\r\n") if not line.lower().startswith(b"connection:")
    ]
    lengths = [line for line in lines if line.lower().startswith(b"content-length:")]
    length = int(lengths[0].split(b":")[1]) if lengths else 0
    while len(body) < length:
        piece = client.recv(_BUFFER)
        if not piece:
            return b""
        body += piece
    return b"\r\n".join([*lines, b"Connection: close", b"", b""]) + body


def _reset(client: socket.socket) -> None:
    """End with a reset rather than a close, as a line does that is torn."""
    client.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    client.close()


def _lost(client: socket.socket, answer: bytes) -> None:
    del client, answer


def _torn(client: socket.socket, answer: bytes) -> None:
    del answer
    _reset(client)


def _cut(client: socket.socket, answer: bytes) -> None:
    client.sendall(answer[: len(answer) * 2 // 3])


def _half_closed(client: socket.socket, answer: bytes) -> None:
    client.sendall(answer[: len(answer) // 3])
    client.shutdown(socket.SHUT_WR)
    time.sleep(_LATE_S)


def _late(client: socket.socket, answer: bytes) -> None:
    time.sleep(_LATE_S)
    client.sendall(answer)


_ENDINGS: dict[str, Callable[[socket.socket, bytes], None]] = {
    "answer lost": _lost,
    "answer reset": _torn,
    "answer cut": _cut,
    "answer half closed": _half_closed,
    "late": _late,
}
