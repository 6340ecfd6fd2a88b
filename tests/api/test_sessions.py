"""The page's session: signed in by a code, told by a cookie, ended by many things."""

from datetime import timedelta
from http.cookies import SimpleCookie

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.errors import Conflict, NotFound
from mendpool.store.sessions import SESSIONS_MOST
from mendpool.usecases.guesses import FAILURES_A_MINUTE
from mendpool.usecases.members import invite, member_code, rotate_member

from tests.api.browsers import OWN, Browser, signed_in
from tests.api.pools import START, Pool, rows, running_pool
from tests.databases import Databases
from tests.factories import make_id, make_report

UNKNOWN = (
    "in0123456789_" + "x" * 43,
    "mp0123456789_" + "x" * 43,
    "rowan",
    "é",
    "se" + "0" * 54,
)


def test_a_members_token_signs_a_browser_in(fresh: Pool) -> None:
    browser = Browser(fresh)
    answer = browser.sign_in(fresh.members["alder"].token)
    assert answer.status_code == 201
    assert answer.headers["cache-control"] == "no-store"
    told = answer.json()
    member = fresh.members["alder"].member
    assert (told["name"], told["role"]) == ("alder", "member")
    assert told["contributor"] == member.pseudonym
    assert told["until"] == "2027-12-30T12:00:00Z"  # 400 days after
    assert told["pool"] == str(fresh.store.pool_settings().pool_id)
    assert browser.status() == 200
    report = make_id()
    put = browser.ask("PUT", f"/v1/reports/{report}", json=make_report())
    assert put.status_code == 201
    assert put.json()["contributor"] == member.pseudonym
    assert browser.ask("GET", f"/v1/reports/{report}").status_code == 200


def test_the_cookie_is_for_this_host_alone_and_no_script(fresh: Pool) -> None:
    answer = Browser(fresh).sign_in(fresh.members["alder"].token)
    (cookie,) = SimpleCookie(answer.headers["set-cookie"]).values()
    # RFC 6265bis section 4.1.3.2: what the name's beginning promises, browsers hold it to.
    assert cookie.key == "__Host-mendpool"
    assert (cookie["secure"], cookie["httponly"], cookie["path"]) == (True, True, "/")
    assert (cookie["samesite"], cookie["domain"]) == ("Lax", "")
    assert int(cookie["max-age"]) == 400 * 86_400
    assert len(cookie.value.partition("_")[2]) == 43  # letters of base64: 258 bits
    assert cookie.value not in answer.text


def test_the_page_hears_again_who_it_is(fresh: Pool) -> None:
    browser = Browser(fresh)
    told = browser.sign_in(fresh.members["steward"].token).json()
    again = browser.client.get("/v1/session", headers=OWN)
    assert (again.status_code, again.json()) == (200, told)
    assert told["role"] == "steward"
    assert again.headers["cache-control"] == "no-store"
    assert Browser(fresh).client.get("/v1/session", headers=OWN).status_code == 401


def test_an_invitation_makes_the_member_whose_token_nobody_sees(fresh: Pool) -> None:
    made = invite(fresh.store, "rowan", fresh.time[0])
    browser = Browser(fresh)
    answer = browser.sign_in(f" {made.code}\n")
    assert answer.status_code == 201
    assert "mp" not in {value[:2] for value in answer.json().values()}
    assert answer.json()["name"] == "rowan"
    assert answer.json()["until"] == "2027-11-25T12:00:00Z"  # the term of the token
    assert browser.status() == 200
    assert Browser(fresh).sign_in(made.code).status_code == 404
    assert [i.used for i in fresh.store.list_invitations()] == [START]


def test_a_stewards_code_signs_the_same_member_in_elsewhere(fresh: Pool) -> None:
    first = signed_in(fresh)
    report = fresh.put(make_report())
    made = member_code(fresh.store, "alder", fresh.time[0])
    second = Browser(fresh)
    assert second.sign_in(made.code).json()["name"] == "alder"
    seen = second.ask("GET", f"/v1/reports/{report}").json()
    assert seen["contributor"] == fresh.members["alder"].member.pseudonym
    assert (first.status(), second.status()) == (200, 200)
    assert fresh.client("alder").get("/v1/reports").status_code == 200
    assert Browser(fresh).sign_in(made.code).status_code == 404


def test_a_members_code_makes_no_member_and_is_not_used_up_by_trying(fresh: Pool) -> None:
    made = member_code(fresh.store, "alder", fresh.time[0])
    before = rows(fresh.store, ("member",))
    answer = fresh.client().post("/v1/join", json={"code": made.code})
    assert answer.status_code == 404
    assert rows(fresh.store, ("member",)) == before
    assert Browser(fresh).sign_in(made.code).status_code == 201


