"""Signing in: whose token it is, when it stops, and how often it may be used."""

import re
from datetime import timedelta

import pytest
from sqlalchemy import text

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.usecases.members import digest

from tests.api.pools import START, Pool, running_pool
from tests.databases import Databases
from tests.factories import make_id


def test_nothing_of_version_1_is_done_for_someone_unknown_whatever_he_sends(
    pool: Pool,
) -> None:
    paths = pool.client().get("/openapi.json").json()["paths"]
    routes = [
        (method.upper(), re.sub(r"\{\w+\}", str(make_id()), path))
        for path, methods in paths.items()
        if path.startswith("/v1/")
        for method in methods
        if (method, path) not in {("post", "/v1/join"), ("post", "/v1/session")}
    ]
    assert len(routes) >= 10
    for method, route in [*routes, ("HEAD", "/v1/reports")]:
        for sent in (b"", b"{", b"x" * 1000):
            answer = pool.client().request(method, f"{route}?bogus=1", content=sent)
            assert answer.status_code == 401, (method, route)
            # RFC 6750 section 3: a challenge, and no error code when no token was sent.
            assert answer.headers["www-authenticate"] == 'Bearer realm="mendpool"'


@pytest.mark.parametrize(
    "route", ["/healthz", "/readyz", "/docs", "/docs.css", "/openapi.json"]
)
def test_these_need_no_token(pool: Pool, route: str) -> None:
    assert pool.client().get(route).status_code == 200


def with_header(pool: Pool, value: str) -> dict[str, str]:
    answer = pool.client().get("/v1/reports", headers={"Authorization": value})
    assert answer.status_code in (200, 401)
    return {"status": str(answer.status_code), **dict(answer.headers)}


def test_a_token_signs_in_whatever_the_case_of_its_scheme(pool: Pool) -> None:
    token = pool.members["alder"].token
    for scheme in ("Bearer", "bearer", "BEARER"):
        assert with_header(pool, f"{scheme} {token}")["status"] == "200"


@pytest.mark.parametrize(
    "value",
    [
        "Basic {token}",
        "{token}",
        "Bearer",
        "Bearer ",
        "Token {token}",
        "Bearer mp0000000000_nothing-of-this-kind-is-known",
        "Bearer {prefix}",
        "Bearer {prefix}_",
        "Bearer {prefix}_{other}",
        "Bearer {token}x",
        "Bearer {token} {token}",
        "Bearer " + "x" * 5000,
        "Bearer _",
    ],
)
def test_anything_else_does_not(pool: Pool, value: str) -> None:
    token = pool.members["alder"].token
    prefix, _, _ = token.partition("_")
    other = pool.members["birch"].token.partition("_")[2]
    seen = with_header(pool, value.format(token=token, prefix=prefix, other=other))
    assert seen["status"] == "401"
    assert seen["www-authenticate"] == 'Bearer realm="mendpool", error="invalid_token"'


def test_a_token_in_the_address_is_no_token(pool: Pool) -> None:
    # RFC 6750 section 2.3 allows it; addresses end up in logs, so it is not taken.
    token = pool.members["alder"].token
    assert pool.client().get(f"/v1/catalogue?access_token={token}").status_code == 401


def test_a_revoked_token_stops_at_once(pool: Pool) -> None:
    pool.join("willow")
    assert pool.client("willow").get("/v1/reports").status_code == 200
    pool.store.revoke_member("willow", START)
    answer = pool.client("willow").get("/v1/reports")
    assert answer.status_code == 401
    assert "invalid_token" in answer.headers["www-authenticate"]
    assert "revoked" in answer.json()["detail"]


def test_a_token_stops_at_the_moment_it_expires(pool: Pool) -> None:
    new = pool.join("hazel")
    expires = START + timedelta(days=1)
    with pool.store.engine.begin() as connection:
        connection.execute(
            text("UPDATE member SET expires_at = :at WHERE id = :id"),
            {"at": expires.strftime("%Y-%m-%d %H:%M:%S.%f"), "id": new.member.id},
        )
    held = pool.store.member_by_prefix(new.member.token_prefix)
    assert held is not None
    assert held.expires == expires
    pool.time[0] = expires - timedelta(seconds=1)
    assert pool.client("hazel").get("/v1/reports").status_code == 200
    pool.time[0] = expires
    answer = pool.client("hazel").get("/v1/reports")
    pool.time[0] = START
    assert answer.status_code == 401
    assert "expired" in answer.json()["detail"]


def test_the_database_keeps_no_token(pool: Pool) -> None:
    with pool.store.engine.connect() as connection:
        held = repr(connection.exec_driver_sql("SELECT * FROM member").all())
    for new in pool.members.values():
        assert new.token not in held
        assert new.token.partition("_")[2] not in held
        assert digest(new.token) in held


def test_members_that_are_made_here_are_vouched(pool: Pool) -> None:
    assert all(new.member.vouched for new in pool.members.values())


def test_a_token_is_of_256_random_bits(pool: Pool) -> None:
    # 43 letters of base64 hold 258 bits.
    assert all(len(new.token.partition("_")[2]) == 43 for new in pool.members.values())
    assert len({new.token for new in pool.members.values()}) == len(pool.members)


def test_too_many_requests_wait_as_told_and_others_go_on(
    databases: Databases, catalogue: Catalogue
) -> None:
    with running_pool(databases, catalogue, requests_a_minute=3) as pool:
        for _ in range(3):
            assert pool.client("alder").get("/v1/reports").status_code == 200
        for _ in range(2):
            answer = pool.client("alder").get("/v1/reports")
            assert answer.status_code == 429
            assert 1 <= int(answer.headers["retry-after"]) <= 60
        assert pool.client("birch").get("/v1/reports").status_code == 200
        assert pool.client().get("/readyz").status_code == 200
