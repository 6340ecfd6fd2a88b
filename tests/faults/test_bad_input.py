"""Bodies that no client should send, over real sockets: each is refused with what to change,
nothing is kept by half, and the connection lives on."""

import json
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import httpx
import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.usecases import ask as asking

from tests.api.pools import START, Pool, rows, running_pool
from tests.api.real_server import served
from tests.databases import Databases
from tests.factories import make_id, make_report

JSON = {"Content-Type": "application/json"}
FUTURE = "2027-03"
TABLES = ("report", "report_symptom", "report_component", "followup", "change", "fit")


@dataclass
class Line:
    """A member's one connection to a running service, and what it went through."""

    pool: Pool
    client: httpx.Client
    opened: list[str] = field(default_factory=list)

    def refused(
        self, status: int | Sequence[int], method: str, route: str, **more: Any
    ) -> dict[str, Any]:
        """Send a request that must be refused as a problem and leave nothing behind."""
        before = rows(self.pool.store, TABLES)
        answer = self.client.request(method, route, **more)
        statuses = (status,) if isinstance(status, int) else status
        assert answer.status_code in statuses, answer.text
        assert answer.headers["content-type"] == "application/problem+json"
        body: dict[str, Any] = answer.json()
        assert body["status"] == answer.status_code
        assert len(body["detail"]) > 10
        if answer.status_code == 422:
            assert body["errors"]
            assert all(fault["says"] for fault in body["errors"])
        assert rows(self.pool.store, TABLES) == before
        self.lives()
        return body

    def lives(self) -> None:
        assert self.client.get("/healthz").json() == {"alive": True}

    def refused_body(self, status: int | Sequence[int], content: Any, **more: str) -> Any:
        """Send the body to every route that takes one."""
        bodies = []
        for method, route in (
            ("PUT", f"/v1/reports/{make_id()}"),
            ("PUT", f"/v1/reports/{self.pool_report}/followups/{make_id()}"),
            ("POST", "/v1/reports/preview"),
            ("POST", "/v1/ask"),
            ("POST", "/v1/readings/judge"),
        ):
            sent = content() if callable(content) else content
            headers = {**JSON, **more}
            bodies.append(self.refused(status, method, route, content=sent, headers=headers))
        return bodies[0]

    @property
    def pool_report(self) -> str:
        if "report" not in self.pool.__dict__:
            self.pool.__dict__["report"] = self.pool.put(make_report())
        report: str = self.pool.__dict__["report"]
        return report


@pytest.fixture(scope="module")
def pool(databases: Databases, catalogue: Catalogue) -> Iterator[tuple[Pool, str]]:
    with (
        running_pool(databases, catalogue) as running,
        served(running.app) as url,
    ):
        running.put(make_report())
        yield running, url


@pytest.fixture
def line(pool: tuple[Pool, str]) -> Iterator[Line]:
    """Give one connection, and check that it was never opened anew."""
    running, url = pool
    opened: list[str] = []

    def note(event: str, _: dict[str, Any]) -> None:
        if event == "connection.connect_tcp.started":
            opened.append(event)

    with httpx.Client(
        base_url=url,
        headers=running.headers("alder"),
        timeout=10,
        limits=httpx.Limits(max_connections=1),
    ) as client:
        send = client.send

        def traced(request: httpx.Request, **more: Any) -> httpx.Response:
            request.extensions["trace"] = note
            return send(request, **more)

        client.send = traced  # type: ignore[method-assign]
        yield Line(running, client, opened)
    assert len(opened) == 1, "the same connection served every request"


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{",
        b"}",
        b"null",
        b"[]",
        b'"text"',
        b"3",
        b"not json at all",
        b"{'machine': {}}",
        b'{"machine": {},}',
        b"\xef\xbb\xbf{}",  # RFC 8259 section 8.1: no byte order mark
        b'{"complaint": "\xff\xfe"}',
        b"machine=diesel&complaint=dead",
        b"<report/>",
        b"\x1f\x8b\x08\x00" + b"\x00" * 40,  # gzip is not unpacked
    ],
)
def test_what_is_not_one_json_object(line: Line, content: bytes) -> None:
    assert line.refused_body(400, content)["type"] == "/docs#not-json"


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity"])
def test_numbers_that_json_does_not_have(line: Line, number: str) -> None:
    body = json.dumps(make_report()).replace("6.5", number)
    assert "NaN" in line.refused_body(400, body.encode())["detail"]


@pytest.mark.parametrize("number", ["1e999", "-1e999", "9" * 400, "9" * 5000, "true", '"6.5"'])
def test_numbers_that_no_plate_has(line: Line, number: str) -> None:
    body = json.dumps(make_report()).replace("6.5", number).encode()
    route = f"/v1/reports/{make_id()}"
    problem = line.refused((400, 422), "PUT", route, content=body, headers=JSON)
    if problem["status"] == 422:
        assert problem["errors"][0]["at"] == "/machine/rated_kva"


