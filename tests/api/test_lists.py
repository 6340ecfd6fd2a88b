"""Lists of reports: filters, pages, and likeness to some words."""

import base64
import re
from collections.abc import Iterator
from itertools import product
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.record.report import Report
from mendpool.store.values import NewReport
from mendpool.usecases import look
from mendpool.usecases.file_report import new_report

from tests.api.pools import Pool, running_pool
from tests.databases import Databases
from tests.factories import make_id

FUELS = ("diesel", "petrol")
EXCITATIONS = ("brushed-avr", "capacitor")
COMPLAINTS = {
    "no-output": "engine runs sweet but nothing at the outlets",
    "hunting": "surges up and down all the time",
}
OUTCOMES = ("repaired", "not-repaired")
FIELDS = ("fuel", "excitation", "symptom", "component", "outcome")


def bodies() -> Iterator[dict[str, Any]]:
    """Every mix of what can be filtered by."""
    for fuel, excitation, symptom, component, outcome in product(
        FUELS, EXCITATIONS, COMPLAINTS, ("brushes", "carburettor"), OUTCOMES
    ):
        yield {
            "machine": {"fuel": fuel, "excitation": excitation},
            "complaint": COMPLAINTS[symptom],
            "symptoms": [symptom],
            "attempts": [{"component": component, "action": "replace", "result": "no-change"}],
            "outcome": outcome,
        }


@pytest.fixture(scope="module")
def pool(databases: Databases, catalogue: Catalogue) -> Iterator[Pool]:
    """Give a pool of every mix; the last one put is the newest."""
    with running_pool(databases, catalogue) as running:
        for body in bodies():
            running.put(body)
        yield running


def ids(answer: Any) -> list[str]:
    assert answer.status_code == 200, answer.text
    return [item["id"] for item in answer.json()["items"]]


def facts(item: dict[str, Any]) -> dict[str, str]:
    return {
        "fuel": item["machine"]["fuel"],
        "excitation": item["machine"]["excitation"],
        "symptom": item["symptoms"][0],
        "component": item["attempts"][0]["component"],
        "outcome": item["outcome"],
    }


@pytest.mark.parametrize("fields", [FIELDS[:n] for n in range(1, 6)] + [(f,) for f in FIELDS])
def test_filters_combine_with_and(pool: Pool, fields: tuple[str, ...]) -> None:
    wanted = {f: facts(next(bodies()))[f] for f in fields}
    client = pool.client("birch")
    items = client.get("/v1/reports", params={**wanted, "limit": "100"}).json()["items"]
    assert all({f: facts(item)[f] for f in fields} == wanted for item in items)
    assert len(items) == 32 // 2 ** len(fields)
    # With words the same filters hold, and of those the ones that are like it are all there.
    query = {**wanted, "limit": "100", "q": COMPLAINTS["no-output"]}
    found = client.get("/v1/reports", params=query).json()["items"]
    like = {item["id"] for item in items if facts(item)["symptom"] == "no-output"}
    assert like <= {item["id"] for item in found} <= {item["id"] for item in items}


def test_the_newest_is_first_and_each_is_whole(pool: Pool) -> None:
    client = pool.client("birch")
    items = client.get("/v1/reports", params={"limit": 100}).json()["items"]
    assert len(items) == 32
    assert facts(items[0]) == facts(list(bodies())[-1])
    assert items[0] == client.get(f"/v1/reports/{items[0]['id']}").json()


