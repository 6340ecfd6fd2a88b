"""Reports and follow-ups: put, sent again, changed, taken back, and who may do it."""

from datetime import UTC, datetime
from typing import Any

import pytest

from tests.api.pools import START, Pool, rows
from tests.factories import make_id, make_report


def path(report_id: object) -> str:
    return f"/v1/reports/{report_id}"


def test_a_new_report_is_stored_and_comes_back_with_what_the_service_added(pool: Pool) -> None:
    report_id = make_id()
    answer = pool.client("alder").put(path(report_id), json=make_report())
    assert answer.status_code == 201
    assert answer.headers["location"] == path(report_id)
    stored = answer.json()
    assert stored["id"] == str(report_id)
    assert stored["received"] == "2026-11-25T12:00:00Z"
    assert stored["contributor"] == pool.members["alder"].member.pseudonym
    assert stored["symptoms"] == ["no-output"], "found in the complaint"
    # Residual of 1 to 10 V builds up by itself; under 1 V it is flashed: common practice.
    reading = stored["readings"][0]
    assert (reading["verdict"], reading["low"], reading["high"]) == ("within", 1, 10)
    assert "carbon-monoxide" in {caution["code"] for caution in stored["cautions"]}
    assert stored["removed"] == {}
    assert pool.client("alder").get(path(report_id)).json() == stored


def test_the_same_body_again_is_welcome_and_changes_nothing(pool: Pool) -> None:
    body = make_report()
    report_id = pool.put(body)
    before = rows(pool.store)
    turned = dict(reversed(body.items()))  # the order of the fields says nothing
    again = pool.client("alder").put(path(report_id), json=turned)
    assert again.status_code == 200
    assert again.json() == pool.client("alder").get(path(report_id)).json()
    assert rows(pool.store) == before


def test_another_body_under_the_same_id_is_refused_and_the_first_stays(pool: Pool) -> None:
    report_id = pool.put(make_report())
    other = pool.client("alder").put(path(report_id), json=make_report(outcome="retired"))
    assert other.status_code == 409
    assert pool.client("alder").get(path(report_id)).json()["outcome"] == "repaired"


def test_another_members_id_is_refused_without_a_word_about_him(pool: Pool) -> None:
    report_id = pool.put(make_report(), "alder")
    answer = pool.client("birch").put(path(report_id), json=make_report())
    assert answer.status_code == 409
    assert "errors" not in answer.json()
    assert pool.members["alder"].member.pseudonym not in answer.text


@pytest.mark.parametrize(
    "name",
    [
        "1",
        "not-an-id",
        "0193b0a0-0000-4000-8000-000000000001",  # version 4
        "{01990000-0000-7000-8000-000000000001}",
        "0199000000007000800000000000abcd",
    ],
)
def test_an_id_that_is_no_uuid_of_version_7_is_refused(pool: Pool, name: str) -> None:
    answer = pool.client("alder").put(path(name), json=make_report())
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["at"] == "/report_id"


@pytest.mark.parametrize("milliseconds", [0, (1 << 48) - 1])
def test_the_time_inside_an_id_is_never_judged(pool: Pool, milliseconds: int) -> None:
    name = f"{milliseconds:012x}"
    answer = pool.client("alder").put(
        path(f"{name[:8]}-{name[8:]}-7000-8000-00000000abcd"), json=make_report()
    )
    assert answer.status_code == 201


def test_a_thin_report_is_taken(pool: Pool) -> None:
    pool.put({"machine": {"fuel": "lpg"}, "symptoms": ["hunting"], "outcome": "open"})


def test_readings_stand_in_for_the_complaint_of_a_well_set_only(pool: Pool) -> None:
    body = {"machine": {"fuel": "diesel"}, "readings": [{"text": "50.2 hz no load"}]}
    pool.put({**body, "outcome": "well"})
    answer = pool.client("alder").put(path(make_id()), json={**body, "outcome": "repaired"})
    assert answer.status_code == 422


def test_a_brush_reported_on_a_brushless_set_is_stored(pool: Pool) -> None:
    body = make_report()
    body["machine"]["excitation"] = "brushless-avr"
    pool.put(body)


