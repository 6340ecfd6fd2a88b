"""The same question on the same reports: the same bytes from service and copy."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from mendpool.api.replies import to_json
from mendpool.coop.reports import invented_reports
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.record.report import SheetRequest
from mendpool.usecases.known import how_long, what_fails
from mendpool.usecases.sheet import sheet
from mendpool_field.own_copy import OwnCopy, copy_of

from tests.acceptance.copied_pool import CopiedPool, copied_pool, file_more, moved_to
from tests.bench.diagnosis.simulator.pool import Simulator
from tests.bench.diagnosis.simulator.world import TUNING
from tests.bench.scale.bodies import body_of, question_of, report_id
from tests.databases import Databases
from tests.factories import make_report
from tests.postgres_server import running_server

HAND_MADE: tuple[dict[str, Any], ...] = (
    {"machine": {"fuel": "diesel"}, "complaint": "runs but no power"},
    {"machine": {}, "symptoms": ["no-output"]},
    {"machine": {"fuel": "petrol"}, "readings": [{"text": "residual 0.4 V"}]},
    {"machine": {"fuel": "petrol", "excitation": "capacitor"}, "complaint": "wont start, tank "
     "is full", "tried": [{"component": "spark-plug", "action": "replace",
     "result": "no-change"}], "limit": 3},
    {"machine": {"fuel": "diesel", "rated_kva": 8}, "complaint": "dies under load",
     "must_run": "3 hp pump", "get_by": True, "at_hand": ["multimeter"]},
    {"machine": {"fuel": "diesel"}, "complaint": "stops after ten minutes, was told it is the "
     "oil switch", "get_by": True, "limit": 50},
    {"machine": {"fuel": "lpg"}, "complaint": "zibeline quokka"},
)  # fmt: skip


def questions(engine: Engine) -> list[dict[str, Any]]:
    """The simulator's, the co-op's own complaints with what was read, and some by hand."""
    asked = [question_of(drawn) for drawn in Simulator(engine, TUNING).questions(120)]
    for told in invented_reports()[:120]:
        taken = ("machine", "complaint", "readings", "observations")
        question = {name: told.body[name] for name in taken if told.body.get(name)}
        question["readings"] = [
            r for r in question.get("readings", ()) if r.get("stage") != "left"
        ]
        if told.body.get("attempts"):
            first = told.body["attempts"][0]
            names = ("component", "action", "result")
            question["tried"] = [{name: first[name] for name in names}]
        asked.append({name: value for name, value in question.items() if value})
    return [*asked, *HAND_MADE]


@pytest.fixture(scope="module")
def running(
    databases: Databases, tmp_path_factory: pytest.TempPathFactory, catalogue: Catalogue
) -> Iterator[CopiedPool]:
    with copied_pool(databases, tmp_path_factory.mktemp("copied"), catalogue) as pool:
        yield pool


@pytest.fixture(scope="module")
def copy(
    running: CopiedPool, tmp_path_factory: pytest.TempPathFactory, catalogue: Catalogue
) -> Iterator[OwnCopy]:
    """A copy fetched packed, then a page with reports past the fit, one of them taken back."""
    member = running.member(tmp_path_factory.mktemp("member") / "home")
    assert member.run("sync").exit_code == 0
    engine = running.pool.service.place.learned.engine
    drawn = Simulator(engine, TUNING).reports(40)
    file_more(running.pool, [(report_id(n), body_of(one)) for n, one in enumerate(drawn)])
    gone = running.pool.put(make_report(), "alder")
    assert running.pool.client("alder").delete(f"/v1/reports/{gone}").status_code == 204
    running.pool.put(make_report(complaint="no output after the flood"), "birch")
    assert member.run("sync").exit_code == 0
    made = copy_of(member.home, catalogue)
    assert made is not None
    yield made
    made.close()


@pytest.mark.parametrize("every", [6, pytest.param(1, marks=pytest.mark.slow)])
def test_questions_get_the_same_bytes_from_service_and_copy(
    running: CopiedPool, copy: OwnCopy, engine: Engine, every: int
) -> None:
    """Every sixth of 247 by default, all of them with the slow tests."""
    client, asked = running.pool.client("birch"), questions(engine)[::every]
    assert len(asked) > 240 // every
    searched = set()
    for question in asked:
        there = client.post("/v1/ask", json=question)
        assert there.status_code == 200, (question, there.text)
        assert copy.answer_bytes(question) == there.content, question
        evidence = there.json()["evidence"]
        searched.add((evidence["reports_searched"], evidence["fit"]))
    # The very reports, and the very fit: 249 of the co-op, 40 and one more.
    assert [reports for reports, _ in searched] == [290]
    assert searched.pop()[1] is not None


def test_reports_are_shown_found_and_judged_as_the_service_does(
    running: CopiedPool, copy: OwnCopy
) -> None:
    client = running.pool.client("birch")
    page = client.get("/v1/reports?limit=100").json()
    for shown in page["items"]:
        mine = client.get(f"/v1/reports/{shown['id']}").json()
        mine.pop("contributor", None)  # a copy knows no pseudonym, not even its owner's
        assert copy.show(shown["id"]) == mine
    for given in (
        {"q": "no output"},
        {"q": "hunts", "fuel": "petrol"},
        {"symptom": "no-output"},
    ):
        there = client.get("/v1/reports", params=given).json()["items"]
        for item in there:
            item.pop("contributor", None)
        assert copy.find(given)["items"] == there, given
        assert there
    body = {"machine": {"fuel": "diesel", "rated_volts": 240}, "readings": [{"text": "231 V"}]}
    assert copy.judge(body) == client.post("/v1/readings/judge", json=body).json()


def test_the_counts_over_all_reports_are_the_same_bytes(
    running: CopiedPool, copy: OwnCopy
) -> None:
    """The reports lie in another order there, and no figure may hang on that."""
    client, place = running.pool.client("birch"), copy._place()
    for plate in ({}, {"fuel": "diesel"}, {"fuel": "petrol", "excitation": "capacitor"}):
        there = client.get("/v1/failing", params=plate)
        assert to_json(what_fails(place, plate)) == there.content
        assert there.json()["items"]
    listed = client.get("/v1/durability")
    assert to_json(how_long(place, None, None)) == listed.content
    for one in listed.json()["items"][:10]:
        fix = {name: one[name] for name in ("component", "action")}
        there = client.get("/v1/durability", params=fix)
        assert to_json(how_long(place, **fix)) == there.content
        assert there.json()["followed"] == one["followed"] > 0
    body = {"machine": {"fuel": "diesel", "rated_kva": 8}, "name": "barn"}
    sheet_there = client.post("/v1/sheet", json=body)
    assert to_json(sheet(place, SheetRequest.model_validate(body))) == sheet_there.content


def test_the_command_prints_the_same_answer_with_and_without_the_pool(
    running: CopiedPool, copy: OwnCopy, tmp_path: Path
) -> None:
    member = running.member(tmp_path / "home")
    assert member.run("sync").exit_code == 0
    ask = ("ask", "--json", "--fuel", "diesel", "runs but no power")
    offline = member.run(*ask, "--offline")
    assert "from your copy of just now, 290 reports" in offline.stderr.replace("\n", " ")
    gone = member.run(*ask, MENDPOOL_URL="http://127.0.0.1:9")
    assert "No way through" in gone.stderr
    assert "Answered from your copy of just now, 290 reports" in gone.stderr.replace("\n", " ")
    there = running.pool.client("birch").post(
        "/v1/ask", json={"machine": {"fuel": "diesel"}, "complaint": "runs but no power"}
    )
    assert json.loads(offline.stdout) == json.loads(gone.stdout) == there.json()
    assert offline.stdout == gone.stdout


def test_a_walk_goes_on_from_the_copy(running: CopiedPool, tmp_path: Path) -> None:
    member = running.member(tmp_path / "home")
    assert member.run("sync").exit_code == 0
    walked = member.run("ask", "--steps", "--offline", "--fuel", "diesel", "no power")
    assert "from your copy of just now" in walked.stderr.replace("\n", " ")


@pytest.mark.postgres
def test_the_same_pool_on_postgresql_gives_the_same_bytes_and_the_same_copy(
    running: CopiedPool, copy: OwnCopy, engine: Engine, catalogue: Catalogue, tmp_path: Path
) -> None:
    from tests.acceptance.copied_pool import served_with_snapshots  # noqa: PLC0415

    with running_server() as server:
        url = server.make_database()
        grown = moved_to(running.pool, url, catalogue)
        try:
            with served_with_snapshots(grown, tmp_path) as there:
                member = there.member(tmp_path / "home")
                assert member.run("sync").exit_code == 0
                theirs = copy_of(member.home, catalogue)
                assert theirs is not None
                client = grown.client("birch")
                for question in questions(engine):
                    answer = client.post("/v1/ask", json=question).content
                    assert answer == copy.answer_bytes(question), question
                    assert answer == theirs.answer_bytes(question), question
                theirs.close()
        finally:
            grown.close()
            server.drop_database(url)
