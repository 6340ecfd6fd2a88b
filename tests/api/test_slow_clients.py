"""Nobody holds a connection for nothing, and nobody who is only slow is sent away."""

import json
import socket
import time
from collections.abc import Iterator
from contextlib import ExitStack
from statistics import median
from urllib.parse import urlsplit

import httpx
import pytest

from mendpool import connections

from tests.api.pools import Pool
from tests.api.real_server import served


@pytest.fixture
def url(pool: Pool, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """A service that waits half a second where the real one waits thirty."""
    monkeypatch.setattr(connections, "GRACE_S", 0.5)
    with served(pool.app) as address:
        yield address


def connected(url: str) -> socket.socket:
    where = urlsplit(url)
    assert where.hostname
    assert where.port
    return socket.create_connection((where.hostname, where.port), timeout=10)


def all_of(line: socket.socket) -> bytes:
    told = b""
    while piece := line.recv(65_536):
        told += piece
    return told


def test_who_says_nothing_is_left(url: str) -> None:
    with connected(url) as line:
        assert all_of(line) == b""


def asking(pool: Pool, length: int) -> bytes:
    """The head of a member's question."""
    token = pool.headers("alder")["Authorization"]
    return (
        f"POST /v1/ask HTTP/1.1\r\nHost: x\r\nAuthorization: {token}\r\nConnection: close\r\n"
        f"Content-Type: application/json\r\nContent-Length: {length}\r\n\r\n"
    ).encode()


@pytest.mark.parametrize("half", ["head", "body"])
def test_half_a_request_is_a_problem_like_any_other(pool: Pool, url: str, half: str) -> None:
    sent = b"GET /healthz HTTP/1.1\r\nX: " if half == "head" else asking(pool, 900) + b'{"compl'
    with connected(url) as line:
        line.sendall(sent)
        head, _, body = all_of(line).partition(b"\r\n\r\n")
    assert head.startswith(b"HTTP/1.1 408 ")
    assert b"application/problem+json" in head
    assert b"content-security-policy" in head
    assert json.loads(body)["type"] == "/docs#too-slow"


def test_dripping_does_not_help(url: str) -> None:
    began = time.monotonic()
    with connected(url) as line:
        line.sendall(b"GET /healthz HTTP/1.1\r\n")
        line.settimeout(0.05)
        told = b""
        while time.monotonic() - began < 10 and not told:
            line.sendall(b"X: y\r\n")
            try:
                told = line.recv(4096)
            except TimeoutError:
                continue
    assert told.startswith(b"HTTP/1.1 408 ")
    assert time.monotonic() - began < 5


def test_a_slow_line_that_brings_enough_is_waited_for(pool: Pool, url: str) -> None:
    body = json.dumps({"machine": {"fuel": "diesel"}, "complaint": "x" * 2000}).encode()
    with connected(url) as line:
        line.sendall(asking(pool, len(body)))
        for at in range(0, len(body), 200):
            line.sendall(body[at : at + 200])
            time.sleep(0.1)  # more than a second in all, at 2,000 bytes a second
        assert all_of(line).startswith(b"HTTP/1.1 200 ")


def test_a_kept_connection_is_watched_again_from_its_next_request(url: str) -> None:
    with connected(url) as line:
        line.sendall(b"GET /healthz HTTP/1.1\r\nHost: x\r\n\r\n")
        assert line.recv(4096).startswith(b"HTTP/1.1 200 ")
        time.sleep(0.7)  # idle between requests is another timer's, the server's own
        line.sendall(b"GET /healthz HT")
        assert b"HTTP/1.1 408 " in all_of(line)


def test_of_too_many_the_last_is_told_to_come_back(
    url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connections, "MOST", 5)
    with ExitStack() as stack:
        for _ in range(5):
            stack.enter_context(connected(url))
        time.sleep(0.1)
        with connected(url) as line:
            told = all_of(line)
    assert told.startswith(b"HTTP/1.1 503 ")
    assert b"retry-after: 2" in told.lower()


def test_two_hundred_that_drip_do_not_keep_the_next_one_waiting(url: str) -> None:
    with ExitStack() as stack, httpx.Client(base_url=url) as honest:
        for _ in range(200):
            line = stack.enter_context(connected(url))
            line.sendall(b"POST /v1/ask HTTP/1.1\r\nHost: x\r\nContent-Length: 99\r\n\r\n{")
        times = []
        for _ in range(20):
            began = time.monotonic()
            assert honest.get("/healthz").status_code == 200
            times.append(time.monotonic() - began)
    assert median(times) < 0.1


def test_every_answer_to_a_member_says_how_many_more_may_come(pool: Pool) -> None:
    client = pool.client("alder")
    first, second = (client.get("/v1/reports") for _ in range(2))
    assert first.headers["ratelimit-policy"] == '"requests";q=100000;w=60'
    left = [
        int(a.headers["ratelimit"].split(";")[1].removeprefix("r=")) for a in (first, second)
    ]
    assert left[0] == left[1] + 1 < 100_000
    assert "ratelimit" not in client.get("/healthz").headers
