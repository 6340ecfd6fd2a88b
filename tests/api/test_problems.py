"""What goes wrong leaves as a problem (RFC 9457), says what to change, and echoes nothing."""

import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from starlette.testclient import TestClient

from mendpool.api.app import make_app
from mendpool.api.problems import KINDS
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.errors import TemporarilyImpossible
from mendpool.store.pool_store import PoolStore
from mendpool.usecases import ask as asking
from mendpool.usecases.learned import Learned

from tests.api.pools import Pool, running_pool, statements
from tests.databases import Databases, SqliteFiles
from tests.factories import make_id, make_report

JSON = {"Content-Type": "application/json"}
CANARY = "Zwiebelkuchen-4711"


def expect_problem(answer: Any, status: int) -> dict[str, Any]:
    """Check that an answer is a problem of this status, and return it."""
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    body: dict[str, Any] = answer.json()
    assert {"type", "title", "status", "detail"} <= set(body)
    assert body["status"] == status
    kind = KINDS[body["type"].removeprefix("/docs#")]
    assert (kind.status, kind.title) == (status, body["title"])
    for fault in body.get("errors", ()):
        assert set(fault) <= {"at", "says", "did_you_mean"}
        assert fault["at"] == "" or fault["at"].startswith("/")
        assert fault["says"]
    return body


def ask_raw(client: TestClient, content: bytes, kind: str = "application/json") -> Any:
    return client.post("/v1/ask", content=content, headers={"Content-Type": kind})


def of_another(pool: Pool) -> str:
    return f"/v1/reports/{pool.put(make_report(), 'birch')}"


def taken_back(pool: Pool) -> str:
    route = of_another(pool)
    pool.client("birch").delete(route)
    return route


CASES: dict[str, tuple[int, Callable[[Pool, TestClient], Any]]] = {
    "not-json": (400, lambda _p, c: ask_raw(c, b"{")),
    "bad-cursor": (400, lambda _p, c: c.get("/v1/reports?cursor=x")),
    "not-signed-in": (401, lambda p, _c: p.client().get("/v1/reports")),
    "not-allowed": (403, lambda p, c: c.delete(of_another(p))),
    "not-found": (404, lambda _p, c: c.get(f"/v1/reports/{make_id()}")),
    "wrong-method": (405, lambda _p, c: c.get("/v1/ask")),
    "conflict": (409, lambda p, c: c.put(of_another(p), json=make_report())),
    "withdrawn": (410, lambda p, c: c.get(taken_back(p))),
    "too-large": (413, lambda _p, c: ask_raw(c, b'{"complaint":"%s"}' % (b"x" * 300_000))),
    "not-json-type": (415, lambda _p, c: ask_raw(c, b"{}", "text/plain")),
    "not-jpeg-type": (415, lambda _p, c: c.put(f"/v1/reports/{make_id()}/photos/1", json={})),
    "not-a-form": (415, lambda _p, c: c.post("/plain/ask", json={})),
    "refused": (422, lambda _p, c: c.post("/v1/ask", json={})),
}


@pytest.mark.parametrize("name", CASES)
def test_each_kind_of_problem_has_its_status_and_media_type(pool: Pool, name: str) -> None:
    status, provoke = CASES[name]
    body = expect_problem(provoke(pool, pool.client("alder")), status)
    assert body["type"] == f"/docs#{name}"


def test_these_are_all_the_kinds_but_four() -> None:
    # Three need a pool in trouble and are provoked below, one a slow line: test_slow_clients.
    assert set(KINDS) - set(CASES) == {"too-many", "our-fault", "try-later", "too-slow"}


def test_too_many_requests_are_a_problem(databases: Databases, catalogue: Catalogue) -> None:
    with running_pool(databases, catalogue, requests_a_minute=1) as pool:
        pool.client("alder").get("/v1/reports")
        answer = pool.client("alder").get("/v1/reports")
        assert expect_problem(answer, 429)["type"] == "/docs#too-many"
        assert int(answer.headers["retry-after"]) >= 1


