"""What stewards do from the page: members, invitations, codes, review; nobody else."""

import pytest

from mendpool.usecases.members import add_member, invite, rotate_member

from tests.api.browsers import Browser, signed_in
from tests.api.pools import Pool, rows
from tests.factories import make_id, make_report

ADVICE = {"note": "left it in the cellar with the rcd taped down"}


def pseudonym(pool: Pool, name: str) -> str:
    return pool.members[name].member.pseudonym


def listed(pool: Pool, what: str) -> list[dict[str, object]]:
    answer = pool.client("steward").get(f"/v1/{what}")
    assert answer.status_code == 200, answer.text
    items: list[dict[str, object]] = answer.json()["items"]
    return items


def test_members_are_listed_with_when_they_end_and_came_last(fresh: Pool) -> None:
    rotate_member(fresh.store, "alder", fresh.time[0], 10)
    fresh.wait(days=10)
    fresh.client("birch").get("/v1/reports")
    fresh.store.revoke_member("birch", fresh.time[0])
    steward, alder, birch = listed(fresh, "members")
    assert steward == {
        "name": "steward", "role": "steward", "contributor": pseudonym(fresh, "steward"),
        "state": "active", "vouched": True, "expires": None, "last_used": "2026-12-05",
    }  # fmt: skip
    assert (alder["state"], alder["expires"]) == ("expired", "2026-12-05T12:00:00Z")
    assert (birch["state"], birch["last_used"]) == ("revoked", "2026-12-05")


def test_authors_of_other_pools_are_no_members_here(fresh: Pool) -> None:
    fresh.store.add_member("parcel:x-1", "member", "0" * 64, "-", "x-1", fresh.time[0])
    assert "parcel:x-1" not in {one["name"] for one in listed(fresh, "members")}
    steward = fresh.client("steward")
    assert steward.delete("/v1/members/x-1").status_code == 404
    assert steward.post("/v1/members/x-1/code").status_code == 404


def test_whom_a_steward_invites_joins_by_the_code(fresh: Pool) -> None:
    body = {"name": "  rowan  of the ridge ", "vouched": True}
    made = fresh.client("steward").post("/v1/invitations", json=body)
    assert made.status_code == 201
    assert made.headers["cache-control"] == "no-store"
    told = made.json()
    assert (told["name"], told["expires"]) == ("rowan of the ridge", "2026-12-09T12:00:00Z")
    (open_,) = listed(fresh, "invitations")
    assert open_ == {
        "name": "rowan of the ridge", "for": "member", "state": "open", "vouched": True,
        "expires": "2026-12-09T12:00:00Z", "by": "steward",
    }  # fmt: skip
    browser = Browser(fresh)
    assert browser.sign_in(told["code"]).json()["role"] == "member"
    assert browser.status() == 200
    assert [one["state"] for one in listed(fresh, "invitations")] == ["used"]
    assert told["code"] not in fresh.client("steward").get("/v1/invitations").text
    (rowan,) = [m for m in listed(fresh, "members") if m["name"] == "rowan of the ridge"]
    assert rowan["vouched"] is True


def test_who_made_a_code_is_told_and_the_operator_has_no_name(fresh: Pool) -> None:
    invite(fresh.store, "hazel", fresh.time[0], days=1)
    fresh.client("steward").post("/v1/invitations", json={"name": "rowan"})
    fresh.wait(days=2)
    seen = [(one["name"], one["by"], one["state"]) for one in listed(fresh, "invitations")]
    assert seen == [("rowan", "steward", "open"), ("hazel", None, "expired")]


@pytest.mark.parametrize(
    ("body", "at"),
    [
        ({"name": "alder"}, "/name"),
        ({"name": ""}, "/name"),
        ({"name": "   "}, "/name"),
        ({"name": "x" * 61}, "/name"),
        ({"name": "a\u0007b"}, "/name"),
        ({"name": "Parcel: x-1"}, "/name"),
        ({"name": "forgotten 7"}, "/name"),
        ({"name": 7}, "/name"),
        ({}, "/name"),
        ({"name": "rowan", "vouched": "yes"}, "/vouched"),
        ({"name": "rowan", "role": "steward"}, "/role"),
    ],
)
def test_what_is_no_invitation_is_refused(pool: Pool, body: dict[str, object], at: str) -> None:
    before = rows(pool.store, ("invitation",))
    answer = pool.client("steward").post("/v1/invitations", json=body)
    assert answer.status_code == 422, answer.text
    assert answer.json()["errors"][0]["at"] == at
    assert rows(pool.store, ("invitation",)) == before


def test_a_code_for_another_phone_is_of_that_member(fresh: Pool) -> None:
    address = f"/v1/members/{pseudonym(fresh, 'alder')}/code"
    made = fresh.client("steward").post(address)
    assert (made.status_code, made.headers["cache-control"]) == (201, "no-store")
    assert [(one["name"], one["for"]) for one in listed(fresh, "invitations")] == [
        ("alder", "phone")
    ]
    assert Browser(fresh).sign_in(made.json()["code"]).json()["name"] == "alder"


def test_whom_a_steward_stops_is_out_at_once_everywhere(fresh: Pool) -> None:
    browser = signed_in(fresh)
    address = f"/v1/members/{pseudonym(fresh, 'alder')}"
    code = fresh.client("steward").post(f"{address}/code").json()["code"]
    for _ in range(2):
        assert fresh.client("steward").delete(address).status_code == 204
    assert browser.status() == 401
    assert fresh.client("alder").get("/v1/reports").status_code == 401
    assert Browser(fresh).sign_in(code).status_code == 404
    again = fresh.client("steward").post(f"{address}/code")
    assert again.status_code == 403
    assert "revoked" in again.json()["detail"]