def test_a_code_ends_in_two_weeks_and_when_another_is_made(fresh: Pool) -> None:
    first = member_code(fresh.store, "alder", fresh.time[0])
    second = member_code(fresh.store, "alder", fresh.time[0])
    assert Browser(fresh).sign_in(first.code).status_code == 404
    fresh.wait(days=14)
    assert Browser(fresh).sign_in(second.code).status_code == 404


def test_there_is_no_code_for_one_who_is_gone_or_never_was(fresh: Pool) -> None:
    held = member_code(fresh.store, "alder", fresh.time[0])
    fresh.store.revoke_member("alder", fresh.time[0])
    with pytest.raises(Conflict):
        member_code(fresh.store, "alder", fresh.time[0])
    with pytest.raises(NotFound):
        member_code(fresh.store, "nobody", fresh.time[0])
    with pytest.raises(Conflict):
        member_code(fresh.store, "parcel:x-1", fresh.time[0])
    rotate_member(fresh.store, "alder", fresh.time[0], None, readmit=True)
    assert Browser(fresh).sign_in(held.code).status_code == 404, "it ended for good"


def test_by_a_code_a_term_that_is_over_begins_anew(fresh: Pool) -> None:
    old = rotate_member(fresh.store, "alder", fresh.time[0], 10)
    before = Browser(fresh)
    before.sign_in(old.token)
    fresh.wait(days=10)
    made = member_code(fresh.store, "alder", fresh.time[0])
    browser = Browser(fresh)
    assert browser.sign_in(made.code).json()["until"] == "2027-12-05T12:00:00Z"
    assert browser.status() == 200
    assert before.status() == 401
    old_token = {"Authorization": f"Bearer {old.token}"}
    assert fresh.client().get("/v1/reports", headers=old_token).status_code == 401


@pytest.mark.parametrize("code", UNKNOWN)
def test_what_nobody_made_is_not_here_and_says_what_to_do(pool: Pool, code: str) -> None:
    answer = Browser(pool).sign_in(code)
    assert answer.status_code == 404
    assert "ask a steward" in answer.json()["detail"]
    assert "set-cookie" not in answer.headers


def test_what_was_revoked_or_is_over_signs_nobody_in(fresh: Pool) -> None:
    fresh.store.revoke_member("alder", fresh.time[0])
    ending = rotate_member(fresh.store, "birch", fresh.time[0], 1)
    fresh.wait(days=1)
    for token in (fresh.members["alder"].token, ending.token):
        assert Browser(fresh).sign_in(token).status_code == 404
    assert rows(fresh.store, ("session",)) == [0]


def test_a_name_given_away_meanwhile_signs_nobody_in(fresh: Pool) -> None:
    made = invite(fresh.store, "rowan", fresh.time[0])
    fresh.join("rowan")
    answer = Browser(fresh).sign_in(made.code)
    assert (answer.status_code, "given away" in answer.json()["detail"]) == (404, True)
    assert rows(fresh.store, ("session",)) == [0]


def test_it_ends_when_the_member_signs_out(fresh: Pool) -> None:
    browser, other = signed_in(fresh), signed_in(fresh)
    kept = browser.cookie
    answer = browser.ask("DELETE", "/v1/session")
    assert answer.status_code == 204
    # W3C Clear Site Data, section 3.1: a list of quoted strings.
    assert answer.headers["clear-site-data"] == '"cache", "cookies", "storage"'
    assert "Max-Age=0" in answer.headers["set-cookie"]
    assert browser.cookie is None
    browser.client.cookies.set("__Host-mendpool", kept or "")
    assert browser.status() == 401
    assert other.status() == 200
    assert fresh.client("alder").get("/v1/reports").status_code == 200


@pytest.mark.parametrize("end", ["revoked", "rotated", "forgotten"])
def test_it_ends_with_the_token_in_the_same_write(fresh: Pool, end: str) -> None:
    browser, other = signed_in(fresh), signed_in(fresh, "birch")
    assert browser.status() == 200
    if end == "revoked":
        fresh.store.revoke_member("alder", fresh.time[0])
    elif end == "rotated":
        rotate_member(fresh.store, "alder", fresh.time[0], None)
    else:
        member_code(fresh.store, "alder", fresh.time[0])
        fresh.store.forget_member("alder", fresh.time[0])
        assert rows(fresh.store, ("invitation",)) == [0]
    assert rows(fresh.store, ("session",)) == [1]
    answer = browser.ask("GET", "/v1/reports")
    assert (answer.status_code, answer.json()["type"]) == (401, "/docs#not-signed-in")
    assert "steward" in answer.json()["detail"]
    assert other.status() == 200


