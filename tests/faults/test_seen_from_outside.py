"""What a served pool tells its operator: every request, and not a word of anybody's."""

import http.client
import json
import signal
import socket
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.factories import make_id, make_report
from tests.faults.real_pool import POOL, RealPool

pytestmark = pytest.mark.slow
"""Every command here is a process of its own."""

CANARY = "quillfeather"
"""Stands in everything that is sent; no word of the trade, of the code or of HTTP."""


class Watched(RealPool):
    """A pool whose words and measures are kept."""

    said: Path
    metrics: int
    more: dict[str, str]

    @property
    def environment(self) -> dict[str, str]:
        return {**super().environment, **getattr(self, "more", {})}

    @contextmanager
    def served(self, *arguments: str) -> Iterator["subprocess.Popen[bytes]"]:
        with (
            self.said.open("wb") as said,
            subprocess.Popen(
                [*POOL, "serve", "--port", str(self.port), *arguments],
                env=self.environment,
                stdout=said,
                stderr=subprocess.STDOUT,
            ) as process,
        ):
            try:
                self._wait(process)
                yield process
            finally:
                process.send_signal(signal.SIGTERM)
                process.wait(30)

    def _wait(self, process: "subprocess.Popen[bytes]") -> None:
        until = time.monotonic() + 60
        while time.monotonic() < until:
            assert process.poll() is None, self.said.read_text()
            try:
                if httpx.get(f"{self.url}/readyz").status_code == 200:
                    return
            except httpx.TransportError:
                time.sleep(0.05)
        raise AssertionError("not ready within a minute")

    def lines(self) -> list[dict[str, Any]]:
        """Return what it wrote; every line is one JSON object."""
        return [json.loads(line) for line in self.said.read_text().splitlines()]


@pytest.fixture
def watched(tmp_path: Path) -> Watched:
    pool = Watched(tmp_path, tmp_path / "cache")
    pool.said = tmp_path / "said"
    with socket.create_server(("127.0.0.1", 0)) as free:
        pool.metrics = free.getsockname()[1]
    pool.more = {"MENDPOOL_METRICS_PORT": str(pool.metrics)}
    return pool


def canary_report() -> dict[str, Any]:
    """A report whose every free text holds the canary."""
    report = make_report(complaint=f"{CANARY} dead at the outlet", note=f"{CANARY} note")
    report["machine"] |= {"make": f"{CANARY} make", "model": f"{CANARY} 5"}
    return {**report, "region": f"{CANARY} valley"}


def everything_that_can_be_sent(pool: Watched, token: str) -> None:
    headers = {"Authorization": f"Bearer {token}", f"X-{CANARY}": CANARY, "Cookie": CANARY}
    report, followup = make_id(), make_id()
    with httpx.Client(base_url=pool.url, headers=headers) as client:
        route = f"/v1/reports/{report}"
        assert client.put(route, json=canary_report()).status_code == 201
        seen = {"happened": "2026-11", "state": "holding", "note": CANARY}
        assert client.put(f"{route}/followups/{followup}", json=seen).status_code == 201
        assert client.post("/v1/ask", json={"complaint": CANARY}).status_code == 200
        reading = {"machine": {"fuel": "diesel"}, "readings": [{"said": f"{CANARY} 4 V"}]}
        client.post("/v1/readings/judge", json=reading)
        client.get("/v1/reports", params={"q": CANARY, CANARY: CANARY, "cursor": CANARY})
        client.get(f"/v1/{CANARY}")
        client.put(route, content=f'{{"{CANARY}"'.encode())
        client.put(route, content=CANARY.encode() * 40_000)
        client.request(CANARY.upper(), "/v1/reports")
        client.get("/v1/reports", headers={"Authorization": f"Bearer {CANARY}{token}"})
        client.delete(route)
    # What is no HTTP at all.
    with socket.create_connection(("127.0.0.1", pool.port)) as raw:
        raw.sendall(f"{CANARY} {CANARY}\r\n\r\n".encode())
        raw.recv(1000)


