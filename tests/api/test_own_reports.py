"""A member's own reports: whole, newest first, nobody else's, in as many statements as ever."""

from collections.abc import Iterator
from typing import Any

import pytest
from sqlalchemy import inspect

from mendpool.core.catalogue.catalogue import Catalogue

from tests.api.pools import Pool, running_pool, statements
from tests.databases import Databases
from tests.factories import make_id, make_report
from tests.pictures import picture

JPEG = {"Content-Type": "image/jpeg"}


@pytest.fixture(scope="module")
def pool(databases: Databases, catalogue: Catalogue) -> Iterator[Pool]:
    """Two members who file in turns; one of alder's has a photograph and a follow-up."""
    with running_pool(databases, catalogue) as running:
        for number in range(7):
            for name in ("alder", "birch"):
                running.put({**make_report(), "note": f"{name} {number}"}, name)
        first = own(running)["items"][-1]["id"]
        client, route = running.client("alder"), f"/v1/reports/{first}"
        photo = client.put(f"{route}/photos/{make_id()}", content=picture(), headers=JPEG)
        assert photo.status_code == 201
        later = {"happened": "2026-11", "state": "holding"}
        assert client.put(f"{route}/followups/{make_id()}", json=later).status_code == 201
        yield running


def own(pool: Pool, name: str = "alder", **query: Any) -> Any:
    answer = pool.client(name).get("/v1/reports", params={"mine": "true", **query})
    assert answer.status_code == 200, answer.text
    return answer.json()


def test_each_is_told_as_it_is_read_alone(pool: Pool) -> None:
    client = pool.client("alder")
    items = own(pool)["items"]
    assert [item["note"] for item in items] == [f"alder {n}" for n in range(6, -1, -1)]
    for item in items:
        assert item == client.get(f"/v1/reports/{item['id']}").json()
    assert items[-1]["followups"]
    assert items[-1]["photos"]
    assert all(item["contributor"] for item in items)


def test_nobody_sees_anothers_not_even_a_steward(pool: Pool) -> None:
    assert {item["note"][:5] for item in own(pool, "birch")["items"]} == {"birch"}
    assert own(pool, "steward")["items"] == []


def test_pages_give_each_once_and_go_with_other_filters(pool: Pool) -> None:
    seen, query = [], {"limit": 3}
    while True:
        page = own(pool, **query)
        seen += [item["note"] for item in page["items"]]
        if page["next"] is None:
            break
        query["cursor"] = page["next"]
    assert seen == [f"alder {n}" for n in range(6, -1, -1)]
    assert own(pool, fuel="lpg")["items"] == []


def test_a_cursor_is_of_one_members_list(pool: Pool) -> None:
    cursor = own(pool, limit=2)["next"]
    for name, mine in (("birch", "true"), ("alder", "false"), ("steward", "true")):
        query = {"mine": mine, "limit": "2", "cursor": cursor}
        answer = pool.client(name).get("/v1/reports", params=query)
        assert (answer.status_code, answer.json()["type"]) == (400, "/docs#bad-cursor")


def test_what_was_taken_back_is_gone_from_it(pool: Pool) -> None:
    gone = pool.put(make_report(), "birch")
    assert own(pool, "birch")["items"][0]["id"] == gone
    pool.client("birch").delete(f"/v1/reports/{gone}")
    assert gone not in {item["id"] for item in own(pool, "birch")["items"]}


@pytest.mark.parametrize(
    ("query", "at"),
    [("mine=yes", "/mine"), ("mine=", "/mine"), ("mine=true&q=dead", "/mine")],
)
def test_a_wrong_parameter_is_refused_by_name(pool: Pool, query: str, at: str) -> None:
    answer = pool.client("alder").get(f"/v1/reports?{query}")
    assert answer.status_code == 422
    assert [fault["at"] for fault in answer.json()["errors"]] == [at]


def test_false_is_everybodys(pool: Pool) -> None:
    client = pool.client("alder")
    assert client.get("/v1/reports?mine=false").json() == client.get("/v1/reports").json()


def test_the_statements_do_not_grow_with_the_list(pool: Pool) -> None:
    counts = []
    for limit in (1, 7):
        with statements(pool.store) as sent:
            own(pool, limit=limit)
        counts.append(len([s for s in sent if s.startswith("SELECT")]))
    assert counts[0] == counts[1]


def test_it_walks_an_index_of_the_member(pool: Pool) -> None:
    indexes = inspect(pool.store.engine).get_indexes("report")
    assert {"ix_report_member_id_seq"} <= {index["name"] for index in indexes}
    if pool.store.engine.dialect.name != "sqlite":
        return  # PostgreSQL chooses by how many rows there are
    with statements(pool.store) as sent:
        own(pool)
    (query,) = [s for s in sent if s.startswith("SELECT") and "ORDER BY report.seq DESC" in s]
    with pool.store.engine.connect() as connection:
        plan = connection.exec_driver_sql(
            "EXPLAIN QUERY PLAN " + query, tuple([1] * query.count("?"))
        )
        told = " ".join(str(row) for row in plan)
    assert "ix_report_member_id_seq" in told
    assert "TEMP B-TREE" not in told