def test_it_ends_400_days_after_or_with_the_term_of_the_token(fresh: Pool) -> None:
    alder = signed_in(fresh)
    rotate_member(fresh.store, "birch", fresh.time[0], 30)
    birch = Browser(fresh)
    birch.sign_in(member_code(fresh.store, "birch", fresh.time[0]).code)
    for browser, days in ((birch, 30), (alder, 400)):
        fresh.time[0] = START + timedelta(days=days, seconds=-1)
        assert browser.status() == 200
        fresh.time[0] = START + timedelta(days=days)
        assert browser.status() == 401


def test_a_browser_has_one_session_and_a_member_at_most_twenty(fresh: Pool) -> None:
    browser = signed_in(fresh)
    for _ in range(3):
        assert browser.sign_in(fresh.members["birch"].token).status_code == 201
    assert rows(fresh.store, ("session",)) == [1]
    many = []
    for _ in range(SESSIONS_MOST + 2):
        fresh.wait(minutes=1)
        many.append(signed_in(fresh))
    assert [one.status() for one in many] == [401, 401] + [200] * SESSIONS_MOST
    assert browser.status() == 200


def test_what_is_over_is_swept_out_at_the_next_sign_in(fresh: Pool) -> None:
    signed_in(fresh)
    fresh.wait(days=400)
    signed_in(fresh)
    assert rows(fresh.store, ("session",)) == [1]


def test_a_bearer_token_goes_before_the_cookie(fresh: Pool) -> None:
    browser = signed_in(fresh)
    bearer = fresh.headers("birch")
    assert browser.ask("GET", "/v1/reports", headers=bearer).status_code == 200
    wrong = {"Authorization": "Bearer nobody"}
    assert browser.ask("GET", "/v1/reports", headers=wrong).status_code == 401
    # The cookie is not looked at, so a program needs no page.
    fresh.store.revoke_member("alder", fresh.time[0])
    assert browser.client.get("/v1/reports", headers=bearer).status_code == 200


def test_pages_and_tokens_share_one_members_minute(
    databases: Databases, catalogue: Catalogue
) -> None:
    with running_pool(databases, catalogue, requests_a_minute=6) as pool:
        one, other = signed_in(pool), signed_in(pool)  # each is a request as well
        asked = [one.status(), other.status(), one.status()]
        asked += [pool.client("alder").get("/v1/reports").status_code, other.status()]
        assert asked == [200, 200, 200, 200, 429]
        answer = one.client.get("/v1/session", headers=OWN)
        assert answer.status_code == 429
        assert signed_in(pool, "birch").status() == 200


def test_who_guesses_waits_and_keeps_nobody_else_out(fresh: Pool) -> None:
    browser = signed_in(fresh)
    for _ in range(FAILURES_A_MINUTE):
        assert Browser(fresh).sign_in(UNKNOWN[0]).status_code == 404
    refused = Browser(fresh).sign_in(UNKNOWN[0])
    assert refused.status_code == 429
    # All come from one address where a proxy stands before: a right code is let in.
    assert signed_in(fresh, "birch").status() == 200
    assert fresh.client().post("/v1/join", json={"code": UNKNOWN[0]}).status_code == 429
    assert 1 <= int(refused.headers["retry-after"]) <= 60
    assert browser.status() == 200
    assert browser.client.get("/v1/session", headers=OWN).status_code == 200
    fresh.wait(seconds=int(refused.headers["retry-after"]) + 1)
    assert fresh.client().post("/v1/join", json={"code": UNKNOWN[0]}).status_code == 404


def test_when_it_was_used_is_remembered_to_the_day(fresh: Pool) -> None:
    browser = signed_in(fresh)
    for hours in (0, 1, 30):
        fresh.wait(hours=hours)
        assert browser.status() == 200
    with fresh.store.engine.connect() as connection:
        used = connection.exec_driver_sql("SELECT last_used_at FROM session").scalar_one()
    assert str(used).startswith("2026-11-26 00:00")
    (alder,) = [m for m in fresh.store.list_members() if m.name == "alder"]
    assert alder.last_used == START.replace(day=26, hour=0)


@pytest.mark.parametrize("code", ["", "x" * 201, 7, None, ["a"]])
def test_what_can_be_no_code_is_refused(pool: Pool, code: object) -> None:
    answer = pool.client().post("/v1/session", json={"code": code}, headers=OWN)
    assert answer.status_code == 422
