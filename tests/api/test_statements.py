"""Each route asks the database a bounded number of times, however many rows there are."""

from collections.abc import Callable
from typing import Any

import pytest

from tests.api.pools import Pool, statements
from tests.factories import make_id, make_report

ROUTES: dict[str, Callable[[Any, str], Any]] = {
    "list": lambda client, _: client.get("/v1/reports?limit=100"),
    "list by words": lambda client, _: client.get("/v1/reports?q=nothing at outlets&limit=100"),
    "list by two filters": lambda client, _: client.get(
        "/v1/reports?symptom=no-output&component=brushes&limit=100"
    ),
    "get": lambda client, report: client.get(f"/v1/reports/{report}"),
    "ask": lambda client, _: client.post(
        "/v1/ask", json={"complaint": "nothing at the outlets"}
    ),
    "changes": lambda client, _: client.get("/v1/changes?limit=1000"),
}
# Sign-in asks twice (whose token, when last used); each read begins a transaction of its own.
MOST = 14


def follow_up(pool: Pool, report: str, number: int) -> None:
    for _ in range(number):
        body = {"happened": "2026-11", "state": "holding"}
        route = f"/v1/reports/{report}/followups/{make_id()}"
        assert pool.client("alder").put(route, json=body).status_code == 201


@pytest.fixture(scope="module")
def counted(pool: Pool) -> dict[str, tuple[int, int]]:
    """Count the statements of each route with 3 reports, then with 40 and more follow-ups."""
    client = pool.client("alder")
    first = pool.put(make_report())
    counts: dict[str, list[int]] = {name: [] for name in ROUTES}
    for reports, followups in ((2, 1), (37, 12)):
        for number in range(reports):
            made = pool.put(make_report(complaint=f"nothing at the outlets {number}"))
            follow_up(pool, made, number % 3)
        follow_up(pool, first, followups)
        client.post("/v1/ask", json={"complaint": "dead"})  # the index has caught up
        for name, send in ROUTES.items():
            with statements(pool.store) as seen:
                answer = send(client, first)
            assert answer.status_code == 200, answer.text
            counts[name].append(len(seen))
    assert len(client.get("/v1/reports?limit=100").json()["items"]) == 40
    return {name: (few, many) for name, (few, many) in counts.items()}


@pytest.mark.parametrize("name", ROUTES)
def test_more_rows_need_no_more_statements(
    counted: dict[str, tuple[int, int]], name: str
) -> None:
    few, many = counted[name]
    assert few == many
    assert 0 < many <= MOST


def test_a_put_needs_no_more_either(pool: Pool, counted: dict[str, tuple[int, int]]) -> None:
    client = pool.client("alder")
    sent = []
    for _ in range(2):
        with statements(pool.store) as seen:
            answer = client.put(f"/v1/reports/{make_id()}", json=make_report())
        assert answer.status_code == 201
        sent.append(len(seen))
    assert sent[0] == sent[1] <= 20
