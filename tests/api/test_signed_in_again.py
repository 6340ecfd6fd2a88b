"""A sign-in whose answer was lost: the same browser may ask again, and nobody else.

As an Idempotency-Key does (the IETF draft of that name): the same request with the same key,
sent again soon, has the first one's outcome, and another key is another request.
"""

import re

import pytest

from mendpool.usecases.members import invite, member_code
from mendpool.usecases.sessions import AGAIN_FOR, Attempt

from tests.api.browsers import OWN, Browser
from tests.api.pools import KEY, Pool, rows

ONE, OTHER = "a" * 43, "b" * 43


def test_a_code_whose_answer_was_lost_gives_the_same_session_again(fresh: Pool) -> None:
    made = invite(fresh.store, "rowan", fresh.time[0])
    lost = Browser(fresh).sign_in(made.code, attempt=ONE)
    fresh.wait(minutes=9)
    browser = Browser(fresh)
    again = browser.sign_in(made.code, attempt=ONE)
    assert (again.status_code, again.json()) == (201, lost.json())
    cookie = re.compile(r"__Host-mendpool=(\S+); Max-Age=(\d+)")
    (was, long), (now, left) = (
        cookie.findall(answer.headers["set-cookie"])[0] for answer in (lost, again)
    )
    assert (was, int(long) - int(left)) == (now, 540)
    assert browser.status() == 200
    assert rows(fresh.store, ("member", "session")) == [4, 1]


def test_a_cookie_that_arrived_without_the_rest_is_kept(fresh: Pool) -> None:
    made = member_code(fresh.store, "alder", fresh.time[0])
    browser = Browser(fresh)
    for _ in range(3):
        assert browser.sign_in(made.code, attempt=ONE).status_code == 201
    assert browser.status() == 200
    assert rows(fresh.store, ("session",)) == [1]


@pytest.mark.parametrize("more", [{}, {"attempt": OTHER}])
def test_nobody_else_gets_it(fresh: Pool, more: dict[str, str]) -> None:
    made = invite(fresh.store, "rowan", fresh.time[0])
    other = invite(fresh.store, "hazel", fresh.time[0])
    assert Browser(fresh).sign_in(made.code, attempt=ONE).status_code == 201
    stranger = Browser(fresh)
    assert stranger.sign_in(made.code, **more).status_code == 404
    assert stranger.cookie is None
    # What was drawn is of its own code: with another it is another session.
    assert stranger.sign_in(other.code, attempt=ONE).json()["name"] == "hazel"
    assert rows(fresh.store, ("session",)) == [2]


def test_it_has_to_come_from_our_own_page_again(fresh: Pool) -> None:
    made = invite(fresh.store, "rowan", fresh.time[0])
    body = {"code": made.code, "attempt": ONE}
    client = Browser(fresh).client
    assert client.post("/v1/session", json=body, headers=OWN).status_code == 201
    for site in ("cross-site", "same-site", "none"):
        answer = client.post("/v1/session", json=body, headers={"Sec-Fetch-Site": site})
        assert (answer.status_code, "set-cookie" in answer.headers) == (403, False), site


def test_after_ten_minutes_the_code_is_used_up(fresh: Pool) -> None:
    made = invite(fresh.store, "rowan", fresh.time[0])
    first = Browser(fresh)
    first.sign_in(made.code, attempt=ONE)
    fresh.wait(minutes=AGAIN_FOR.total_seconds() / 60)
    assert Browser(fresh).sign_in(made.code, attempt=ONE).status_code == 404
    assert first.status() == 200


@pytest.mark.parametrize("end", ["signed out", "revoked"])
def test_a_session_that_was_ended_does_not_come_back(fresh: Pool, end: str) -> None:
    made = member_code(fresh.store, "alder", fresh.time[0])
    browser = Browser(fresh)
    browser.sign_in(made.code, attempt=ONE)
    if end == "revoked":
        fresh.store.revoke_member("alder", fresh.time[0])
    else:
        browser.ask("DELETE", "/v1/session")
    assert Browser(fresh).sign_in(made.code, attempt=ONE).status_code == 404
    assert rows(fresh.store, ("session",)) == [0]


def test_a_token_is_good_every_time_and_begins_a_session_of_its_own(fresh: Pool) -> None:
    token = fresh.members["alder"].token
    one, other = Browser(fresh), Browser(fresh)
    assert one.sign_in(token, attempt=ONE).status_code == 201
    assert other.sign_in(token, attempt=ONE).status_code == 201
    assert one.cookie != other.cookie


@pytest.mark.parametrize("drawn", ["", "a" * 21, "a" * 65, "a" * 30 + "é", 7])
def test_what_is_too_short_or_no_letters_is_refused(fresh: Pool, drawn: object) -> None:
    made = invite(fresh.store, "rowan", fresh.time[0])
    body = {"code": made.code, "attempt": drawn}
    answer = fresh.client().post("/v1/session", json=body, headers=OWN)
    assert answer.status_code == 422
    assert Browser(fresh).sign_in(made.code).status_code == 201, "it was not used up by that"


def test_whoever_knows_what_was_sent_still_needs_the_pools_secret() -> None:
    made = {Attempt(key, ONE).secret("in")[1] for key in (KEY, bytes(32))}
    assert len(made) == 2
    assert all(re.fullmatch(r"se[0-9a-f]{10}_[A-Za-z0-9_-]{43}", one) for one in made)


def test_the_form_without_scripts_may_be_sent_again(fresh: Pool) -> None:
    made = invite(fresh.store, "rowan", fresh.time[0])
    browser = Browser(fresh).client
    page = browser.get("/plain/").text
    (drawn,) = re.findall(r'name="attempt" value="([^"]+)"', page)
    for _ in range(2):
        browser.cookies.clear()
        body = {"code": made.code, "attempt": drawn}
        answer = browser.post("/plain/sign-in", data=body, headers=OWN, follow_redirects=False)
        assert answer.status_code == 303
    assert "rowan" in browser.get("/plain/").text
    browser.cookies.clear()
    assert drawn not in browser.get("/plain/").text
