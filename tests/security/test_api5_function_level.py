"""Row 7 (API5, ASVS 8.2.1): closed unless named open; to each what is theirs to do."""

import re

from tests.api.browsers import signed_in
from tests.api.pools import Pool, rows
from tests.factories import make_id, make_report

STEWARDS = ("/v1/members", "/v1/invitations", "/v1/review")
TABLES = ("member", "invitation", "judgement", "report", "change")

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


def test_what_is_a_stewards_is_refused_to_a_member_whatever_he_asks_for(pool: Pool) -> None:
    held, steward = pool.put(make_report()), pool.members["steward"].member
    said = {"verdict": "withdraw", "reason": "x"}
    asked: list[tuple[str, str, object]] = [
        ("GET", "members", None),
        ("GET", "invitations", None),
        ("POST", "invitations", {"name": "rowan"}),
        ("POST", "invitations", {"nonsense": 1}),
        ("GET", "review", None),
    ]
    for name in (held, str(make_id()), "nothing"):
        asked += [("POST", f"review/{name}", said), ("POST", f"review/{name}", {})]
    for name in (steward.pseudonym, pool.members["alder"].member.pseudonym, "m-nobody"):
        asked += [("DELETE", f"members/{name}", None), ("POST", f"members/{name}/code", None)]
    told = {path for _, path in routes(pool) if path.startswith(STEWARDS)}
    for path in told:
        like = re.compile(re.sub(r"\{\w+\}", "[^/]+", path))
        assert any(like.fullmatch(f"/v1/{address}") for _, address, _ in asked), path
    before = rows(pool.store, TABLES)
    browser = signed_in(pool)
    answers = set()
    for method, address, body in asked:
        for answer in (
            pool.client("alder").request(method, f"/v1/{address}", json=body),
            browser.ask(method, f"/v1/{address}", json=body),
        ):
            assert answer.status_code == 403, (method, address)
            answers.add(answer.text)
    assert len(answers) == 1, "whatever is asked for, the same is said"
    assert rows(pool.store, TABLES) == before


def test_what_is_the_operators_is_nowhere(pool: Pool) -> None:
    for word in (
        "member",
        "invite",
        "steward",
        "admin",
        "export",
        "backup",
        "metrics",
        "debug",
        "move",
        "restore",
    ):
        for method in ("GET", "POST", "PUT", "DELETE"):
            for client in (pool.client("steward"), pool.client("alder")):
                answer = client.request(method, f"/v1/{word}", json={})
                assert answer.status_code == 404, (method, word)
