"""Dangerous advice carries its caution wherever the report is shown, and stewards see it."""

from datetime import UTC, datetime
from typing import Any
from uuid import UUID

import pytest
from typer.testing import CliRunner

from mendpool.admin import app as operator
from mendpool.core.errors import Conflict, NotAllowed, NotFound
from mendpool.usecases.review import flagged, let_stand, take_back

from tests.api.pools import Pool
from tests.factories import make_id, make_report

NOTE = "bridged the oil switch with a bit of wire and it ran"
LATER = {"happened": "2026-11", "state": "holding", "note": "still with the rcd taped down"}


@pytest.fixture
def dangerous(fresh: Pool) -> tuple[Pool, str]:
    """A pool with an ordinary report and one that tells how to get killed."""
    fresh.put(make_report(complaint="no power after rain, lamps are dark"), "birch")
    return fresh, fresh.put(make_report(note=NOTE))


def topics(shown: dict[str, Any]) -> set[str]:
    return {caution["code"] for caution in shown.get("cautions", ())}


def test_everywhere_it_is_shown(dangerous: tuple[Pool, str]) -> None:
    pool, report = dangerous
    one = pool.client("birch").get(f"/v1/reports/{report}").json()
    assert one["advice"] == ["protection-worked-round"]
    assert one["cautions"][0]["code"] == "protection-defeated"
    for query in ("", "?q=nothing at the outlets", "?symptom=no-output"):
        listed = pool.client("birch").get(f"/v1/reports{query}").json()["items"]
        (shown,) = [item for item in listed if item["id"] == report]
        assert shown["advice"] == one["advice"]
        assert shown["cautions"] == one["cautions"]
        (other,) = [item for item in listed if item["id"] != report] or [{}]
        assert "advice" not in other
    feed = pool.client("birch").get("/v1/changes").json()["items"]
    (line,) = [x for x in feed if x.get("report") == report]
    assert "protection-defeated" in topics(line["body"])


def test_beside_an_answer_too(dangerous: tuple[Pool, str]) -> None:
    pool, report = dangerous
    question = {"machine": make_report()["machine"], "complaint": make_report()["complaint"]}
    answer = pool.client("birch").post("/v1/ask", json=question).json()
    similar = {s["report"]: s for s in answer["similar"]}
    assert topics(similar[report]) == {"protection-defeated"}
    assert similar[report]["cautions"][0]["says"]
    assert not any(topics(s) for name, s in similar.items() if name != report)
    assert len(similar) == 2


def test_what_was_seen_later_carries_its_own(dangerous: tuple[Pool, str]) -> None:
    pool, _ = dangerous
    report = pool.put(make_report())
    route = f"/v1/reports/{report}/followups/{make_id()}"
    assert pool.client("alder").put(route, json=LATER).status_code == 201
    assert pool.client("alder").put(route, json=LATER).status_code == 200
    (later,) = pool.client("birch").get(f"/v1/reports/{report}").json()["followups"]
    assert later["advice"] == ["protection-worked-round"]
    assert topics(later) == {"protection-defeated"}


def test_the_preview_says_so_before_it_is_sent(pool: Pool) -> None:
    told = pool.client("alder").post("/v1/reports/preview", json=make_report(note=NOTE)).json()
    assert told["report"]["advice"] == ["protection-worked-round"]


def test_nobody_can_say_so_himself(pool: Pool) -> None:
    body = make_report(advice=[])
    assert pool.client("alder").put(f"/v1/reports/{make_id()}", json=body).status_code == 422


def listed(pool: Pool, *, everything: bool = False) -> dict[str, list[str]]:
    place = pool.service.place
    found = flagged(place.store, place.catalogue, everything=everything)
    return {str(one.report): [why.code for why in one.why] for one in found}


def test_a_steward_sees_it_and_lets_it_stand(dangerous: tuple[Pool, str]) -> None:
    pool, report = dangerous
    assert listed(pool) == {report: ["advice"]}
    place, steward = pool.service.place, pool.members["steward"].member
    let_stand(place, steward, UUID(report), "told as a warning", pool.time[0])
    assert listed(pool) == {}
    assert listed(pool, everything=True) == {report: ["advice"]}


def test_only_the_newest_are_looked_at_and_those_taken_back_do_not_count(
    dangerous: tuple[Pool, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    pool, report = dangerous
    place = pool.service.place
    later = [pool.put(make_report()) for _ in range(3)]
    assert pool.client("alder").delete(f"/v1/reports/{later[0]}").status_code == 204

    def found(newest: int) -> set[str]:
        some = flagged(place.store, place.catalogue, everything=False, newest=newest)
        return {str(one.report) for one in some}

    assert report not in found(2)
    assert report in found(3)
    assert report in found(4)
    url = pool.store.engine.url.render_as_string(hide_password=False)
    monkeypatch.setenv("MENDPOOL_DATABASE_URL", url)
    told = CliRunner().invoke(operator, ["review", "--newest", "2"])
    assert told.exit_code == 0
    assert "newest 2 of 4 reports" in told.stderr
    assert report not in told.stdout


def test_a_steward_takes_it_back_and_the_trail_tells_who_when_why_which(
    dangerous: tuple[Pool, str],
) -> None:
    pool, report = dangerous
    place, steward = pool.service.place, pool.members["steward"].member
    take_back(place, steward, UUID(report), "dangerous; told to Henrik Aune", pool.time[0])
    assert pool.client("birch").get(f"/v1/reports/{report}").status_code == 410
    assert listed(pool) == {}
    (line,) = pool.store.judgements()
    assert (line.name, str(line.report_id), line.came) == ("steward", report, "withdrawn")
    assert line.at == datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
    # A reason stays for good, so names are taken out of it like out of everything.
    assert line.reason is not None
    assert line.reason.startswith("dangerous; told to")
    assert "Aune" not in line.reason
    with pool.store.engine.connect() as connection:
        held = repr(connection.exec_driver_sql("SELECT * FROM judgement").all())
    assert "bridged" not in held


def test_only_stewards_judge_and_only_with_a_reason(dangerous: tuple[Pool, str]) -> None:
    pool, report = dangerous
    place, now = pool.service.place, pool.time[0]
    for act in (let_stand, take_back):
        with pytest.raises(NotAllowed):
            act(place, pool.members["birch"].member, UUID(report), "no", now)
        for reason in (" ", "x" * 501):
            with pytest.raises(Conflict):
                act(place, pool.members["steward"].member, UUID(report), reason, now)
        with pytest.raises(NotFound):
            act(place, pool.members["steward"].member, make_id(), "not there", now)
    assert pool.store.judgements() == []


def test_what_a_steward_takes_back_over_the_api_is_in_the_trail(fresh: Pool) -> None:
    report, own = fresh.put(make_report()), fresh.put(make_report(), "birch")
    for _ in range(2):
        assert fresh.client("steward").delete(f"/v1/reports/{report}").status_code == 204
    assert fresh.client("birch").delete(f"/v1/reports/{own}").status_code == 204
    (line,) = fresh.store.judgements()
    assert (str(line.report_id), line.reason) == (report, None)
