"""Rows 22 and 23 (ASVS 3.4.3 to 3.4.6): the policy on every answer, and pages that keep it."""

import re

import pytest

from tests.api.pools import Pool
from tests.factories import make_id, make_report

PAGES = ("/", "/page/nothing", "/docs", "/docs.css", "/openapi.json", "/healthz", "/readyz")


@pytest.mark.parametrize("address", [*PAGES, "/nothing", "/v1/reports", "/v1/catalogue"])
@pytest.mark.parametrize("who", ["", "alder"])
@pytest.mark.parametrize("method", ["GET", "HEAD", "POST", "TRACE"])
def test_every_answer_has_them(pool: Pool, address: str, who: str, method: str) -> None:
    headers = pool.client(who).request(method, address).headers
    policy = headers["content-security-policy"]
    for rule in (
        "default-src 'self'",
        "base-uri 'none'",
        "object-src 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "img-src 'self' blob:",  # a photograph that the page has fetched
    ):
        assert rule in policy
    assert "unsafe" not in policy
    assert "data:" not in policy
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert headers["cross-origin-opener-policy"] == "same-origin"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert "cache-control" in headers
    assert "server" not in headers
    assert "x-powered-by" not in headers


def test_those_without_a_body_too(pool: Pool) -> None:
    report = pool.put(make_report())
    client, address = pool.client("alder"), f"/v1/reports/{report}"
    tag = client.get(address).headers["etag"]
    page = client.get("/").headers["etag"]
    for answer in (
        client.get(address, headers={"If-None-Match": tag}),
        client.get("/", headers={"If-None-Match": page}),
        client.delete(address),
        client.get(f"/v1/reports/{make_id()}"),
    ):
        assert answer.status_code in (304, 204, 404)
        assert "content-security-policy" in answer.headers


def test_no_page_needs_what_the_policy_forbids(pool: Pool) -> None:
    for page in ("/", "/docs"):
        html = pool.client().get(page).text
        assert not re.search(r"<script(?![^>]*\bsrc=)", html), "a script in the page"
        assert not re.search(r"\son\w+\s*=", html)
        assert not re.search(r"""(?:src|href)\s*=\s*["'](?:https?:)?//""", html)
        assert not re.search(r"\sstyle\s*=", html)
