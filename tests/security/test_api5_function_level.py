"""Row 7 (API5, ASVS 8.2.1): closed unless named open; nothing of the operator's over HTTP."""

import re

from tests.api.pools import Pool
from tests.factories import make_id

OPEN = {
    "GET /healthz": 200,
    "GET /readyz": 200,
    "POST /v1/join": 422,  # an empty body is no code
    "POST /v1/session": 403,  # nor is this a page of the pool's own
}


def routes(pool: Pool) -> list[tuple[str, str]]:
    paths = pool.client().get("/openapi.json").json()["paths"]
    return [(method.upper(), path) for path, methods in paths.items() for method in methods]


def test_without_a_token_only_what_is_named_open_answers(pool: Pool) -> None:
    walked = routes(pool)
    assert len(walked) > 15
    for method, path in walked:
        address = re.sub(r"\{\w+\}", str(make_id()), path)
        status = pool.client().request(method, address, json={}).status_code
        assert status == OPEN.get(f"{method} {path}", 401), (method, path)


def test_members_are_made_revoked_and_judged_by_the_operator_alone(pool: Pool) -> None:
    for word in (
        "member",
        "members",
        "invite",
        "invitations",
        "review",
        "steward",
        "admin",
        "export",
        "backup",
        "metrics",
        "debug",
    ):
        for method in ("GET", "POST", "PUT", "DELETE"):
            for client in (pool.client("steward"), pool.client("alder")):
                answer = client.request(method, f"/v1/{word}", json={})
                assert answer.status_code == 404, (method, word)
