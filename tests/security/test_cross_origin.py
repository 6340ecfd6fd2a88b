"""Row 24 (ASVS 3.3.1 to 3.3.4, 3.5.1, 3.5.3): no other origin asks, GET changes nothing."""

import re
from typing import Any

import pytest

from mendpool.usecases.members import invite

from tests.api.browsers import OWN, Browser, signed_in
from tests.api.pools import Pool, rows, statements
from tests.factories import make_id, make_report

ELSEWHERE = {"Origin": "https://evil.example", "Sec-Fetch-Site": "cross-site"}
TABLES = ("report", "followup", "change", "member", "session", "invitation")
# Fetch Metadata, section 2.2: where the page is that has the browser ask.
FOREIGN = (
    "cross-site",
    "same-site",
    "none",
    "",
    "SAME-ORIGIN",
    "same-origin, cross-site",
    None,
)


@pytest.fixture(scope="module")
def browser(pool: Pool) -> Browser:
    found = signed_in(pool)
    assert found.status() == 200
    return found


def routes(pool: Pool) -> list[tuple[str, str]]:
    paths = pool.client().get("/openapi.json").json()["paths"]
    return [
        (method.upper(), re.sub(r"\{\w+\}", str(make_id()), path))
        for path, methods in paths.items()
        if path.startswith("/v1/")
        for method in methods
    ]


def test_a_token_in_a_cookie_is_none(pool: Pool) -> None:
    token = pool.members["alder"].token
    for name in ("token", "session", "Authorization", "__Host-mendpool"):
        headers = {"Cookie": f"{name}={token}", **OWN}
        answer = pool.client().get("/v1/reports", headers=headers)
        assert answer.status_code == 401
        assert "set-cookie" not in answer.headers
    assert "set-cookie" not in pool.client("alder").get("/v1/reports").headers


@pytest.mark.parametrize("site", FOREIGN)
def test_the_cookie_counts_for_no_page_from_elsewhere(
    pool: Pool, browser: Browser, site: str | None
) -> None:
    before = rows(pool.store, TABLES)
    for method, address in routes(pool):
        if address == "/v1/join":
            continue  # which takes no cookie
        answer = browser.ask(method, address, json={}, headers={"Sec-Fetch-Site": site})
        assert answer.status_code == 403, (method, address)
        assert answer.json()["type"] == "/docs#not-allowed"
        assert "page" in answer.json()["detail"]
    assert rows(pool.store, TABLES) == before


@pytest.mark.parametrize("token", [None, "", "x", "0" * 64, "é", "of another"])
def test_the_cookie_counts_for_no_page_that_does_not_say_its_token(
    pool: Pool, browser: Browser, token: str | None
) -> None:
    if token == "of another":
        token = signed_in(pool).token  # the same member's other phone
        assert token != browser.token
    before = rows(pool.store, TABLES)
    said = None if token is None else token.encode()
    for method, address in routes(pool):
        if address == "/v1/join" or (address == "/v1/session" and method != "DELETE"):
            continue
        headers: dict[str, Any] = {"Mendpool-Token": said}
        answer = browser.ask(method, address, json={}, headers=headers)
        assert answer.status_code == 403, (method, address)
        assert "token" in answer.json()["detail"]
    assert rows(pool.store, TABLES) == before
    assert browser.status() == 200


@pytest.mark.parametrize("site", FOREIGN)
def test_no_other_page_signs_anybody_in(pool: Pool, site: str | None) -> None:
    code = invite(pool.store, f"guest {make_id()}", pool.time[0]).code
    before = rows(pool.store, TABLES)
    headers = {} if site is None else {"Sec-Fetch-Site": site}
    for sent in (code, pool.members["alder"].token):
        answer = Browser(pool).client.post("/v1/session", json={"code": sent}, headers=headers)
        assert answer.status_code == 403
        assert "set-cookie" not in answer.headers
    assert rows(pool.store, TABLES) == before


def test_a_cookie_of_no_session_opens_nothing(pool: Pool, browser: Browser) -> None:
    kept = browser.cookie or ""
    wrong = kept[:-1] + ("a" if kept[-1] != "a" else "b")
    unknown = "se0123456789_" + "x" * 43
    for shown in (wrong, unknown, kept[:12], kept + "x", "", "x" * 4000, '"', "é"):
        headers = {"Cookie": f"__Host-mendpool={shown}".encode(), **OWN}
        headers["Mendpool-Token"] = browser.token
        answer = Browser(pool).client.get("/v1/reports", headers=headers)  # type: ignore[arg-type]
        assert answer.status_code == 401, shown
        assert answer.headers["www-authenticate"] == 'Bearer realm="mendpool"'


def test_no_other_origin_is_let_in(pool: Pool) -> None:
    asked = {**ELSEWHERE, "Access-Control-Request-Method": "PUT"}
    for address in ("/v1/reports", "/v1/ask", "/v1/join"):
        for method in ("OPTIONS", "GET", "POST"):
            headers = pool.client().request(method, address, headers=asked).headers
            assert not [name for name in headers if name.startswith("access-control-")]


def test_a_form_of_another_page_changes_nothing(pool: Pool, browser: Browser) -> None:
    before = rows(pool.store, TABLES)
    for kind in ("application/x-www-form-urlencoded", "multipart/form-data", "text/plain"):
        for method, address in (("PUT", f"/v1/reports/{make_id()}"), ("POST", "/v1/join")):
            headers = {**ELSEWHERE, "Content-Type": kind}
            answer = pool.client("alder").request(
                method, address, content=b"{}", headers=headers
            )
            assert answer.status_code == 415
        assert browser.ask("POST", "/v1/ask", content=b"{}", headers=headers).status_code == 403
    assert rows(pool.store, TABLES) == before


def test_a_get_writes_nothing(pool: Pool, browser: Browser) -> None:
    report = pool.put(make_report())
    pool.client("alder").get("/v1/reports")  # the day of a token's last use, once a day
    paths = pool.client().get("/openapi.json").json()["paths"]
    for path, methods in paths.items():
        if "get" not in methods or path == "/readyz":  # that one tries to write, and undoes it
            continue
        with statements(pool.store) as sent:
            pool.client("alder").get(re.sub(r"\{\w+\}", report, path))
            browser.ask("GET", re.sub(r"\{\w+\}", report, path))
        assert not [s for s in sent if s.startswith(("INSERT", "UPDATE", "DELETE"))], path
