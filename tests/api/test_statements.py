"""Each route asks the database these statements and no other, however many rows there are."""

import re

import pytest

from tests.api.pools import Pool, statements
from tests.api.statements_of_routes import COMPLAINT, LATER, ROUTES
from tests.factories import make_id, make_report


def told(statement: str) -> str | None:
    """Return a statement's verb and its first table, in the words of neither database."""
    words = " ".join(statement.split())
    if words.startswith("BEGIN IMMEDIATE") or "pg_advisory_xact_lock" in words:
        return "turn to write"
    if "table_info" in words or "pg_catalog" in words:
        return "SELECT tables"
    if words.startswith(("BEGIN", "PRAGMA", "SET ")) or "_advisory_" in words:
        return None  # the turn to make a fit is a file's lock on SQLite
    if words.startswith("VACUUM"):
        return "VACUUM"
    verb = words.split(" ", 1)[0]
    table = re.search(r"\b(?:FROM|INTO|UPDATE) (?:\(SELECT .*? FROM )?(\w+)", words)
    assert table, words
    return f"{verb} {table[1]}"


def counted(pool: Pool, report: str) -> dict[str, tuple[str, ...]]:
    """Send every request and return what the database was asked for each."""
    seen: dict[str, tuple[str, ...]] = {}
    for name, (_, send) in ROUTES.items():
        pool.service.place.learned.catch_up()  # or a route would be told of the one before
        with statements(pool.store) as sent:
            answer = send(pool, report)
        for request in answer if isinstance(answer, list) else ():
            pool.service.place.learned.catch_up()
            with statements(pool.store) as sent:
                answer = request()
        missing = "not here" in name
        assert answer.is_success or missing, (name, answer.text[:300])
        seen[name] = tuple(word for one in sent if (word := told(one)) is not None)
    return seen


@pytest.fixture(scope="module")
def twice(pool: Pool) -> list[dict[str, tuple[str, ...]]]:
    """What each route asks with a few reports, and with many and more follow-ups."""
    first = pool.put(make_report())
    pool.client("steward").get("/v1/workings")  # when a token was first used is written
    asked = []
    for reports, followups in ((2, 1), (37, 12)):
        for number in range(reports):
            made = pool.put(make_report(complaint=f"nothing at the outlets {number}"))
            follow_up(pool, made, number % 3)
        follow_up(pool, first, followups)
        pool.client("alder").post("/v1/ask", json=COMPLAINT)
        asked.append(counted(pool, first))
    listed = pool.client("alder").get("/v1/reports?limit=100").json()["items"]
    assert len(listed) > 40
    return asked


def follow_up(pool: Pool, report: str, number: int) -> None:
    for _ in range(number):
        route = f"/v1/reports/{report}/followups/{make_id()}"
        assert pool.client("alder").put(route, json=LATER).status_code == 201


@pytest.mark.parametrize("name", ROUTES)
def test_a_route_asks_just_this_however_many_there_are(
    twice: list[dict[str, tuple[str, ...]]], name: str
) -> None:
    few, many = (asked[name] for asked in twice)
    assert few == many == ROUTES[name][0]


def test_every_route_is_counted(pool: Pool) -> None:
    document = pool.client().get("/openapi.json").json()
    routes = {
        f"{method.upper()} {path}"
        for path, methods in document["paths"].items()
        for method in methods
    }
    assert {" ".join(name.split(" ")[:2]) for name in ROUTES} == routes


def test_the_pages_ask_nothing(pool: Pool) -> None:
    with statements(pool.store) as sent:
        for page in ("/", "/docs", "/docs.css", "/openapi.json"):
            assert pool.client().get(page).status_code == 200
    assert sent == []