def test_logs_and_metrics_hold_no_word_of_anybodys_text_or_token(watched: Watched) -> None:
    token = watched.member("alder")
    with watched.served():
        everything_that_can_be_sent(watched, token)
        # An error nobody foresaw, its driver's words full of what was sent.
        _break(watched.folder / "pool.db")
        answer = httpx.put(
            f"{watched.url}/v1/reports/{make_id()}",
            json=canary_report(),
            headers={"Authorization": f"Bearer {token}"},
        )
        assert answer.status_code == 500
        request_id = answer.headers["x-request-id"]
        measured = httpx.get(f"http://127.0.0.1:{watched.metrics}/metrics").text
    said = watched.said.read_text()
    for told in (said, measured):
        assert CANARY not in told.lower()
        assert token not in told
        assert token[:12] not in told
    lines = watched.lines()
    failed = [line for line in lines if "error" in line]
    assert failed
    assert failed[0]["where"]
    assert failed[0]["request"] == request_id
    asked = [line for line in lines if "route" in line]
    assert {"/v1/reports/{report_id}", "/v1/ask", "unknown"} <= {
        line["route"] for line in asked
    }
    assert len({line["request"] for line in asked}) == len(asked)
    assert {"PUT", "GET", "DELETE", "unknown"} <= {line["method"] for line in asked}
    counted = (
        'mendpool_requests_total{method="PUT",route="/v1/reports/{report_id}",status="201"}'
    )
    assert f"{counted} 1.0" in measured


def _break(file: Path) -> None:
    """Let every report be refused by a rule that no code of ours knows."""
    from mendpool.store.engine import make_engine, rebuilding  # noqa: PLC0415

    engine = make_engine(f"sqlite:///{file}")
    with rebuilding(engine) as connection:
        connection.exec_driver_sql(
            "CREATE TRIGGER no BEFORE INSERT ON report BEGIN SELECT RAISE(ABORT, 'no'); END"
        )


def test_metrics_are_not_on_the_public_port(watched: Watched) -> None:
    watched.more = {}
    with watched.served():
        assert httpx.get(f"{watched.url}/metrics").status_code == 404
        with pytest.raises(httpx.ConnectError):
            httpx.get(f"http://127.0.0.1:{watched.metrics}/metrics")


@pytest.mark.slow
def test_the_counts_of_two_workers_are_added_up(watched: Watched) -> None:
    with watched.served("--workers", "2"):
        for _ in range(40):
            httpx.get(f"{watched.url}/healthz")
        measured = httpx.get(f"http://127.0.0.1:{watched.metrics}/metrics").text
    told = 'mendpool_requests_total{method="GET",route="/healthz",status="200"} 40.0'
    assert told in measured


def test_a_stop_lets_what_has_begun_end(watched: Watched) -> None:
    """A request whose body is half sent when the stop comes is answered, and kept."""
    token = watched.member("alder")
    body = json.dumps(make_report()).encode()
    route = f"/v1/reports/{make_id()}"
    with watched.served() as process:
        line = http.client.HTTPConnection("127.0.0.1", watched.port, timeout=20)
        line.putrequest("PUT", route)
        for name, value in (
            ("Authorization", f"Bearer {token}"),
            ("Content-Type", "application/json"),
            ("Content-Length", str(len(body))),
        ):
            line.putheader(name, value)
        line.endheaders(body[:20])
        time.sleep(0.2)
        process.send_signal(signal.SIGTERM)
        time.sleep(0.3)
        line.send(body[20:])
        assert line.getresponse().status == 201
        line.close()
        began = time.monotonic()
        assert process.wait(20) == 0
        assert time.monotonic() - began < 10
    with watched.served():
        answer = httpx.get(
            f"{watched.url}{route}", headers={"Authorization": f"Bearer {token}"}
        )
        assert answer.status_code == 200
