"""A line that passes so many bytes of packed feeds, and then does something to the client."""

import socket
import threading
from collections import deque
from collections.abc import Callable
from typing import Self

_BUFFER = 4096


class CutLine:
    """Listens on a loopback port and passes connections to the service's.

    Args:
        service_port: where the service listens.
    """

    def __init__(self, service_port: int) -> None:
        self._to = service_port
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._cuts: deque[int] = deque()
        self._left: int | None = None
        self._then: Callable[[], None] = lambda: None
        self.passed = 0
        threading.Thread(target=self._listen, daemon=True).start()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._listener.close()

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self._listener.getsockname()[1]}"

    def cut_after(self, *counts: int, then: Callable[[], None] = lambda: None) -> None:
        """Pass so many bytes of a packed feed's body, do something, and close; and again."""
        self._cuts = deque(counts)
        self._left, self._then = self._cuts.popleft(), then

    def _listen(self) -> None:
        while True:
            try:
                client, _ = self._listener.accept()
            except OSError:
                return
            threading.Thread(target=self._serve, args=(client,), daemon=True).start()

    def _serve(self, client: socket.socket) -> None:
        with client, socket.create_connection(("127.0.0.1", self._to), timeout=20) as service:
            client.settimeout(20)
            try:
                while request := _head(client):
                    packed = b"/v1/snapshot/feed-" in request.split(b"\r\n")[0]
                    service.sendall(request)
                    if not self._answer(client, service, packed=packed):
                        return
            except OSError:
                return

    def _answer(self, client: socket.socket, service: socket.socket, *, packed: bool) -> bool:
        """Pass one answer on; tell whether the connection goes on."""
        head = _head(service)
        client.sendall(head)
        length = next(
            int(line.split(b":")[1])
            for line in head.split(b"\r\n")
            if line.lower().startswith(b"content-length:")
        )
        while length:
            piece = service.recv(min(_BUFFER, length))
            length -= len(piece)
            if packed and self._left is not None and len(piece) >= self._left:
                client.sendall(piece[: self._left])
                self.passed += self._left
                self._left = self._cuts.popleft() if self._cuts else None
                self._then()
                return False
            client.sendall(piece)
            if packed:
                self.passed += len(piece)
                self._left = None if self._left is None else self._left - len(piece)
        return True


def _head(peer: socket.socket) -> bytes:
    held = b""
    while b"\r\n\r\n" not in held:
        piece = peer.recv(1)
        if not piece:
            return b""
        held += piece
    return held
