"""Row 30 (ASVS 16.5.1, 16.5.3): what fails at a commit is no success, and tells no inside."""

from typing import Any

import pytest
from sqlalchemy import event
from sqlalchemy.exc import OperationalError

from tests.api.pools import Pool, rows
from tests.factories import make_id, make_report

INSIDES = (
    "Traceback",
    "sqlalchemy",
    "sqlite",
    "psycopg",
    "SELECT",
    "INSERT",
    'File "',
    "/service/",
    "OperationalError",
    "database is locked!",
)
TABLES = ("report", "followup", "change", "member", "judgement")


def writes(pool: Pool) -> list[Any]:
    report = pool.put(make_report())
    client = pool.client("alder")
    return [
        lambda: client.put(f"/v1/reports/{make_id()}", json=make_report()),
        lambda: client.put(
            f"/v1/reports/{report}/followups/{make_id()}",
            json={"happened": "2026-11", "state": "holding"},
        ),
        lambda: client.delete(f"/v1/reports/{report}"),
    ]


@pytest.mark.parametrize("which", [0, 1, 2])
def test_a_commit_that_fails_is_told_as_a_failure_and_keeps_nothing(
    fresh: Pool, which: int
) -> None:
    write = writes(fresh)[which]
    fresh.client("alder").get("/v1/reports")
    before = rows(fresh.store, TABLES)

    def fail(_: object) -> None:
        raise OperationalError("COMMIT", {}, Exception("database is locked!"))

    event.listen(fresh.store.engine, "commit", fail)
    try:
        answer = write()
    finally:
        event.remove(fresh.store.engine, "commit", fail)
    assert answer.status_code in (500, 503)
    assert answer.headers["content-type"] == "application/problem+json"
    assert not [inside for inside in INSIDES if inside in answer.text]
    assert rows(fresh.store, TABLES) == before
    assert write().status_code in (201, 204)