@pytest.mark.parametrize("text", ["\\ud800", "\\udfff x", "a\\udc00b", "\\u0000", "x\\u0000y"])
@pytest.mark.parametrize("place", ["complaint", "note", "region"])
def test_texts_that_no_database_keeps_alike(line: Line, text: str, place: str) -> None:
    body = json.dumps(make_report(**{place: "PLACE"})).replace("PLACE", text)
    assert "surrogate" in line.refused_body(400, body.encode())["detail"]


def test_half_a_pair_in_a_name(line: Line) -> None:
    line.refused_body(400, b'{"machine": {"fuel": "diesel", "\\ud800": 1}}')


@pytest.mark.parametrize("character", ["\x07", "\x1b[2J", "\x7f", "\x85"])
def test_control_characters(line: Line, character: str) -> None:
    route = f"/v1/reports/{make_id()}"
    problem = line.refused(422, "PUT", route, json=make_report(note=f"left{character}brush"))
    assert problem["errors"][0]["at"] == "/note"


def test_300_kib_that_say_so(line: Line) -> None:
    content = json.dumps(make_report(note="x" * 300 * 1024)).encode()
    assert "256 KiB" in line.refused_body(413, content)["detail"]


def test_300_kib_in_chunks_that_do_not(line: Line) -> None:
    def chunks() -> Iterator[bytes]:
        yield b'{"note": "'
        for _ in range(300):
            yield b"x" * 1024
        yield b'"}'

    assert line.refused_body(413, chunks)["type"] == "/docs#too-large"


def test_one_byte_too_many_in_a_single_chunk(line: Line) -> None:
    # The whole body is there when the bound is passed: nothing more may be waited for.
    room = 256 * 1024
    for size, status in ((room, 422), (room + 1, 413)):
        content = b'{"note": "' + b"x" * (size - 12) + b'"}'
        assert len(content) == size
        route = f"/v1/reports/{make_id()}"
        line.refused(status, "PUT", route, content=iter([content]), headers=JSON)


def test_a_name_that_stands_twice(line: Line) -> None:
    body = json.dumps(make_report())
    twice = body[:-1] + ', "outcome": "retired"}'
    deep = body.replace('"fuel": "diesel"', '"fuel": "diesel", "fuel": "petrol"')
    for content in (twice, deep):
        assert "twice" in line.refused_body(400, content.encode())["detail"]


@pytest.mark.parametrize("coding", ["utf-16", "utf-16-le", "utf-32", "latin-1"])
def test_another_coding_than_utf_8(line: Line, coding: str) -> None:
    content = json.dumps(make_report(note="Öl"), ensure_ascii=False).encode(coding)
    kind = f"application/json; charset={coding}"
    line.refused_body(400, content, **{"Content-Type": kind})


@pytest.mark.parametrize("depth", [30, 900, 20_000])
@pytest.mark.parametrize("pair", ["[]", "{}"])
def test_a_body_nested_without_end(line: Line, depth: int, pair: str) -> None:
    opening = "[" if pair == "[]" else '{"a":'
    closing = "]" if pair == "[]" else "}"
    body = '{"note":' + opening * depth + "1" + closing * depth + "}"
    assert "nested" in line.refused_body(400, body.encode())["detail"]


@pytest.mark.parametrize(
    "kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""]
)
def test_another_content_type(line: Line, kind: str) -> None:
    content = json.dumps(make_report()).encode()
    problem = line.refused_body(415, content, **{"Content-Type": kind})
    assert "application/json" in problem["detail"]


@pytest.mark.parametrize(
    ("change", "at", "meant"),
    [
        ({"outcome": "repared"}, "/outcome", "repaired"),
        ({"symptoms": ["no-outptu"]}, "/symptoms/0", "no-output"),
        ({"before": ["stood-lon"]}, "/before/0", "stood-long"),
        ({"cause": {"component": "brushs"}}, "/cause/component", "brushes"),
        ({"cause": {"component": "avr", "failure": "faild"}}, "/cause/failure", "failed"),
        ({"machine": {"fuel": "petrl"}}, "/machine/fuel", "petrol"),
        ({"outcome": "Repaired!"}, "/outcome", None),
    ],
)
def test_codes_nobody_knows(
    line: Line, change: dict[str, Any], at: str, meant: str | None
) -> None:
    route = f"/v1/reports/{make_id()}"
    problem = line.refused(422, "PUT", route, json=make_report(**change))
    assert (problem["errors"][0]["at"], problem["errors"][0].get("did_you_mean")) == (at, meant)


