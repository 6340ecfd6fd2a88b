"""Write the pool's own reports out, a page at a time, without who sent them.

What came from other pools is not the pool's to file again: brought in with `import` it would
stand there as a member's own, dated January of its year. Parcels carry it on, and `move`
takes all there is.
"""

import csv
import io
import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from mendpool.store.pool_store import PoolStore
from mendpool.store.values import FOREIGN_PSEUDONYM, StoredFollowup, StoredReport
from mendpool.usecases.workplace import GIVEN

_PAGE = 500
_MADE_HERE = ("advice", "cautions", "removed", GIVEN, "symptoms", "readings")
_COLUMNS = (
    "id", "received", "happened", "outcome", "protection_defeated", "complaint", "symptoms",
    "note", "region", "continues",
)  # fmt: skip
_NESTED = (
    "machine", "readings", "observations", "before", "attempts", "protection", "cause",
    "causes", "followups",
)  # fmt: skip
_RUNS = ("=", "+", "-", "@", "\t", "\r")


@dataclass(slots=True)
class Exported:
    """How many reports of other pools were left out."""

    of_others: int = 0


def json_lines(store: PoolStore, done: Exported) -> Iterator[str]:
    """Give a line a report, in the order they came; `import` takes them again."""
    for report in _own(store, done):
        yield json.dumps(given_out(report), ensure_ascii=False, separators=(",", ":")) + "\n"


def csv_rows(store: PoolStore, done: Exported) -> Iterator[str]:
    """Give a heading and a row a report; what has parts is JSON in its cell."""
    yield _row([*_COLUMNS, *_NESTED])
    for report in _own(store, done):
        told = given_out(report)
        yield _row([_cell(told.get(name)) for name in (*_COLUMNS, *_NESTED)])


def defused(cell: str) -> str:
    """Return a cell that a spreadsheet shows and does not run (OWASP, CSV injection)."""
    return f"'{cell}" if cell.startswith(_RUNS) else cell


def stored_reports(store: PoolStore, *, foreign: bool | None = None) -> Iterator[StoredReport]:
    """Give reports as they came: the pool's own, those of other pools, or all (None)."""
    after = 0
    while page := store.reports_after(after, _PAGE):
        yield from (r for r in page if foreign in {None, is_foreign(r.pseudonym)})
        after = page[-1].seq


def is_foreign(pseudonym: str) -> bool:
    """Tell whether who is called so came with a parcel."""
    return pseudonym.startswith(FOREIGN_PSEUDONYM)


def _own(store: PoolStore, done: Exported) -> Iterator[StoredReport]:
    for report in stored_reports(store):
        if is_foreign(report.pseudonym):
            done.of_others += 1
        else:
            yield report


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
