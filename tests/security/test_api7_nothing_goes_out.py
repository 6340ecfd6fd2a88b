"""Row 12 (API7, ASVS 1.3.6): the service fetches nothing, whatever an address it is handed."""

import socket
from typing import Any

import pytest

from tests.api.pools import Pool
from tests.factories import make_id, make_report
from tests.house.tree import TOP, python_files

ADDRESSES = ("http://127.0.0.1:9/x", "//localhost/x", "file:///etc/passwd", "gopher://x")
CLIENTS = ("httpx", "urllib.request", "requests", "aiohttp", "http.client", "ftplib", "smtplib")


def test_an_address_in_a_report_is_only_text(
    pool: Pool, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[Any] = []
    monkeypatch.setattr(socket.socket, "connect", lambda _, to: opened.append(to))
    monkeypatch.setattr(socket, "getaddrinfo", lambda *a, **_: opened.append(a))
    for address in ADDRESSES:
        body = make_report(note=address, region=address[:60], complaint=f"see {address}")
        pool.client("alder").put(f"/v1/reports/{make_id()}", json=body)
        pool.client("alder").post("/v1/ask", json={"complaint": f"no power {address}"})
        pool.client("alder").get("/v1/reports", params={"q": address})
    # What PostgreSQL is spoken to through is its library's own socket, not Python's.
    assert opened == []


def test_no_module_of_the_service_could_fetch() -> None:
    for path in python_files("service/"):
        if "demo" in path.parts:
            continue  # a client by design
        source = path.read_text("utf-8")
        for client in CLIENTS:
            assert f"import {client}" not in source, path.relative_to(TOP)
            assert f"from {client} " not in source, path.relative_to(TOP)
