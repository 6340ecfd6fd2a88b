"""The change feed: everything since, in order, complete, and no word of who wrote it."""

import json
from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue

from tests.api.pools import Pool, running_pool
from tests.databases import Databases
from tests.factories import make_id, make_report


@pytest.fixture(scope="module")
def told(databases: Databases, catalogue: Catalogue) -> Iterator[tuple[Pool, dict[str, str]]]:
    """Give a pool with three reports, one followed up and one taken back."""
    with running_pool(databases, catalogue) as pool:
        made = {
            "first": pool.put(make_report(), "alder"),
            "second": pool.put(make_report(), "birch"),
            "gone": pool.put(make_report(complaint="zibeline quokka"), "alder"),
        }
        followup = f"/v1/reports/{made['first']}/followups/{make_id()}"
        body = {"happened": "2026-11", "state": "holding"}
        assert pool.client("alder").put(followup, json=body).status_code == 201
        assert pool.client("alder").delete(f"/v1/reports/{made['gone']}").status_code == 204
        made["again"] = pool.put(make_report(complaint="again no output"), "alder")
        yield pool, made


def walk(pool: Pool, limit: int) -> list[dict[str, Any]]:
    lines, after = [], 0
    while True:
        route = f"/v1/changes?after={after}&limit={limit}"
        page = pool.client("birch").get(route).json()
        assert len(page["items"]) <= limit
        lines += page["items"]
        assert page["last"] == (lines[-1]["sequence"] if lines else 0)
        if page["next"] is None:
            return lines
        assert page["next"] == lines[-1]["sequence"]
        after = page["next"]


def test_it_tells_everything_that_happened(told: tuple[Pool, dict[str, str]]) -> None:
    pool, _ = told
    kinds = Counter(line["kind"] for line in walk(pool, 1000))
    # A fit after the first report, and one at once after the withdrawal.
    assert kinds == {"report": 4, "followup": 1, "withdrawal": 1, "fit": 2}


@pytest.mark.parametrize("limit", [1, 2, 3, 7, 8, 9])
def test_pages_of_any_size_give_the_same_lines(
    told: tuple[Pool, dict[str, str]], limit: int
) -> None:
    pool, _ = told
    lines = walk(pool, limit)
    assert lines == walk(pool, 1000)
    assert [line["sequence"] for line in lines] == list(range(1, 9)), "no gap, none twice"


def test_reports_of_one_author_share_a_group_that_is_not_his_name(
    told: tuple[Pool, dict[str, str]],
) -> None:
    pool, made = told
    lines = [line for line in walk(pool, 1000) if line["kind"] == "report"]
    group = {line["report"]: line.get("group") for line in lines}
    assert group[made["first"]] == group[made["again"]] != group[made["second"]]
    assert all(isinstance(group[made[name]], int) for name in ("first", "second"))
    assert {line["vouched"] for line in lines if "group" in line} == {True}


def test_not_even_a_steward_reads_a_contributor_in_it(
    told: tuple[Pool, dict[str, str]],
) -> None:
    pool, _ = told
    for name in ("steward", "alder", "birch"):
        text = pool.client(name).get("/v1/changes").text
        assert "contributor" not in text
        for new in pool.members.values():
            for secret in (new.member.pseudonym, new.token, new.member.token_prefix):
                assert secret not in text


def test_a_report_is_told_whole(told: tuple[Pool, dict[str, str]]) -> None:
    pool, made = told
    line = next(x for x in walk(pool, 1000) if x.get("report") == made["second"])
    shown = pool.client("steward").get(f"/v1/reports/{made['second']}").json()
    for added in ("id", "received", "contributor", "followups"):
        shown.pop(added)
    # A copy derives its own cases, so it is also told what was given outright.
    given = line["body"].pop("given")
    assert set(given) <= {"symptoms", "readings"}
    assert line["body"] == shown


def test_of_what_was_taken_back_only_the_fact_is_told(
    told: tuple[Pool, dict[str, str]],
) -> None:
    pool, made = told
    lines = [line for line in walk(pool, 1000) if line.get("report") == made["gone"]]
    assert [line["kind"] for line in lines] == ["report", "withdrawal"]
    assert all(set(line) == {"sequence", "kind", "report"} for line in lines)


def test_the_newest_fit_travels(
    told: tuple[Pool, dict[str, str]], catalogue: Catalogue
) -> None:
    pool, _ = told
    fits = [line for line in walk(pool, 1000) if line["kind"] == "fit"]
    assert "body" not in fits[0], "a newer one took its place"
    assert fits[-1]["catalogue"] == catalogue.version
    assert fits[-1]["cut"] < fits[-1]["sequence"]
    assert fits[-1]["body"]["reports"] == 2
    assert "zibeline" not in json.dumps(fits), "it was made without what was taken back"


def test_nothing_new_is_an_empty_page(told: tuple[Pool, dict[str, str]]) -> None:
    pool, _ = told
    for after in (8, 9, 10**17):
        page = pool.client("alder").get(f"/v1/changes?after={after}").json()
        pool_id = str(pool.store.pool_settings().pool_id)
        assert page == {"items": [], "next": None, "last": after, "pool": pool_id}


@pytest.mark.parametrize(
    ("query", "at"),
    [
        ("after=-1", "/after"),
        ("after=x", "/after"),
        ("after=%C2%B2", "/after"),
        ("after=9999999999999999999", "/after"),  # more than a database's number holds
        ("limit=0", "/limit"),
        ("limit=x", "/limit"),
        ("after=1&after=2", "/after"),
        ("since=1", "/since"),
    ],
)
def test_a_wrong_parameter_is_refused_by_name(
    told: tuple[Pool, dict[str, str]], query: str, at: str
) -> None:
    pool, _ = told
    answer = pool.client("alder").get(f"/v1/changes?{query}")
    assert answer.status_code == 422
    assert [fault["at"] for fault in answer.json()["errors"]] == [at]


def test_a_large_limit_is_lowered(told: tuple[Pool, dict[str, str]]) -> None:
    pool, _ = told
    assert pool.client("alder").get(f"/v1/changes?limit={10**17}").status_code == 200
