"""A pseudonym is shown to its owner and to stewards; all others see a number of people."""

import json
from collections.abc import Iterator

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.usecases.bulk_out import Exported, csv_rows, json_lines
from mendpool.usecases.parcels_out import Written, write_parcel

from tests.api.pools import Pool, running_pool
from tests.databases import Databases
from tests.factories import make_report

WAYS = ("one", "list", "found", "put again", "ask", "changes", "snapshot", "preview")
SHOWN = {"one", "list", "found"}
"""Where a report is shown with its contributor, to those who may know."""


@pytest.fixture(scope="module")
def pool(databases: Databases, catalogue: Catalogue) -> Iterator[Pool]:
    with running_pool(databases, catalogue) as running:
        yield running


@pytest.mark.parametrize("viewer", ["alder", "birch", "steward"])
@pytest.mark.parametrize("way", WAYS)
def test_who_sees_whose_pseudonym(pool: Pool, way: str, viewer: str) -> None:
    body = make_report(complaint="no power at the outlets")
    report = pool.put(body, "alder")
    told = _told(pool, way, viewer, report)
    pseudonym = pool.members["alder"].member.pseudonym
    may = viewer in {"alder", "steward"} and way in SHOWN
    assert (pseudonym in told) is may
    assert "alder" not in told.replace(pseudonym, "")


def test_nothing_that_leaves_the_pool_names_who_wrote_it(pool: Pool) -> None:
    pool.put(make_report(), "alder")
    out = [
        *json_lines(pool.store, Exported()),
        *csv_rows(pool.store, Exported()),
        *write_parcel(pool.store, Written()),
    ]
    assert out
    for one in pool.members.values():
        assert one.member.pseudonym not in "".join(out)
        assert one.member.name not in "".join(out)


def _told(pool: Pool, way: str, viewer: str, report: str) -> str:
    client = pool.client(viewer)
    question = {"machine": {"fuel": "diesel"}, "complaint": "no power at the outlets"}
    if way == "ask":
        answer = client.post("/v1/ask", json=question)
        assert answer.json()["evidence"]["contributors"] >= 1
    elif way == "preview":
        answer = client.post("/v1/reports/preview", json=make_report())
    elif way == "put again":
        answer = client.put(f"/v1/reports/{report}", json=make_report(complaint="other words"))
        assert answer.status_code == 409
    else:
        path = {
            "one": f"/v1/reports/{report}",
            "list": "/v1/reports",
            "found": "/v1/reports?q=no+power",
            "changes": "/v1/changes",
            "snapshot": "/v1/snapshot",
        }[way]
        answer = client.get(path)
        assert answer.status_code == 200
    return json.dumps(dict(answer.headers)) + answer.text
