"""A copy warns and vouches as its pool does: the same bytes, and the same words on screen."""

from collections.abc import Iterator
from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.usecases.members import invite, join
from mendpool_field.own_copy import OwnCopy, copy_of

from tests.acceptance.copied_pool import CopiedPool, Member, copied_pool
from tests.databases import Databases
from tests.factories import make_id, make_report

pytestmark = pytest.mark.slow
"""Every command here is a process of its own."""

NOTE = "bridged the oil switch with a bit of wire and it ran"
LATER = {"happened": "2026-11", "state": "holding"}
WORDS = ("since the storm", "after lunch it quit", "pump stands still", "lamps are dark")


@pytest.fixture(scope="module")
def running(
    databases: Databases, tmp_path_factory: pytest.TempPathFactory, catalogue: Catalogue
) -> Iterator[CopiedPool]:
    """A pool with a dangerous report and a guest whom three followed-up reports vouch for."""
    folder = tmp_path_factory.mktemp("dangers")
    with copied_pool(databases, folder, catalogue, most=5) as running:
        pool = running.pool
        code = invite(pool.store, "rowan", pool.time[0]).code
        pool.members["rowan"] = join(pool.store, code, pool.time[0])
        pool.put(make_report(note=NOTE))
        for words in WORDS:
            body = make_report(complaint=f"{make_report()['complaint']} {words}")
            report = pool.put(body, "rowan")
            if words != WORDS[-1]:
                route = f"/v1/reports/{report}/followups/{make_id()}"
                assert pool.client("rowan").put(route, json=LATER).status_code == 201
        yield running


@pytest.fixture(scope="module")
def member(running: CopiedPool, tmp_path_factory: pytest.TempPathFactory) -> Member:
    made = running.member(tmp_path_factory.mktemp("member") / "home")
    assert made.run("sync").exit_code == 0
    return made


@pytest.fixture(scope="module")
def copy(member: Member, catalogue: Catalogue) -> Iterator[OwnCopy]:
    made = copy_of(member.home, catalogue)
    assert made is not None
    yield made
    made.close()


def question() -> dict[str, Any]:
    return {"machine": make_report()["machine"], "complaint": make_report()["complaint"]}


def test_an_answer_is_the_same_bytes_warnings_and_weights_included(
    running: CopiedPool, copy: OwnCopy
) -> None:
    there = running.pool.client("birch").post("/v1/ask", json=question())
    assert copy.answer_bytes(question()) == there.content
    answer = there.json()
    assert any(s.get("cautions") for s in answer["similar"])
    fixes = {(f["component"], f["action"]): f["worth"] for f in answer["fixes"]}
    assert fixes["brushes", "replace"] > 1.5, "the guest's four count fully"


def test_show_and_find_warn_with_and_without_the_pool(
    running: CopiedPool, member: Member, copy: OwnCopy
) -> None:
    (report,) = [
        item["id"]
        for item in running.pool.client("birch").get("/v1/reports?limit=100").json()["items"]
        if item.get("note") == NOTE
    ]
    (caution, *_) = running.pool.client("birch").get(f"/v1/reports/{report}").json()["cautions"]
    start = " ".join(caution["says"].split()[:4])
    for more in ({}, {"MENDPOOL_URL": "http://127.0.0.1:9"}):
        shown = member.run("show", report, **more)
        assert start in " ".join(shown.stdout.split()), shown.output
        found = member.run("find", "nothing", "at", "the", "outlets", **more)
        assert f"! {start}" in " ".join(found.stdout.split()), found.output


def test_a_warning_outlives_the_catalogue_that_had_its_words(
    member: Member, catalogue: Catalogue
) -> None:
    other = catalogue.model_copy(update={"cautions": catalogue.cautions[:1]})
    made = copy_of(member.home, other)
    assert made is not None
    (shown,) = [r for r in made.find({"limit": "100"})["items"] if r.get("note") == NOTE]
    made.close()
    assert shown["cautions"][0]["code"] == "protection-defeated"