@pytest.mark.parametrize(
    ("now", "month", "taken"),
    [
        # 14 hours ahead of UTC it is already the first of December (UTC+14 is the furthest).
        (datetime(2026, 11, 30, 10, 0, tzinfo=UTC), "2026-12", True),
        (datetime(2026, 11, 30, 9, 59, tzinfo=UTC), "2026-12", False),
        (datetime(2026, 11, 25, 12, 0, tzinfo=UTC), "2026-11", True),
        (datetime(2026, 11, 25, 12, 0, tzinfo=UTC), "2026-12", False),
        (datetime(2026, 12, 31, 10, 0, tzinfo=UTC), "2027-01", True),
        (datetime(2026, 11, 25, 12, 0, tzinfo=UTC), "1994-06", True),
    ],
)
def test_a_month_is_refused_only_if_it_has_begun_nowhere(
    pool: Pool, now: datetime, month: str, taken: bool
) -> None:
    pool.time[0] = now
    answer = pool.client("alder").put(path(make_id()), json=make_report(happened=month))
    pool.time[0] = START
    assert answer.status_code == (201 if taken else 422)
    if not taken:
        assert answer.json()["errors"][0]["at"] == "/happened"


def test_what_the_service_adds_cannot_be_sent(pool: Pool) -> None:
    for field in ("id", "received", "contributor", "cautions", "removed", "followups"):
        answer = pool.client("alder").put(path(make_id()), json=make_report(**{field: "x"}))
        assert answer.status_code == 422, field
        assert answer.json()["errors"][0]["at"] == f"/{field}"


def test_a_mistyped_field_is_refused_with_the_one_meant(pool: Pool) -> None:
    body = make_report(complaintt="no output")
    answer = pool.client("alder").put(path(make_id()), json=body).json()
    assert (answer["errors"][0]["at"], answer["errors"][0]["did_you_mean"]) == (
        "/complaintt",
        "complaint",
    )


def test_the_contributor_is_shown_to_himself_and_to_stewards_only(pool: Pool) -> None:
    report_id = pool.put(make_report(), "alder")
    pseudonym = pool.members["alder"].member.pseudonym
    for name, shown in (("alder", True), ("steward", True), ("birch", False)):
        for route in (path(report_id), "/v1/reports", "/v1/reports?q=nothing at the outlets"):
            answer = pool.client(name).get(route)
            assert (pseudonym in answer.text) is shown, (name, route)


@pytest.mark.parametrize("name", ["alder", "steward"])
def test_its_contributor_or_a_steward_follows_a_report_up(pool: Pool, name: str) -> None:
    report_id, followup_id = pool.put(make_report(), "alder"), make_id()
    route = f"{path(report_id)}/followups/{followup_id}"
    body = {"happened": "2026-11", "hours_run": 140, "state": "holding", "note": "sweet"}
    first = pool.client(name).put(route, json=body)
    assert first.status_code == 201
    assert first.json()["id"] == str(followup_id)
    assert first.json()["report"] == report_id
    assert pool.client(name).put(route, json=body).status_code == 200
    assert pool.client(name).put(route, json={**body, "state": "returned"}).status_code == 409
    seen = pool.client("birch").get(path(report_id)).json()["followups"]
    assert [(f["id"], f["state"], f["hours_run"]) for f in seen] == [
        (str(followup_id), "holding", 140)
    ]


def test_nobody_else_follows_it_up_or_takes_it_back(pool: Pool) -> None:
    report_id = pool.put(make_report(), "alder")
    before = rows(pool.store)
    followup = {"happened": "2026-11", "state": "returned"}
    route = f"{path(report_id)}/followups/{make_id()}"
    assert pool.client("birch").put(route, json=followup).status_code == 403
    assert pool.client("birch").delete(path(report_id)).status_code == 403
    assert rows(pool.store) == before


@pytest.mark.parametrize(
    ("change", "at"),
    [
        ({"state": "holdin"}, "/state"),
        ({"happened": "2027-02"}, "/happened"),
        ({"happened": "2026-11-03"}, "/happened"),  # the day is never stored
        ({"hours_run": -1}, "/hours_run"),
        ({"hour": 3}, "/hour"),
    ],
)
def test_a_wrong_followup_is_refused(pool: Pool, change: dict[str, Any], at: str) -> None:
    report_id = pool.put(make_report())
    body = {"happened": "2026-11", "state": "holding", **change}
    route = f"{path(report_id)}/followups/{make_id()}"
    answer = pool.client("alder").put(route, json=body)
    assert (answer.status_code, answer.json()["errors"][0]["at"]) == (422, at)


@pytest.mark.parametrize("name", ["alder", "steward"])
def test_what_is_taken_back_is_gone_for_good(pool: Pool, name: str) -> None:
    body = make_report(complaint="seldom heard words: zibeline quokka")
    report_id = pool.put(body)
    client = pool.client(name)
    assert client.delete(path(report_id)).status_code == 204
    assert client.delete(path(report_id)).status_code == 204, "again is harmless"
    assert client.get(path(report_id)).status_code == 410
    assert pool.client("alder").put(path(report_id), json=body).status_code == 410
    followup = {"happened": "2026-11", "state": "holding"}
    route = f"{path(report_id)}/followups/{make_id()}"
    assert pool.client("alder").put(route, json=followup).status_code == 410
    for seen in ("/v1/reports?limit=100", "/v1/reports?q=zibeline quokka", "/v1/changes"):
        assert "zibeline" not in client.get(seen).text
    assert report_id not in client.get("/v1/reports?limit=100").text