def test_stewards_are_the_operators_concern(fresh: Pool) -> None:
    # Else a stolen phone of one could lock the others out, or judge in their names.
    other = add_member(fresh.store, "elder", "steward", fresh.time[0])
    steward = fresh.client("steward")
    for one in (other.member.pseudonym, pseudonym(fresh, "steward")):
        answer = steward.delete(f"/v1/members/{one}")
        assert answer.status_code == 403
        assert "mendpool pool member" in answer.json()["detail"]
    assert steward.post(f"/v1/members/{other.member.pseudonym}/code").status_code == 403
    own = steward.post(f"/v1/members/{pseudonym(fresh, 'steward')}/code")
    assert Browser(fresh).sign_in(own.json()["code"]).json()["role"] == "steward"


def test_what_is_odd_is_listed_with_reasons_newest_first(fresh: Pool) -> None:
    fresh.put(make_report())
    first = fresh.put(make_report(**ADVICE))
    second = fresh.put(make_report(**ADVICE), "birch")
    found = fresh.client("steward").get("/v1/review").json()
    assert [one["report"] for one in found["items"]] == [second, first]
    assert found["more"] == 0
    assert found["items"][0]["member"] == "birch"
    assert found["items"][0]["received"] == "2026-11-25T12:00:00Z"
    assert "advice" in {why["code"] for why in found["items"][0]["why"]}
    assert "cellar" not in str(found)


def test_a_report_is_withdrawn_or_stands_for_a_reason_that_is_kept(fresh: Pool) -> None:
    gone, stands = (fresh.put(make_report(**ADVICE)) for _ in range(2))
    steward = fresh.client("steward")
    said = {"verdict": "withdraw", "reason": "it would kill someone"}
    answer = steward.post(f"/v1/review/{gone}", json=said)
    assert answer.json() == {"report": gone, "came": "withdrawn"}
    assert fresh.client("birch").get(f"/v1/reports/{gone}").status_code == 410
    said = {"verdict": "keep", "reason": "a joke, and told as one"}
    assert steward.post(f"/v1/review/{stands}", json=said).json()["came"] == "kept"
    assert fresh.client("birch").get(f"/v1/reports/{stands}").status_code == 200
    assert listed(fresh, "review") == []
    trail = [(str(j.report_id), j.name, j.came, j.reason) for j in fresh.store.judgements()]
    assert trail == [
        (gone, "steward", "withdrawn", "it would kill someone"),
        (stands, "steward", "kept", "a joke, and told as one"),
    ]


def test_the_list_follows_what_is_filed_and_judged(fresh: Pool) -> None:
    reports = []
    for note in ("rcd taped down", "bridged the oil switch with a bit of wire and it ran"):
        reports.append(fresh.put(make_report(note=note)))
        assert [one["report"] for one in listed(fresh, "review")] == reports[::-1]
    said = {"verdict": "keep", "reason": "looked at"}
    fresh.client("steward").post(f"/v1/review/{reports[0]}", json=said)
    assert [one["report"] for one in listed(fresh, "review")] == reports[1:]
    fresh.client("alder").delete(f"/v1/reports/{reports[1]}")
    assert listed(fresh, "review") == []


def test_two_lists_are_never_made_at_once(fresh: Pool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("mendpool.usecases.review._WAIT_S", 0.05)
    with fresh.service.reviewing._turn:
        answer = fresh.client("steward").get("/v1/review")
    assert (answer.status_code, answer.headers["retry-after"]) == (503, "2")
    assert listed(fresh, "review") == []


def test_it_can_be_done_from_the_page(fresh: Pool) -> None:
    browser = signed_in(fresh, "steward")
    report = fresh.put(make_report(**ADVICE))
    assert len(browser.ask("GET", "/v1/review").json()["items"]) == 1
    said = {"verdict": "keep", "reason": "looked at"}
    assert browser.ask("POST", f"/v1/review/{report}", json=said).status_code == 200
    made = browser.ask("POST", "/v1/invitations", json={"name": "rowan"})
    assert made.status_code == 201


@pytest.mark.parametrize(
    ("body", "at"),
    [
        ({"verdict": "burn", "reason": "x"}, "/verdict"),
        ({"verdict": "keep"}, "/reason"),
        ({"verdict": "keep", "reason": " "}, "/reason"),
        ({"verdict": "keep", "reason": "x" * 501}, "/reason"),
        ({"verdict": "keep", "reason": 1}, "/reason"),
        ({"verdict": "keep", "reason": "x", "as": "alder"}, "/as"),
    ],
)
def test_what_is_no_verdict_is_refused(pool: Pool, body: dict[str, object], at: str) -> None:
    report = pool.put(make_report())
    answer = pool.client("steward").post(f"/v1/review/{report}", json=body)
    assert answer.status_code == 422, answer.text
    assert answer.json()["errors"][0]["at"] == at
    assert rows(pool.store, ("judgement",)) == [0]


@pytest.mark.parametrize("verdict", ["keep", "withdraw"])
def test_a_report_that_is_not_here_is_not_judged(pool: Pool, verdict: str) -> None:
    said = {"verdict": verdict, "reason": "x"}
    for name in (str(make_id()), "nothing"):
        answer = pool.client("steward").post(f"/v1/review/{name}", json=said)
        assert answer.status_code == 404


def test_a_reason_is_kept_without_names(fresh: Pool) -> None:
    report = fresh.put(make_report())
    said = {"verdict": "keep", "reason": "asked them, ring 0555 123 4567 or a@b.example"}
    fresh.client("steward").post(f"/v1/review/{report}", json=said)
    (line,) = fresh.store.judgements()
    assert "4567" not in str(line.reason)
    assert "a@b" not in str(line.reason)