@pytest.mark.parametrize("query", ["", "fuel=diesel&", "component=brushes&symptom=hunting&"])
def test_pages_give_each_row_once_while_others_come_in(pool: Pool, query: str) -> None:
    client = pool.client("alder")
    there = ids(client.get(f"/v1/reports?{query}limit=100"))
    seen, route, pages = [], f"/v1/reports?{query}limit=3", 0
    while route:
        page = client.get(route)
        seen += ids(page)
        pages += 1
        cursor = page.json()["next"]
        route = f"/v1/reports?{query}limit=3&cursor={cursor}" if cursor else ""
        if pages <= 2:
            made = pool.put(
                {
                    "machine": {"fuel": "diesel"},
                    "symptoms": ["hunting"],
                    "attempts": [
                        {"component": "brushes", "action": "clean", "result": "worse"}
                    ],
                    "outcome": "open",
                }
            )
            assert made not in there
    assert seen == there, "none twice, none missed, and what came later is not among them"
    assert pages == -(-len(there) // 3)
    for report in ids(client.get("/v1/reports?outcome=open&limit=100")):
        client.delete(f"/v1/reports/{report}")


def test_next_is_null_at_the_end_even_of_a_full_page(pool: Pool) -> None:
    client = pool.client("alder")
    whole = client.get("/v1/reports?limit=32")
    assert (len(ids(whole)), whole.json()["next"], "link" in whole.headers) == (32, None, False)
    assert client.get("/v1/reports?fuel=lpg").json() == {"items": [], "next": None}


def test_the_link_header_names_the_next_page(pool: Pool) -> None:
    client = pool.client("alder")
    first = client.get("/v1/reports?fuel=petrol&limit=5")
    # RFC 8288: <target>; rel="next"
    match = re.fullmatch(r'<(/v1/reports\?[^>]*)>; rel="next"', first.headers["link"])
    assert match is not None
    query = parse_qs(urlsplit(match[1]).query)
    assert query == {"fuel": ["petrol"], "limit": ["5"], "cursor": [first.json()["next"]]}
    second = client.get(match[1])
    assert not set(ids(first)) & set(ids(second))


def test_a_cursor_serves_only_the_filters_it_was_made_for(pool: Pool) -> None:
    client = pool.client("alder")
    cursor = client.get("/v1/reports?fuel=petrol&limit=5").json()["next"]
    for query in ("fuel=diesel", "", "fuel=petrol&outcome=repaired", "fuel=petrol&q=dead"):
        answer = client.get(f"/v1/reports?{query}&cursor={cursor}")
        assert (answer.status_code, answer.json()["type"]) == (400, "/docs#bad-cursor"), query
    assert client.get(f"/v1/reports?fuel=petrol&limit=9&cursor={cursor}").status_code == 200


def tampered(cursor: str) -> Iterator[str]:
    raw = base64.urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4))
    number, seal = raw.split(b".", 1)
    later = base64.urlsafe_b64encode(str(int(number) + 1).encode() + b"." + seal)
    yield later.decode().rstrip("=")
    yield cursor[:-1]
    yield cursor + "A"
    yield cursor + "="
    yield "é" + cursor
    yield "x"
    yield "%00"
    yield base64.urlsafe_b64encode(b"9" * 60).decode()


@pytest.mark.parametrize("number", range(8))
def test_a_tampered_cursor_is_refused(pool: Pool, number: int) -> None:
    client = pool.client("alder")
    cursor = client.get("/v1/reports?limit=5").json()["next"]
    changed = list(tampered(cursor))[number]
    answer = client.get("/v1/reports", params={"limit": 5, "cursor": changed})
    assert (answer.status_code, answer.json()["type"]) == (400, "/docs#bad-cursor")


def test_the_usual_limit_is_25_and_a_large_one_is_lowered_to_100(fresh: Pool) -> None:
    for number in range(103):
        fresh.put({"machine": {"fuel": "lpg"}, "complaint": f"no {number}", "outcome": "open"})
    client = fresh.client("alder")
    assert len(ids(client.get("/v1/reports"))) == 25
    for limit in (101, 1000, 10**17):
        page = client.get(f"/v1/reports?limit={limit}")
        assert (len(ids(page)), page.json()["next"] is None) == (100, False)