def test_what_was_never_there_is_not_found(pool: Pool) -> None:
    client = pool.client("alder")
    for name in (make_id(), "no-id-at-all"):
        assert client.get(path(name)).status_code == 404
        assert client.delete(path(name)).status_code == 404
        body = {"happened": "2026-11", "state": "holding"}
        route = f"{path(name)}/followups/{make_id()}"
        assert client.put(route, json=body).status_code == 404


@pytest.mark.parametrize(
    ("header", "status"),
    [
        ("{tag}", 304),
        ('"other", {tag}', 304),
        ('"a","b" ,  {tag},"c"', 304),
        ("{strong}", 304),  # weak comparison, RFC 9110 section 8.8.3.2
        ("*", 304),
        ('"other"', 200),
        ('W/"other", "another"', 200),
        ("", 200),
    ],
)
def test_a_report_the_client_has_is_not_sent_again(
    pool: Pool, header: str, status: int
) -> None:
    # RFC 9110 section 13.1.2: a list of tags or `*`; 304 has no body and repeats the tag.
    report_id = pool.put(make_report())
    tag = pool.client("birch").get(path(report_id)).headers["etag"]
    asked = header.format(tag=tag, strong=tag.removeprefix("W/"))
    answer = pool.client("birch").get(path(report_id), headers={"If-None-Match": asked})
    assert (answer.status_code, answer.headers["etag"]) == (status, tag)
    assert (answer.content == b"") is (status == 304)
    assert "authorization" in answer.headers["vary"].lower()


def test_the_tag_changes_with_a_followup(pool: Pool) -> None:
    report_id = pool.put(make_report())
    tag = pool.client("alder").get(path(report_id)).headers["etag"]
    body = {"happened": "2026-11", "state": "holding"}
    pool.client("alder").put(f"{path(report_id)}/followups/{make_id()}", json=body)
    answer = pool.client("alder").get(path(report_id), headers={"If-None-Match": tag})
    assert answer.status_code == 200


def test_the_tag_of_a_put_is_that_of_the_get(pool: Pool) -> None:
    answer = pool.client("alder").put(path(make_id()), json=make_report())
    again = pool.client("alder").get(answer.headers["location"])
    assert again.headers["etag"] == answer.headers["etag"]


def test_a_preview_shows_what_would_be_stored_and_stores_nothing(pool: Pool) -> None:
    before = rows(pool.store)
    body = make_report(note="ring me on 0171 555 0142 or write to someone@example.org")
    answer = pool.client("alder").post("/v1/reports/preview", json=body)
    assert answer.status_code == 200
    assert rows(pool.store) == before
    shown = answer.json()
    assert sum(shown["removed"].values()) >= 2
    for told in ("0142", "someone@"):
        assert told not in answer.text, "counts and kinds, never the words"
    report_id = pool.put(body)
    stored = pool.client("alder").get(path(report_id)).json()
    assert shown["report"] == {
        k: v
        for k, v in stored.items()
        if k not in ("id", "received", "contributor", "followups")
    }


def test_a_preview_is_refused_as_the_report_would_be(pool: Pool) -> None:
    answer = pool.client("alder").post(
        "/v1/reports/preview", json=make_report(outcome="repared")
    )
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["did_you_mean"] == "repaired"


def test_what_is_removed_is_nowhere_in_the_database(pool: Pool) -> None:
    pool.put(make_report(note="the owner's mail is quillfeather@example.org"))
    with pool.store.engine.connect() as connection:
        for table in ("report", "change"):
            held = connection.exec_driver_sql(f"SELECT * FROM {table}").all()
            assert "quillfeather" not in repr(held)


def test_a_days_reports_are_bounded(fresh: Pool) -> None:
    object.__setattr__(fresh.service, "reports_a_day", 2)
    fresh.put(make_report())
    fresh.put(make_report())
    answer = fresh.client("alder").put(path(make_id()), json=make_report())
    assert (answer.status_code, int(answer.headers["retry-after"]) > 0) == (429, True)
    fresh.put(make_report(), "birch")
    fresh.wait(days=1)
    fresh.put(make_report())


def test_sending_again_what_is_stored_is_never_one_too_many(fresh: Pool) -> None:
    object.__setattr__(fresh.service, "reports_a_day", 1)
    name, body = make_id(), make_report()
    alder = fresh.client("alder")
    assert alder.put(path(name), json=body).status_code == 201
    assert alder.put(path(name), json=body).status_code == 200
    assert alder.put(path(make_id()), json=body).status_code == 429
