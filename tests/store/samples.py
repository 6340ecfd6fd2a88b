"""One valid thing of each kind; every value can be told apart, none is random."""

import hashlib
import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from uuid import UUID

from sqlalchemy import event

from mendpool.store.photos import HeldPhoto, NewPhoto
from mendpool.store.pool_store import PoolStore
from mendpool.store.values import (
    Facets,
    Member,
    NewReport,
    PutResult,
    StoredFollowup,
    StoredReport,
)

NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
LATER = NOW + timedelta(days=1)
POOL_ID = UUID("0193b0a0-0000-7000-8000-00000000aaaa")
POOL_KEY = bytes(range(32))


def an_id(number: int) -> UUID:
    """Return a UUIDv7 of its own for each number."""
    return UUID(int=0x0193B0A0_0000_7000_8000_000000000000 + number)


def add_member(store: PoolStore, name: str, **given: object) -> Member:
    values = {
        "role": "member",
        "token_sha256": name.encode().hex().ljust(64, "0")[:64],
        "token_prefix": f"mp_{name}",
        "pseudonym": f"hand-{name}",
        "now": NOW,
        **given,
    }
    return store.add_member(name, **values)  # type: ignore[arg-type]


def facets(**given: object) -> Facets:
    values = {
        "fuel": "diesel",
        "excitation": "brushed-avr",
        "outcome": "repaired",
        "happened": "2026-10",
        "symptoms": ("no-output",),
        "components": ("avr", "brushes"),
        **given,
    }
    return Facets(**values)  # type: ignore[arg-type]


def new_report(member: Member, number: int = 1, **given: object) -> NewReport:
    values = {
        "report_id": an_id(number),
        "member_id": member.id,
        "sameness": f"same-{number}",
        "body": json.dumps({"said": f"report {number}"}),
        "case_body": json.dumps({"terms": [f"case {number}"]}),
        "derived_version": "1",
        "facets": facets(),
        **given,
    }
    return NewReport(**values)  # type: ignore[arg-type]


def put(
    store: PoolStore, member: Member, number: int = 1, **given: object
) -> PutResult[StoredReport]:
    return store.put_report(new_report(member, number, **given), NOW)


def follow(
    store: PoolStore, member: Member, number: int = 1, **given: object
) -> PutResult[StoredFollowup]:
    """Put the follow-up ``an_id(100 + number)`` to the report ``an_id(number)``."""
    values = {
        "report_id": an_id(number),
        "followup_id": an_id(100 + number),
        "member_id": member.id,
        "steward": member.role == "steward",
        "sameness": f"follows-{number}",
        "body": json.dumps({"state": f"of {number}"}),
        "now": NOW,
        **given,
    }
    return store.put_followup(**values)  # type: ignore[arg-type]


@contextmanager
def selects(store: PoolStore) -> Iterator[list[str]]:
    """Collect the queries that the store sends in the block."""
    seen: list[str] = []

    def note(_c: object, _u: object, statement: str, *_rest: object) -> None:
        if statement.startswith("SELECT"):
            seen.append(statement)

    event.listen(store.engine, "before_cursor_execute", note)
    yield seen
    event.remove(store.engine, "before_cursor_execute", note)


def put_photo(store: PoolStore, member: Member, number: int, body: bytes) -> HeldPhoto:
    """Give the report of that number a photograph; the store looks at no bytes."""
    sha256 = hashlib.sha256(body).hexdigest()
    photo_id = an_id(500_000 + number)
    new = NewPhoto(photo_id, an_id(number), member.id, sha256, sha256, 320, 240, body)
    return store.put_photo(new, 6, 100, NOW)[1]
