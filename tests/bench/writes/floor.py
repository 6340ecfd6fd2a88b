"""The floor: a bare FastAPI route that keeps the same rows as durably, with raw SQL.

It gets rows that are ready: nothing is checked, understood, scrubbed, hashed or asked of
who sends them, and it answers a constant. One connection and one lock a process, since raw
writers from a thread pool only get in each other's way.
"""

import json
import os
import threading
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from fastapi import FastAPI, Request
from sqlalchemy.engine import make_url
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from mendpool.store.engine import sqlite_library, wal_is_safe

_LAST = "SELECT coalesce(max(seq), 0) FROM change"
_REPORT = (
    "INSERT INTO report (id, seq, member_id, received_at, sameness, body, case_body,"
    " derived_version, fuel, outcome) VALUES ({})"
)
_SYMPTOM = "INSERT INTO report_symptom (symptom, report_seq) VALUES ({})"
_COMPONENT = "INSERT INTO report_component (component, report_seq) VALUES ({})"
_CHANGE = "INSERT INTO change (seq, kind, ref, at) VALUES ({})"


def create_app() -> FastAPI:
    """Return the application over the database that `MENDPOOL_DATABASE_URL` names."""
    url = os.environ["MENDPOOL_DATABASE_URL"]
    raw = _SqliteRows(url) if url.startswith("sqlite") else _PostgresRows(url)
    turn = threading.Lock()
    app = FastAPI(telemetry={"logs": False})

    def keep(report_id: str, row: dict[str, Any]) -> None:
        with turn:
            raw.add(report_id, row)

    @app.put("/v1/reports/{report_id}")
    async def put(report_id: str, request: Request) -> Response:
        row = json.loads(await request.body())
        await run_in_threadpool(keep, report_id, row)
        return Response(b"{}", 201, media_type="application/json")

    @app.get("/readyz")
    def ready() -> Response:
        return Response(b"{}")

    return app


class _SqliteRows:
    """The same journal, the same syncing as the pool's own file."""

    def __init__(self, url: str) -> None:
        self._raw = sqlite_library().connect(
            make_url(url).database, check_same_thread=False, timeout=5, isolation_level=None
        )
        for pragma in (
            "journal_mode = " + ("wal" if wal_is_safe() else "delete"),
            "synchronous = FULL",
            "foreign_keys = ON",
            "secure_delete = ON",
        ):
            self._raw.execute(f"PRAGMA {pragma}")

    def add(self, report_id: str, row: dict[str, Any]) -> None:
        self._raw.execute("BEGIN IMMEDIATE")
        now = datetime.now(UTC).strftime("%Y-%m-%d %H:%M:%S.%f")
        name = UUID(report_id).hex
        _add(self._raw, "?", name, now, row)
        self._raw.execute("COMMIT")


class _PostgresRows:
    """The same lock before the number, since a feed must not show a later line first."""

    def __init__(self, url: str) -> None:
        import psycopg  # noqa: PLC0415 - only where it is used

        dsn = make_url(url).set(drivername="postgresql")
        self._raw = psycopg.connect(dsn.render_as_string(hide_password=False))

    def add(self, report_id: str, row: dict[str, Any]) -> None:
        with self._raw.transaction(), self._raw.cursor() as cursor:
            cursor.execute(f"SELECT pg_advisory_xact_lock({0x6D656E64})")
            _add(cursor, "%s", UUID(report_id), datetime.now(UTC), row)


def _add(raw: Any, mark: str, name: object, now: object, row: dict[str, Any]) -> None:
    seq = int(raw.execute(_LAST).fetchone()[0]) + 1
    report = (
        name, seq, 1, now, row["sameness"], row["body"], row["case_body"],
        row["derived_version"], row["fuel"], row["outcome"],
    )  # fmt: skip
    raw.execute(_REPORT.format(_marks(mark, 10)), report)
    if row["symptoms"]:
        raw.executemany(
            _SYMPTOM.format(_marks(mark, 2)), [(code, seq) for code in row["symptoms"]]
        )
    if row["components"]:
        raw.executemany(
            _COMPONENT.format(_marks(mark, 2)), [(code, seq) for code in row["components"]]
        )
    raw.execute(_CHANGE.format(_marks(mark, 4)), (seq, "report", str(UUID(str(name))), now))


def _marks(mark: str, count: int) -> str:
    return ", ".join([mark] * count)
