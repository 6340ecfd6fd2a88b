"""Parcels over the wire: for stewards, streamed, with limits of their own."""

import gzip
import hashlib
import json
from collections.abc import Iterator
from typing import Any

import pytest

from mendpool.api import parcel_routes
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.privacy.coarse import coarse_report
from mendpool.usecases.parcels_out import line_text

from tests.api.pools import Pool, rows, running_pool
from tests.databases import Databases
from tests.factories import make_id, make_report

LINES = {"Content-Type": "application/x-ndjson"}
PACKED = {"Content-Type": "application/gzip"}


@pytest.fixture
def other(databases: Databases, catalogue: Catalogue) -> Iterator[Pool]:
    with running_pool(databases, catalogue) as running:
        yield running


def filled(pool: Pool) -> Pool:
    """Let three people file a report each."""
    for name in ("alder", "birch", "steward"):
        pool.put(make_report(), name)
    return pool


def sent(pool: Pool, body: bytes, headers: dict[str, str] = LINES) -> Any:
    return pool.client("steward").post("/v1/parcel", content=body, headers=headers)


def foreign(count: int) -> bytes:
    """So many reports of one author of an invented pool, with their end."""
    origin, body = str(make_id()), coarse_report(make_report())
    lines = [
        line_text({"kind": "report", "id": str(make_id()), "origin": origin,
                   "author": "a" * 16, "body": body})
        for _ in range(count)
    ]  # fmt: skip
    digest = hashlib.sha256("".join(lines).encode()).hexdigest()
    end = line_text({"parcel": 1, "lines": count, "sha256": digest})
    return "".join(f"{line}\n" for line in [*lines, end]).encode()


def test_what_one_gives_the_other_takes_once(fresh: Pool, other: Pool) -> None:
    given = filled(fresh).client("steward").get("/v1/parcel")
    assert given.headers["content-type"] == "application/x-ndjson"
    assert "gzip" in given.headers["content-encoding"]
    plain = fresh.client("steward").get("/v1/parcel", headers={"Accept-Encoding": "identity"})
    assert "content-encoding" not in plain.headers
    assert plain.content == given.content
    assert json.loads(given.text.splitlines()[-1])["lines"] == 3
    assert "Harrow" not in given.text
    taken = sent(other, given.content)
    assert (taken.status_code, taken.json()) == (200, {"new": 3, "left_out": 0, "whole": True})
    unchanged = {"unchanged": 3, "left_out": 0, "whole": True}
    packed = gzip.compress(given.content)
    assert sent(other, packed, PACKED).json() == unchanged
    assert sent(other, packed, {**LINES, "Content-Encoding": "gzip"}).json() == unchanged
    assert sent(fresh, given.content).json() == {"own": 3, "left_out": 0, "whole": True}


def test_one_that_broke_off_is_told_and_kept_so_far(fresh: Pool) -> None:
    parcel = foreign(3)
    lines = parcel.splitlines(keepends=True)
    told = sent(fresh, lines[0] + lines[1][:40]).json()
    assert told == {"new": 1, "left_out": 1, "whole": False}
    torn = gzip.compress(b"".join(lines[:2]))[:-6]
    assert sent(fresh, torn, PACKED).json() == {
        "new": 1, "unchanged": 1, "left_out": 0, "whole": False,
    }  # fmt: skip
    assert sent(fresh, parcel).json()["new"] == 1


@pytest.mark.parametrize("name", ["alder", ""])
def test_it_is_for_stewards(fresh: Pool, name: str) -> None:
    client, expected = fresh.client(name), 403 if name else 401
    for answer in (
        client.get("/v1/parcel"),
        client.post("/v1/parcel", content=foreign(1), headers=LINES),
    ):
        assert answer.status_code == expected
        assert answer.headers["content-type"] == "application/problem+json"
    assert rows(fresh.store, ("report", "parcel")) == [0, 0]


@pytest.mark.parametrize(
    ("headers", "body", "status"),
    [
        ({"Content-Type": "application/json"}, b"{}", 415),
        ({**LINES, "Content-Encoding": "br"}, b"{}", 415),
        ({**PACKED, "Content-Encoding": "gzip"}, b"{}", 415),
        (LINES, b"", 422),
        (LINES, b'{"machine": {"fuel": "diesel"}}\n', 422),
        (PACKED, b"\xff\xd8\xff", 422),
    ],
)
def test_what_is_no_parcel_is_refused(
    fresh: Pool, headers: dict[str, str], body: bytes, status: int
) -> None:
    answer = sent(fresh, body, headers)
    assert answer.status_code == status
    assert answer.json()["detail"]
    assert rows(fresh.store, ("report", "parcel")) == [0, 0]


def test_it_may_be_larger_than_another_body_and_has_its_own_end(
    fresh: Pool, monkeypatch: pytest.MonkeyPatch
) -> None:
    large = foreign(400)
    assert len(large) > 256 * 1024
    assert sent(fresh, large).json()["new"] == 400
    answer = sent(fresh, b"x" * (parcel_routes.PARCEL_MAX + 1))
    assert (answer.status_code, answer.json()["title"]) == (413, "The body is too large")
    assert "16 MiB" in answer.json()["detail"]
    in_pieces = (b"x" * 1024**2 for _ in range(17))  # tells no length beforehand
    answer = fresh.client("steward").post("/v1/parcel", content=in_pieces, headers=LINES)
    assert answer.status_code == 413
    assert "pool parcel read" in answer.json()["detail"]
    # One that unpacks to more than it may is stopped on the way.
    monkeypatch.setattr(parcel_routes, "UNPACKED_MAX", 100_000)
    answer = sent(fresh, gzip.compress(foreign(400)), PACKED)
    assert answer.status_code == 413


def test_other_bodies_keep_their_limit(fresh: Pool) -> None:
    for method, path in (("POST", "/v1/ask"), ("POST", "/v1/parcel/")):
        answer = fresh.client("steward").request(method, path, content=b"x" * (256 * 1024 + 1))
        assert answer.status_code == 413
        assert "256 KiB" in answer.json()["detail"], path
