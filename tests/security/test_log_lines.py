"""Rows 28, 29 (ASVS 16.4.1, 16.2.5, 14.2.4): nobody's words and no token are in a log."""

import logging
from urllib.parse import quote

import pytest

from mendpool.usecases import ask as asking

from tests.api.pools import Pool
from tests.factories import make_id, make_report

CANARY = "Quibbleworth7391"
FORGED = f"x\r\nERROR {CANARY}\x1b[31m"


def test_a_forged_line_reaches_no_log(
    pool: Pool, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    caplog.set_level(logging.DEBUG)
    client = pool.client("alder")
    for value in (FORGED, CANARY):
        words = quote(value)
        client.get(f"/v1/reports?q={words}")
        client.get(f"/v1/reports/{words}")
        client.get(f"/{words}")
        client.get(f"/v1/reports?{words}=1")
        body = make_report(note=value, complaint=f"no power {value}", region=value[:60])
        client.put(f"/v1/reports/{make_id()}", json=body)
        client.post("/v1/ask", json={"complaint": value})
        client.post("/v1/ask", content=value.encode(), headers={"Content-Type": "text/plain"})
        client.post("/v1/join", json={"code": value})
        client.get("/v1/reports", headers={"Authorization": f"Bearer {CANARY}"})
        client.get("/v1/reports", headers={"User-Agent": CANARY, "X-Request-Id": CANARY})

    def fail(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(asking, "ask", fail)
    assert client.post("/v1/ask", json={"complaint": f"no power {CANARY}"}).status_code == 500
    # What the tests' own client tells of the addresses it asked for is no log of ours.
    ours = [
        r
        for r in caplog.records
        if r.name.split(".")[0] in ("mendpool", "uvicorn", "sqlalchemy")
    ]
    assert [r for r in ours if r.name == "mendpool"], "the error was logged"
    told = "\n".join(f"{r.getMessage()} {r.exc_text or ''}" for r in ours)
    assert CANARY not in told
    assert pool.members["alder"].token not in told
    assert all("\n" not in r.getMessage() and "\r" not in r.getMessage() for r in ours)
