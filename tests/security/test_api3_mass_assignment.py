"""Row 5 (API3, ASVS 15.3.3): nobody sets what the service sets."""

import pytest

from tests.api.pools import Pool, rows
from tests.factories import make_id, make_report

OURS = (
    "id",
    "seq",
    "received",
    "received_at",
    "contributor",
    "member_id",
    "role",
    "vouched",
    "group",
    "verified",
    "withdrawn_at",
    "cautions",
    "removed",
    "advice",
    "given",
    "from_another_pool",
    "followups",
    "sameness",
    "case_body",
    "created_at",
)
BODIES = {
    "PUT /v1/reports/{id}": make_report(),
    "PUT /v1/reports/{held}/followups/{id}": {"happened": "2026-11", "state": "holding"},
    "POST /v1/reports/preview": make_report(),
    "POST /v1/ask": {"complaint": "no power"},
    "POST /v1/readings/judge": {"readings": [{"text": "output 230 V"}]},
    "POST /v1/join": {"code": "in0123456789_" + "x" * 43},
    "POST /v1/invitations": {"name": "rowan", "vouched": False},
    "POST /v1/review/{held}": {"verdict": "keep", "reason": "looked at"},
    "POST /v1/session": {"code": "in0123456789_" + "x" * 43},
}
TABLES = ("report", "followup", "change", "member", "invitation", "session", "judgement")
STEWARDS = ("POST /v1/invitations", "POST /v1/review/{held}")
OWN_PAGE = {"Sec-Fetch-Site": "same-origin"}  # needed by one of them, harmless to the others


@pytest.mark.parametrize("route", BODIES)
def test_a_field_of_ours_is_refused_by_name_and_changes_nothing(pool: Pool, route: str) -> None:
    held = pool.put(make_report())
    shown = pool.client("alder").get(f"/v1/reports/{held}").content
    before = rows(pool.store, TABLES)
    client = pool.client("steward" if route in STEWARDS else "alder")
    method, address = route.format(id=make_id(), held=held).split(" ")
    for name in set(OURS) - set(BODIES[route]):
        for value in ("x", True, 7, None, {"a": 1}):
            body = {**BODIES[route], name: value}
            answer = client.request(method, address, json=body, headers=OWN_PAGE)
            assert answer.status_code == 422, (name, value, answer.text)
            assert answer.json()["errors"][0]["at"] == f"/{name}"
    assert rows(pool.store, TABLES) == before
    assert pool.client("alder").get(f"/v1/reports/{held}").content == shown
