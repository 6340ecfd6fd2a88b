"""Row 6 (API3, ASVS 15.3.1, 8.2.3): no answer holds more than it was made to hold."""

import inspect

from fastapi.routing import iter_route_contexts
from starlette.responses import Response

from mendpool.api.outer import Outer
from mendpool.usecases.members import add_member, digest

from tests.api.pools import Pool
from tests.factories import make_id, make_report

LATER = {"happened": "2026-11", "state": "holding"}


def test_every_route_makes_its_answer_itself(pool: Pool) -> None:
    """None hands FastAPI a row, a dict or a model to write out as it likes."""
    assert isinstance(pool.app, Outer)
    routes = [
        r.original_route if hasattr(r, "original_route") else r
        for r in iter_route_contexts(pool.app._app.routes)  # type: ignore[attr-defined]
    ]
    endpoints = [e for r in routes if (e := getattr(r, "endpoint", None)) is not None]
    assert len(endpoints) > 15
    for endpoint in endpoints:
        told = inspect.signature(endpoint, eval_str=True).return_annotation
        own = isinstance(told, type) and issubclass(told, Response)
        # Starlette's own route of the OpenAPI document is written without one.
        assert own or endpoint.__module__.startswith("fastapi"), endpoint


def test_what_only_the_pool_knows_is_in_no_answer(fresh: Pool) -> None:
    named = "Canary Quibbleworth"
    new = add_member(fresh.store, named, "member", fresh.time[0])
    fresh.members[named] = new
    report = fresh.put(make_report(), named)
    client = fresh.client(named)
    answers = [
        client.get(f"/v1/reports/{report}"),
        client.get("/v1/reports"),
        client.get("/v1/reports?q=power"),
        client.get("/v1/changes"),
        client.get("/v1/snapshot"),
        client.post("/v1/ask", json={"complaint": "no power"}),
        client.put(f"/v1/reports/{report}/followups/{make_id()}", json=LATER),
        client.get("/openapi.json"),
        client.get("/readyz"),
    ]
    member = new.member
    secrets = [named, "Quibbleworth", digest(new.token), new.token, member.token_prefix]
    for answer in answers:
        assert answer.is_success
        for secret in (*secrets, fresh.service.place.key.hex()):
            assert secret not in answer.text, answer.url
    for address in (f"/v1/reports/{report}", "/v1/reports", "/v1/changes"):
        assert member.pseudonym not in fresh.client("birch").get(address).text