@pytest.mark.parametrize(
    "reading",
    [
        {"quantity": "voltage-ac", "point": "output", "value": 230, "unit": "ohm"},
        {"quantity": "resistance", "point": "rotor", "value": "60 hz"},
        {"quantity": "frequency", "point": "output", "value": 50, "unit": "furlong"},
        {"text": "sixty of those, I think"},
        {"value": 3},
        {},
    ],
)
def test_readings_that_cannot_be_understood(line: Line, reading: dict[str, Any]) -> None:
    good = {"quantity": "frequency", "point": "output", "value": 50, "unit": "Hz"}
    route = f"/v1/reports/{make_id()}"
    problem = line.refused(422, "PUT", route, json=make_report(readings=[good, reading]))
    assert all(fault["at"].startswith("/readings/1") for fault in problem["errors"])


def test_lists_without_end(line: Line) -> None:
    reading = {"text": "50 hz"}
    attempt = {"component": "avr", "action": "test", "result": "found-good"}
    for name, entry, number in (
        ("readings", reading, 10_000),
        ("readings", reading, 101),
        ("attempts", attempt, 51),
        ("symptoms", "no-output", 31),
    ):
        route = f"/v1/reports/{make_id()}"
        problem = line.refused(422, "PUT", route, json=make_report(**{name: [entry] * number}))
        assert problem["errors"][0]["at"] == f"/{name}"


def test_texts_without_end(line: Line) -> None:
    for name, most in (("complaint", 4000), ("note", 4000), ("region", 60)):
        route = f"/v1/reports/{make_id()}"
        body = make_report(**{name: "brush " * (most // 6) + "x" * 7})
        problem = line.refused(422, "PUT", route, json=body)
        assert problem["errors"][0]["at"] == f"/{name}"


@pytest.mark.parametrize(
    "name", ["1", "0193b0a0-0000-4000-8000-000000000001", "x" * 3000, "%00", "..%2f..%2fetc"]
)
def test_ids_that_are_no_uuid_of_version_7(line: Line, name: str) -> None:
    line.refused((404, 422), "PUT", f"/v1/reports/{name}", json=make_report())


def test_the_same_id_with_another_body(line: Line) -> None:
    route = f"/v1/reports/{make_id()}"
    assert line.client.put(route, json=make_report()).status_code == 201
    problem = line.refused(409, "PUT", route, json=make_report(note="another"))
    assert "new id" in problem["detail"]


def test_a_month_to_come(line: Line) -> None:
    route = f"/v1/reports/{make_id()}"
    problem = line.refused(422, "PUT", route, json=make_report(happened=FUTURE))
    assert problem["errors"][0]["at"] == "/happened"


def test_a_token_that_was_revoked(line: Line) -> None:
    new = line.pool.join("willow")
    line.pool.store.revoke_member("willow", START)
    headers = {"Authorization": f"Bearer {new.token}"}
    for _ in range(2):
        line.refused(
            401, "PUT", f"/v1/reports/{make_id()}", json=make_report(), headers=headers
        )


def test_what_nobody_foresaw(line: Line, monkeypatch: pytest.MonkeyPatch) -> None:
    # A server closes the connection under an error that reaches it, and the next request of
    # this client would die: so none may reach it.
    def fail(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(asking, "ask", fail)
    for _ in range(3):
        line.refused(500, "POST", "/v1/ask", json={"complaint": "dead"})


def spoil(content: bytes, chance: random.Random) -> bytes:
    """Cut, swap, repeat or replace some bytes."""
    made = bytearray(content)
    for _ in range(chance.randint(1, 6)):
        at = chance.randrange(len(made))
        kind = chance.randrange(5)
        if kind == 0:
            del made[at + 1 : at + chance.randint(2, 30)]
        elif kind == 1:
            made[at] = chance.randrange(256)
        elif kind == 2:
            made[at:at] = made[at : at + chance.randint(1, 40)]
        elif kind == 3:
            made[at:at] = chance.choice(
                [b"{", b"}", b"[", b'"', b"\\u", b"\x00", b"1e9", b"\xc3"]
            )
        else:
            made = made[: at + 1]
    return bytes(made)


def test_two_hundred_spoiled_bodies(line: Line) -> None:
    chance = random.Random(20261125)
    whole = json.dumps(make_report(), ensure_ascii=False).encode()
    refused = kept = 0
    for number in range(200):
        before = rows(line.pool.store, TABLES)
        route = f"/v1/reports/{make_id()}"
        answer = line.client.put(route, content=spoil(whole, chance), headers=JSON)
        if answer.status_code == 201:
            kept += 1
            continue
        refused += 1
        assert answer.status_code in (400, 422), (number, answer.text)
        assert answer.headers["content-type"] == "application/problem+json"
        assert answer.json()["detail"]
        assert rows(line.pool.store, TABLES) == before, number
        assert line.client.get(route).status_code == 404
    assert refused >= 160, f"{kept} were sound in spite of it"
    line.lives()
