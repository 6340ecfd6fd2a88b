"""Write every report out, a page at a time, without who sent it."""

import csv
import io
import json
from collections.abc import Iterator
from typing import Any

from mendpool.store.pool_store import PoolStore
from mendpool.store.values import StoredFollowup, StoredReport
from mendpool.usecases.workplace import GIVEN

_PAGE = 500
_MADE_HERE = ("advice", "cautions", "removed", GIVEN, "symptoms", "readings")
_COLUMNS = ("id", "received", "happened", "outcome", "complaint", "symptoms", "note")
_NESTED = ("machine", "readings", "observations", "attempts", "cause", "causes", "followups")
_RUNS = ("=", "+", "-", "@", "\t", "\r")


def json_lines(store: PoolStore) -> Iterator[str]:
    """Give a line a report, in the order they came; `import` takes them again."""
    for report in _reports(store):
        yield json.dumps(given_out(report), ensure_ascii=False, separators=(",", ":")) + "\n"


def csv_rows(store: PoolStore) -> Iterator[str]:
    """Give a heading and a row a report; what has parts is JSON in its cell."""
    yield _row([*_COLUMNS, *_NESTED])
    for report in _reports(store):
        told = given_out(report)
        yield _row([_cell(told.get(name)) for name in (*_COLUMNS, *_NESTED)])


def defused(cell: str) -> str:
    """Return a cell that a spreadsheet shows and does not run (OWASP, CSV injection)."""
    return f"'{cell}" if cell.startswith(_RUNS) else cell


def _reports(store: PoolStore) -> Iterator[StoredReport]:
    after = 0
    while page := store.reports_after(after, _PAGE):
        yield from page
        after = page[-1].seq


def given_out(report: StoredReport) -> dict[str, Any]:
    """Return the report as it was given, scrubbed, so that it can be filed elsewhere."""
    body: dict[str, Any] = json.loads(report.body)
    given = body.get(GIVEN, {})
    kept = {name: value for name, value in body.items() if name not in _MADE_HERE}
    return {
        "id": str(report.id),
        "received": report.received.strftime("%Y-%m-%dT%H:%M:%SZ"),
        **kept,
        **given,
        "followups": [_followup(f) for f in report.followups],
    }


def _followup(followup: StoredFollowup) -> dict[str, Any]:
    body: dict[str, Any] = json.loads(followup.body)
    return {"id": str(followup.id), **{n: v for n, v in body.items() if n not in _MADE_HERE}}


def _cell(value: object) -> str:
    if value is None:
        return ""
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def _row(cells: list[str]) -> str:
    out = io.StringIO()
    csv.writer(out).writerow([defused(cell) for cell in cells])
    return out.getvalue()