@pytest.mark.parametrize(
    ("query", "at"),
    [
        ("limit=5&limit=6", "/limit"),
        ("fuel=diesel&fuel=petrol", "/fuel"),
        ("colour=red", "/colour"),
        ("after=3", "/after"),
        ("limit=0", "/limit"),
        ("limit=-1", "/limit"),
        ("limit=ten", "/limit"),
        ("limit=%C2%B2", "/limit"),  # a raised 2 is a digit to Python, not a number
        ("limit=1e3", "/limit"),
        ("limit=99999999999999999999", "/limit"),
        ("symptom=" + "x" * 61, "/symptom"),
        ("q=" + "x" * 1001, "/q"),
        ("q=%00", "/q"),
        ("fuel=", "/fuel"),
    ],
)
def test_a_wrong_parameter_is_refused_by_name(pool: Pool, query: str, at: str) -> None:
    answer = pool.client("alder").get(f"/v1/reports?{query}")
    assert answer.status_code == 422
    assert [fault["at"] for fault in answer.json()["errors"]] == [at]


@pytest.mark.parametrize(
    ("query", "meant"),
    [
        ("symptom=no-outpt", "no-output"),
        ("component=brushs", "brushes"),
        ("fuel=deisel", "diesel"),
        ("excitation=brushles-avr", "brushless-avr"),
        ("outcome=repared", "repaired"),
    ],
)
@pytest.mark.parametrize("words", ["", "&q=dead"])
def test_an_unknown_code_is_refused_with_the_one_meant(
    pool: Pool, query: str, meant: str, words: str
) -> None:
    answer = pool.client("alder").get(f"/v1/reports?{query}{words}")
    assert answer.status_code == 422
    fault = answer.json()["errors"][0]
    assert (fault["at"], fault["did_you_mean"]) == (f"/{query.partition('=')[0]}", meant)


def test_words_bring_the_likest_first_without_pages(pool: Pool) -> None:
    rare = {
        "machine": {"fuel": "natural-gas"},
        "complaint": "backfires and smells of raw gas at the regulator",
        "outcome": "open",
    }
    report_id = pool.put(rare, at=make_id())
    query = {"q": "backfires, raw gas smell", "limit": "10"}
    answer = pool.client("birch").get("/v1/reports", params=query)
    assert ids(answer)[0] == report_id
    likeness = [item["similarity"] for item in answer.json()["items"]]
    assert likeness == sorted(likeness, reverse=True)
    assert all(0 < share <= 1 for share in likeness)
    assert answer.json()["next"] is None
    assert "link" not in answer.headers
    pool.client("alder").delete(f"/v1/reports/{report_id}")


def test_words_bring_at_most_300(pool: Pool, monkeypatch: pytest.MonkeyPatch) -> None:
    assert look.FOUND_MOST == 300
    monkeypatch.setattr(look, "FOUND_MOST", 7)  # the same with fewer reports to file
    route = "/v1/reports?q=nothing at the outlets"
    assert len(ids(pool.client("alder").get(f"{route}&limit=1000"))) == 7
    assert len(ids(pool.client("alder").get(f"{route}&limit=5"))) == 5


def test_a_narrow_search_looks_past_the_most_alike(fresh: Pool) -> None:
    alike = {"machine": {"fuel": "diesel"}, "complaint": "nothing at the outlets, dead"}
    fresh.service.place.store.put_reports(
        [new_of(fresh, {**alike, "outcome": "repaired"}) for _ in range(310)], fresh.time[0]
    )
    wanted = fresh.put(
        {
            "machine": {"fuel": "diesel"},
            "complaint": "dead since the storm",
            "outcome": "retired",
        }
    )
    route = "/v1/reports?q=nothing at the outlets, dead&outcome=retired"
    (found,) = fresh.client("alder").get(route).json()["items"]
    assert found["id"] == wanted


def new_of(pool: Pool, body: dict[str, Any]) -> NewReport:
    report = Report.model_validate(body)
    member = pool.members["alder"].member
    return new_report(pool.service.place, member, make_id(), body, report, pool.time[0])
