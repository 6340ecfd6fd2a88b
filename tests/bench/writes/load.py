"""The load: a process of its own that sends ready requests over a few sockets."""

import multiprocessing
import os
import socket
import threading
import time
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

_GIVEN_UP_S = 120
_STILL_MS = 20
"""A server that waits for requests looks around a little; the clock has steps of ten."""


@dataclass(frozen=True, slots=True)
class Load:
    """What came of a load. `times` in milliseconds, each request's."""

    times: list[float]
    seconds: float
    refused: int

    @property
    def a_second(self) -> float:
        """How many were kept a second."""
        return (len(self.times) - self.refused) / self.seconds

    def at(self, share: float) -> float:
        """Return the time that this share of the requests did not exceed."""
        ordered = sorted(self.times)
        return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def put_request(path: str, token: str, body: bytes) -> bytes:
    """Return a PUT as it goes over the wire."""
    head = (
        f"PUT {path} HTTP/1.1\r\nHost: bench\r\nAuthorization: Bearer {token}\r\n"
        f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n"
    )
    return head.encode() + body


def send(port: int, requests: Sequence[bytes], writers: int) -> Load:
    """Send the requests from another process, over as many sockets as there are writers."""
    context = multiprocessing.get_context("fork")
    mine, theirs = context.Pipe()
    process = context.Process(target=_send, args=(theirs, port, requests, writers))
    process.start()
    assert mine.poll(_GIVEN_UP_S), "the load did not end"
    load: Load = mine.recv()
    process.join()
    return load


def cpu_ms(process: int) -> float:
    """Return the milliseconds of processor that a process and its children have used."""
    stats = []
    for folder in Path("/proc").iterdir():
        if folder.name.isdigit():
            with suppress(OSError):
                stats.append((folder.name, (folder / "stat").read_text().rpartition(") ")[2]))
    family, ticks = {str(process)}, 0
    for number, stat in sorted(stats, key=lambda one: int(one[0])):
        fields = stat.split()
        if number in family or fields[1] in family:
            family.add(number)
            ticks += int(fields[11]) + int(fields[12])
    return ticks * 1000 / os.sysconf("SC_CLK_TCK")


def idle(process: int, still_s: float = 1.0, most_s: float = 20.0) -> None:
    """Wait until a process does nothing: what it put off is its own cost, and nobody else's."""
    until = time.monotonic() + most_s
    used = cpu_ms(process)
    while time.monotonic() < until:
        time.sleep(still_s)
        before, used = used, cpu_ms(process)
        if used - before <= _STILL_MS:
            return


def _send(told: object, port: int, requests: Sequence[bytes], writers: int) -> None:
    times: list[float] = []
    refused = [0]

    def work(own: Sequence[bytes]) -> None:
        with socket.create_connection(("127.0.0.1", port)) as line:
            line.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            for request in own:
                started = time.perf_counter()
                line.sendall(request)
                refused[0] += _status(line) not in (200, 201)
                times.append((time.perf_counter() - started) * 1000)

    threads = [
        threading.Thread(target=work, args=(requests[n::writers],)) for n in range(writers)
    ]
    started = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    told.send(Load(times, time.perf_counter() - started, refused[0]))  # type: ignore[attr-defined]


def _status(line: socket.socket) -> int:
    got = b""
    while b"\r\n\r\n" not in got:
        more = line.recv(65536)
        if not more:
            return 0
        got += more
    head, _, body = got.partition(b"\r\n\r\n")
    length = next(
        int(field.partition(b":")[2])
        for field in head.lower().split(b"\r\n")
        if field.startswith(b"content-length:")
    )
    while len(body) < length:
        body += line.recv(65536)
    return int(head.split(b" ", 2)[1])
