"""Row 33 (ASVS 4.2.1): what two servers could read in two ways is refused or read in one.

The service is meant to stand behind a proxy, which must refuse these itself.
"""

import socket
from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest

from tests.api.pools import Pool
from tests.api.real_server import served

BOTH = (
    b"POST /healthz HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
    b"Content-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n"
    b"0\r\n\r\nGET /readyz HTTP/1.1\r\nHost: x\r\n\r\n"
)
POST = b"POST /v1/ask HTTP/1.1\r\nHost: x\r\n"
BAD = {
    "two lengths": POST + b"Content-Length: 4\r\nContent-Length: 9\r\n\r\nabcd",
    "a length below nothing": POST + b"Content-Length: -4\r\n\r\nabcd",
    "a length that is none": POST + b"Content-Length: 4x\r\n\r\nabcd",
    "a coding nobody knows": POST + b"Transfer-Encoding: xchunked\r\n\r\n0\r\n\r\n",
    "a space before the colon": b"GET /healthz HTTP/1.1\r\nHost: x\r\nA : b\r\n\r\n",
    "NUL in a header": b"GET /healthz HTTP/1.1\r\nHost: x\r\nA: b\x00c\r\n\r\n",
    "no host": b"GET /healthz HTTP/1.1\r\n\r\n",
}


@pytest.fixture(scope="module")
def address(pool: Pool) -> Iterator[tuple[str, int]]:
    with served(pool.app) as url:
        parts = urlsplit(url)
        yield str(parts.hostname), int(parts.port or 0)


def said(address: tuple[str, int], sent: bytes) -> bytes:
    with socket.create_connection(address, timeout=5) as line:
        line.sendall(sent)
        line.shutdown(socket.SHUT_WR)
        told = b""
        while piece := line.recv(65_536):
            told += piece
    return told


@pytest.mark.parametrize("name", BAD)
def test_it_is_refused(address: tuple[str, int], name: str) -> None:
    told = said(address, BAD[name])
    assert told.startswith(b"HTTP/1.1 400") or told == b""


def test_a_body_with_two_lengths_is_never_two_answers_with_200(
    address: tuple[str, int],
) -> None:
    # uvicorn's parser heeds the chunks and not the length (RFC 9112 section 6.3); what follows
    # is then a request of its own, which is why a proxy must not let it through.
    told = said(address, BOTH)
    assert told.count(b"HTTP/1.1 405") == 1