def test_what_nobody_foresaw_is_a_problem_without_a_word_of_it(
    pool: Pool, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fail(*_: object) -> None:
        raise RuntimeError(CANARY)

    monkeypatch.setattr(asking, "ask", fail)
    answer = pool.client("alder").post("/v1/ask", json={"complaint": "dead"})
    assert expect_problem(answer, 500)["type"] == "/docs#our-fault"
    assert CANARY not in answer.text
    assert CANARY in caplog.text, "the operator does see it"
    assert pool.members["alder"].token not in caplog.text


def test_a_busy_database_is_a_problem_that_says_when_to_come_again(
    pool: Pool, monkeypatch: pytest.MonkeyPatch
) -> None:
    def busy(*_: object, **__: object) -> None:
        raise TemporarilyImpossible("the database is busy with another write")

    monkeypatch.setattr(PoolStore, "put_report", busy)
    answer = pool.client("alder").put(f"/v1/reports/{make_id()}", json=make_report())
    body = expect_problem(answer, 503)
    assert int(answer.headers["retry-after"]) >= 1
    assert "busy" in body["detail"]


def test_a_member_reads_on_while_his_last_use_cannot_be_written(
    fresh: Pool, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise TemporarilyImpossible("the disk of the database is full")

    monkeypatch.setattr(PoolStore, "touch_member", full)
    assert fresh.client("alder").get("/v1/reports").status_code == 200


@pytest.mark.parametrize(
    ("spoil", "says"),
    [("DROP TABLE alembic_version", "missing"), ("DELETE FROM pool", "never begun")],
)
def test_a_pool_without_its_tables_is_not_ready_and_says_what_to_run(
    fresh: Pool, spoil: str, says: str
) -> None:
    assert fresh.client().get("/readyz").json()["ready"] is True
    with fresh.store.engine.begin() as connection:
        connection.exec_driver_sql(spoil)
    answer = fresh.client().get("/readyz")
    body = expect_problem(answer, 503)
    assert says in body["detail"]
    assert "mendpool pool" in body["detail"]
    assert int(answer.headers["retry-after"]) >= 1
    assert fresh.client().get("/healthz").json() == {"alive": True}


def test_an_index_far_behind_is_not_ready_and_reads_meanwhile(
    fresh: Pool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mendpool.api.pool_routes.LAG_MOST", 2)
    # As if another process had taken them.
    monkeypatch.setattr(Learned, "filed", lambda *_: None)
    fresh.service.place.learned.catch_up()
    for _ in range(3):
        fresh.put(make_report())
    learned = fresh.service.place.learned
    behind = learned.behind()
    assert behind > 2, "filed, and not searched since"
    body = expect_problem(fresh.client().get("/readyz"), 503)
    assert f"{behind} changes behind" in body["detail"]
    assert fresh.client().get("/readyz").json()["index_lag"] == 0


def test_a_disk_without_room_is_not_ready(
    sqlite_files: SqliteFiles, catalogue: Catalogue, monkeypatch: pytest.MonkeyPatch
) -> None:
    with running_pool(sqlite_files, catalogue) as pool:
        monkeypatch.setattr("mendpool.store.pool.ROOM_TO_WRITE", 1 << 62)
        body = expect_problem(pool.client().get("/readyz"), 503)
        assert "disk" in body["detail"]


def test_a_damaged_file_is_not_ready(sqlite_files: SqliteFiles, catalogue: Catalogue) -> None:
    with running_pool(sqlite_files, catalogue) as pool:
        pool.store.engine.dispose()
        file = Path(str(pool.store.engine.url.database))
        file.write_bytes(b"this is no database at all, " * 400)
        for log in file.parent.glob("pool.db-*"):
            log.unlink()
        expect_problem(pool.client().get("/readyz"), 503)


METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")
ADDRESSES = {
    "/v1/reports": {"GET"},
    "/v1/reports/preview": {"POST"},  # and no id of a report
    f"/v1/reports/{make_id()}": {"GET", "PUT", "DELETE"},
    f"/v1/reports/{make_id()}/followups/{make_id()}": {"PUT"},
    "/v1/ask": {"POST"},
    "/v1/readings/judge": {"POST"},
    "/v1/sheet": {"POST"},
    "/v1/workings": {"GET"},
    "/v1/workings/any": {"POST"},
    "/v1/catalogue": {"GET"},
    "/v1/vocabulary": {"GET"},
    "/v1/changes": {"GET"},
    "/v1/durability": {"GET"},
    "/v1/failing": {"GET"},
    "/v1/parcel": {"GET", "POST"},
    "/healthz": {"GET"},
    "/readyz": {"GET"},
    "/docs": {"GET"},
    "/docs.css": {"GET"},
    "/openapi.json": {"GET"},
}


@pytest.mark.parametrize("address", ADDRESSES)
def test_another_method_is_refused_with_those_that_are_allowed(
    pool: Pool, address: str
) -> None:
    # RFC 9110 section 15.5.6: Allow lists every method that the target takes.
    allowed = ADDRESSES[address] | ({"HEAD"} if "GET" in ADDRESSES[address] else set())
    for method in METHODS:
        if method in allowed:
            continue
        answer = pool.client("alder").request(method, address)
        expect_problem(answer, 405)
        assert set(answer.headers["allow"].split(", ")) == allowed, method


@pytest.mark.parametrize("address", [a for a, methods in ADDRESSES.items() if "GET" in methods])
def test_head_is_get_without_the_body(pool: Pool, address: str) -> None:
    # RFC 9110 section 9.3.2.
    client = pool.client("alder")
    got, head = client.get(address), client.head(address)
    assert head.content == b""
    for answer in (got, head):
        answer.headers.pop("ratelimit", None)  # each of the two counts
    assert (head.status_code, dict(head.headers)) == (got.status_code, dict(got.headers))


@pytest.mark.parametrize("address", ["/v1", "/v2/reports", "/v1/reports/", "/v1/ask/", "/.env"])
def test_an_unknown_address_is_not_found_and_not_sent_elsewhere(
    pool: Pool, address: str
) -> None:
    expect_problem(pool.client("alder").get(address, follow_redirects=False), 404)


def test_every_answer_carries_the_headers_that_browsers_heed(pool: Pool) -> None:
    # OWASP ASVS 5.0 3.4.3 to 3.4.6.
    client = pool.client("alder")
    answers = [client.get(a) for a in ("/docs", "/v1/reports", "/nowhere", "/v1/catalogue")]
    answers.append(ask_raw(client, b"{"))
    tag = {"If-None-Match": "*"}
    answers.append(client.get("/v1/catalogue", headers=tag))
    for answer in answers:
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert "frame-ancestors 'none'" in answer.headers["content-security-policy"]
        assert answer.headers["referrer-policy"] == "no-referrer"
        assert "cache-control" in answer.headers, answer.url


def leaves(value: object, at: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, (*at, key))
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from leaves(inner, (*at, place))
    else:
        yield at


FULL = make_report(
    symptoms=["no-output"],
    observations=[{"check": "walk-round", "found": "nothing", "which": 2}],
    protection={"found": "intact", "left": "proved"},
    before=["moved"],
    region="river flats",
    note="left brush down to the holder",
    continues=str(make_id()),
    readings=[
        {
            "text": "3 V", "quantity": "residual-voltage", "point": "output", "value": 3.1,
            "unit": "V", "min": 1, "max": 4, "minutes": 3, "stage": "found", "which": 1,
            "sign": "about", "mark": 3, "at_degC": 20, "condition": "no-load",
        },
    ],
)  # fmt: skip
FULL["machine"] |= {
    "drive": "own-engine", "control": "manual", "governor": "mechanical", "rated_kw": 5,
    "start_volts": 12, "altitude_m": 300, "class": "G2",
}  # fmt: skip
FULL["attempts"][0] |= {
    "failure": "failed", "part": "regulator", "cost": 6, "with_next": True, "part_from": "new",
    "wait_days": 3, "done_by": "self", "fits": "two-wire",
}  # fmt: skip


def spoiled(at: tuple[str | int, ...], value: object) -> dict[str, Any]:
    body: dict[str, Any] = json.loads(json.dumps(FULL))
    inner: Any = body
    for step in at[:-1]:
        inner = inner[step]
    inner[at[-1]] = value
    return body


@pytest.mark.parametrize("at", list(leaves(FULL)), ids=lambda at: "-".join(map(str, at)))
def test_what_was_sent_never_comes_back_in_a_refusal(
    pool: Pool, at: tuple[str | int, ...]
) -> None:
    # Security practice: an error body must not reflect its input (RFC 9457 section 5).
    client = pool.client("alder")
    refused = 0
    for value in (CANARY, [CANARY], {CANARY.lower(): CANARY}, f"{CANARY} volts", CANARY * 500):
        answer = client.post("/v1/reports/preview", json=spoiled(at, value))
        if answer.status_code == 200:
            continue  # free text
        refused += 1
        expect_problem(answer, 422)
        text = answer.text.lower().replace(f"/{CANARY.lower()}", "")  # a place, by its pointer
        assert CANARY.lower() not in text
    assert refused >= 3, "neither a list, nor an object, nor 9,000 letters are taken anywhere"


@pytest.mark.parametrize("name", ["symptom", "component", "fuel", "outcome", "limit", "cursor"])
def test_nor_does_a_parameter(pool: Pool, name: str) -> None:
    for value in (CANARY, CANARY * 50):
        answer = pool.client("alder").get("/v1/reports", params={name: value})
        assert answer.status_code in (400, 422)
        expect_problem(answer, answer.status_code)
        assert CANARY not in answer.text


@given(st.text(min_size=1, max_size=200))
def test_no_words_in_a_query_are_ever_our_fault(pool: Pool, words: str) -> None:
    client = pool.client("alder")
    for name in ("q", "symptom", "cursor", "limit"):
        answer = client.get("/v1/reports", params={name: words})
        assert answer.status_code in (200, 400, 422), (name, words)
        if answer.status_code != 200:
            expect_problem(answer, answer.status_code)


def test_whoever_asks_again_and_again_takes_no_writers_turn(fresh: Pool) -> None:
    app = make_app(replace(fresh.service, ready_for_s=60.0))
    client = TestClient(app)
    assert client.get("/readyz").status_code == 200
    with statements(fresh.store) as sent:
        assert client.get("/readyz").status_code == 200
    assert sent == []
