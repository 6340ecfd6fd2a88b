"""Row 24 (ASVS 3.5.1, 3.5.3): no cookie counts, no other origin asks, GET changes nothing."""

import re

from tests.api.pools import Pool, rows, statements
from tests.factories import make_id, make_report

ELSEWHERE = {"Origin": "https://evil.example", "Sec-Fetch-Site": "cross-site"}
TABLES = ("report", "followup", "change", "member")


def test_a_token_in_a_cookie_is_none(pool: Pool) -> None:
    token = pool.members["alder"].token
    for name in ("token", "session", "Authorization", "__Host-session"):
        answer = pool.client().get("/v1/reports", headers={"Cookie": f"{name}={token}"})
        assert answer.status_code == 401
        assert "set-cookie" not in answer.headers
    assert "set-cookie" not in pool.client("alder").get("/v1/reports").headers


def test_no_other_origin_is_let_in(pool: Pool) -> None:
    asked = {**ELSEWHERE, "Access-Control-Request-Method": "PUT"}
    for address in ("/v1/reports", "/v1/ask", "/v1/join"):
        for method in ("OPTIONS", "GET", "POST"):
            headers = pool.client().request(method, address, headers=asked).headers
            assert not [name for name in headers if name.startswith("access-control-")]


def test_a_form_of_another_page_changes_nothing(pool: Pool) -> None:
    before = rows(pool.store, TABLES)
    for kind in ("application/x-www-form-urlencoded", "multipart/form-data", "text/plain"):
        for method, address in (("PUT", f"/v1/reports/{make_id()}"), ("POST", "/v1/join")):
            headers = {**ELSEWHERE, "Content-Type": kind}
            answer = pool.client("alder").request(
                method, address, content=b"{}", headers=headers
            )
            assert answer.status_code == 415
    assert rows(pool.store, TABLES) == before


def test_a_get_writes_nothing(pool: Pool) -> None:
    report = pool.put(make_report())
    pool.client("alder").get("/v1/reports")  # the day of a token's last use, once a day
    paths = pool.client().get("/openapi.json").json()["paths"]
    for path, methods in paths.items():
        if "get" not in methods or path == "/readyz":  # that one tries to write, and undoes it
            continue
        with statements(pool.store) as sent:
            pool.client("alder").get(re.sub(r"\{\w+\}", report, path))
        assert not [s for s in sent if s.startswith(("INSERT", "UPDATE", "DELETE"))], path
