"""Ten thousand spoiled bodies: no fault of ours, no broken connection, no growth."""

import gc
import json
import random
import re
from collections import Counter
from pathlib import Path

import httpx
import pytest

from mendpool.core.catalogue.catalogue import Catalogue

from tests.api.pools import running_pool
from tests.api.real_server import served
from tests.databases import SqliteFiles
from tests.factories import make_id, make_report
from tests.faults.test_bad_input import JSON, spoil

HAND_MADE = (
    b'{"complaint":"\\ud800"}', b'{"complaint":"\\u0000"}', b'{"limit":NaN}', b'{"a":1,"a":2}',
    b"\xff\xfe{\x00}\x00", b"", b"null", b"[]", b"{" * 3000, b"[" * 5000, b'{"limit":1e999}',
    b'{"complaint":' + b"9" * 4300 + b"}", b'{"machine":{"rated_kva":-0.0}}', b"\x00" * 100,
    b'{"readings":[{"text":"' + b" " * 290 + b'x"}]}',
)  # fmt: skip
MANY, WARM, MOST_MB = 10_000, 2_000, 20


def resident_mb() -> float:
    gc.collect()
    told = re.search(r"VmRSS:\s+(\d+) kB", Path("/proc/self/status").read_text("ascii"))
    assert told
    return int(told[1]) / 1024


@pytest.mark.slow
@pytest.mark.timeout(600)
def test_ten_thousand_spoiled_bodies(sqlite_files: SqliteFiles, catalogue: Catalogue) -> None:
    chance = random.Random(20261128)
    report = json.dumps(make_report(), ensure_ascii=False).encode()
    question = json.dumps(
        {"machine": make_report()["machine"], "complaint": "no power"}
    ).encode()
    followup = b'{"happened":"2026-11","state":"holding","note":"still runs"}'
    opened: list[str] = []
    seen: Counter[int] = Counter()
    begun = 0.0
    with (
        running_pool(sqlite_files, catalogue) as pool,
        served(pool.app) as url,
        httpx.Client(base_url=url, headers=pool.headers("alder"), timeout=30) as client,
    ):
        held = pool.put(make_report())
        ways = [
            ("PUT", lambda: f"/v1/reports/{make_id()}", report),
            ("PUT", lambda: f"/v1/reports/{held}/followups/{make_id()}", followup),
            ("POST", lambda: "/v1/reports/preview", report),
            ("POST", lambda: "/v1/ask", question),
            ("POST", lambda: "/v1/readings/judge", b'{"readings":[{"text":"output 230 V"}]}'),
            ("POST", lambda: "/v1/workings/pump-start", b'{"motor_hp":"3 hp","volts":230}'),
            ("POST", lambda: "/v1/join", b'{"code":"in0123456789_x"}'),
        ]

        def note(event: str, _: object) -> None:
            if event == "connection.connect_tcp.started":
                opened.append(event)

        for number in range(MANY):
            method, route, whole = ways[number % len(ways)]
            body = (
                HAND_MADE[number % 97] if number % 97 < len(HAND_MADE) else spoil(whole, chance)
            )
            answer = client.request(
                method, route(), content=body, headers=JSON, extensions={"trace": note}
            )
            seen[answer.status_code] += 1
            assert answer.status_code < 500, (number, body[:200], answer.text)
            if answer.is_error:
                assert answer.headers["content-type"] == "application/problem+json"
            if number == WARM:
                begun = resident_mb()
        grown = resident_mb() - begun
    assert len(opened) == 1, "the connection broke"
    assert seen[400] + seen[422] + seen[404] > MANY * 0.7, seen
    assert grown < MOST_MB, f"{grown:.1f} MB more after {MANY - WARM} bodies"
    print(dict(seen), f"{grown:.1f} MB")  # noqa: T201 - the figure for the notes
