"""Row 8 (API4, ASVS 2.4.1, 15.2.2, 5.2.1): everything has a most; over, at and under each."""

import time
from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.exc import OperationalError

from mendpool.api.app import BODY_MAX

from tests.api.pools import Pool
from tests.databases import PostgresDatabases
from tests.factories import make_id, make_report

READING = {"quantity": "residual-voltage", "point": "output", "value": 3.1, "unit": "V"}
ATTEMPT = {"component": "avr", "action": "replace", "result": "no-change"}
TOLD = {"check": "walk-round", "found": "all-right"}
# By what is bounded: how many are too many by one, and a report that holds so many.
BOUNDS: dict[str, tuple[int, Any]] = {
    "complaint": (4000, lambda n: {"complaint": "x " * (n // 2) + "x" * (n % 2)}),
    "note": (4000, lambda n: {"note": "y" * n}),
    "region": (60, lambda n: {"region": "z" * n}),
    "readings": (100, lambda n: {"readings": [READING] * n}),
    "attempts": (50, lambda n: {"attempts": [ATTEMPT] * n}),
    "part": (120, lambda n: {"attempts": [{**ATTEMPT, "part": "p" * n}]}),
    "make": (60, lambda n: {"machine": {**make_report()["machine"], "make": "m" * n}}),
}


@pytest.mark.parametrize("name", BOUNDS)
def test_a_report_is_bounded(pool: Pool, name: str) -> None:
    most, holding = BOUNDS[name]
    for number, status in ((most - 1, 201), (most, 201), (most + 1, 422)):
        made = make_report(**holding(number))
        # Surrounding space is cut first: so the last letter is none.
        answer = pool.client("alder").put(f"/v1/reports/{make_id()}", json=made)
        assert answer.status_code == status, (number, answer.text[:300])


def test_a_body_is_bounded(pool: Pool) -> None:
    for size, status in ((BODY_MAX - 1, 400), (BODY_MAX, 400), (BODY_MAX + 1, 413)):
        answer = pool.client("alder").post(
            "/v1/ask", content=b" " * size, headers={"Content-Type": "application/json"}
        )
        assert answer.status_code == status, size


@pytest.mark.parametrize(
    "address",
    [
        "/v1/reports?q=" + "a" * 1001,
        "/v1/reports?symptom=" + "a" * 61,
        "/v1/reports?limit=" + "9" * 19,
        "/v1/changes?after=" + "9" * 19,
        "/v1/reports?cursor=" + "a" * 201,
    ],
)
def test_a_parameter_is_bounded(pool: Pool, address: str) -> None:
    assert pool.client("alder").get(address).status_code == 422


def test_a_page_is_bounded_however_much_is_asked_for(fresh: Pool) -> None:
    for number in range(110):
        fresh.put(make_report(complaint=f"no power {number}"))
    found = fresh.client("alder").get("/v1/reports?limit=999999").json()["items"]
    assert len(found) == 100
    feed = fresh.client("alder").get("/v1/changes?limit=999999")
    assert len(feed.json()["items"]) <= 1000


@pytest.mark.parametrize(
    "complaint",
    [
        "no power " * 444,
        "1.2 V " * 660,
        "not " * 1000,
        "bridged oil switch " * 210,
        "a" * 4000,
        "residual 3 volts with the AVR unplugged " * 100,
        "é̂" * 2000,
    ],
)
def test_the_heaviest_words_are_answered_in_good_time(pool: Pool, complaint: str) -> None:
    pool.client("alder").post("/v1/ask", json={"complaint": "no power"})
    begun = time.process_time()
    answer = pool.client("alder").post("/v1/ask", json={"complaint": complaint[:4000]})
    assert answer.status_code in (200, 422), answer.text[:200]
    assert time.process_time() - begun < 10  # under 1 s on a machine that does nothing else


@pytest.mark.postgres
def test_a_query_of_death_is_cut(postgres_databases: PostgresDatabases) -> None:
    """SQLite runs in the process; its statements are bounded by their shape."""
    with postgres_databases.migrated() as url:
        engine = postgres_databases.open(url)
        with engine.connect() as connection:
            limit = connection.execute(text("SHOW statement_timeout")).scalar_one()
            assert limit not in ("0", None)
            connection.execute(text("SET statement_timeout = 200"))
            with pytest.raises(OperationalError):
                connection.execute(text("SELECT pg_sleep(5)"))
        engine.dispose()
