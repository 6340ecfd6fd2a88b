"""Row 21 (ASVS 1.2.1, 3.2.2): markup that was stored comes back as JSON and never as a page."""

import pytest

from mendpool.core.diagnosis.engine import Engine
from mendpool.core.record.machine import Machine
from mendpool.core.sheet.made import sheet_of
from mendpool.core.sheet.page import sheet_page

from tests.api.pools import Pool
from tests.factories import make_report

PAYLOADS = (
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    '"><svg onload=alert(1)>',
    "javascript:alert(1)",
    "<!--<script>",
    "</title><script>alert(1)</script>",
    "&lt;script&gt;",
)


@pytest.mark.parametrize("payload", PAYLOADS)
def test_it_is_never_sent_as_html(pool: Pool, payload: str) -> None:
    body = make_report(complaint=f"no power {payload}", note=payload, region=payload[:60])
    report = pool.put(body)
    for address in (
        f"/v1/reports/{report}",
        "/v1/reports",
        "/v1/changes",
        "/v1/reports?q=power",
    ):
        answer = pool.client("birch").get(address)
        assert answer.headers["content-type"] == "application/json"
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert "script-src 'unsafe" not in answer.headers["content-security-policy"]
    for address in ("/", "/docs"):
        assert payload not in pool.client().get(address).text


@pytest.mark.parametrize("payload", PAYLOADS[:6])
def test_a_printed_sheet_shows_it_as_it_was_typed(engine: Engine, payload: str) -> None:
    machine = Machine(fuel="diesel", make=payload[:60], model=payload[:60])
    page = sheet_page(sheet_of(machine, engine), payload)
    for live in ("<script", "<img", "<svg", "onerror=alert(1)>"):
        assert live not in page
