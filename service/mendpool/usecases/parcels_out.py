"""Write a parcel: what one pool gives another by hand, too coarse to tell who or where.

A parcel is JSON Lines. Every line stands for itself: a report, a follow-up or a withdrawal,
with the pool it comes from and an author known by nothing but a keyed hash of that pool. The
last line says how many there were and their hash, so that a parcel that broke off is known;
what was read of it counts all the same. Lines of other pools go on word for word.

A report is only written where its class (see `core.privacy.coarse.class_of`) is of three
people or more, counted over everything held, so that nobody stands alone in it.
"""

import hashlib
import hmac
import json
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from mendpool.core.privacy.coarse import class_of, coarse_followup, coarse_report
from mendpool.store.pool_store import PoolStore
from mendpool.store.values import ForeignKind, PoolSettings, StoredReport
from mendpool.usecases.bulk_out import given_out, is_foreign, stored_reports

PEOPLE_LEAST = 3
"""Fewer people than this in a class and its reports stay at home (small-group suppression)."""
FORMAT = 1
FOREIGN_KINDS: tuple[ForeignKind, ...] = ("report", "followup", "withdrawal")
"""In the order they are written."""
Line = Mapping[str, Any]


@dataclass(slots=True)
class Written:
    """What was written: lines by kind, and reports that stayed at home."""

    lines: Counter[str] = field(default_factory=Counter)
    kept_home: int = 0


@dataclass(frozen=True, slots=True)
class _Classes:
    """Which classes are of enough people, and the class of each report, own and of others."""

    common: set[str]
    of_own: dict[UUID, str]
    of_foreign: dict[UUID, str]

    def has(self, report: UUID) -> bool:
        # A withdrawal is of no class and always goes.
        held = self.of_foreign.get(report) or self.of_own.get(report)
        return held is None or held in self.common


def write_parcel(store: PoolStore, written: Written) -> Iterator[str]:
    """Give the lines of a parcel, the last one with their hash; `written` counts them."""
    settled = store.pool_settings()
    classes = _classes(store, settled)
    digest = hashlib.sha256()
    for kind, line in _lines(store, settled, classes, written):
        written.lines[kind] += 1
        digest.update(line.encode())
        yield line + "\n"
    end = {"parcel": FORMAT, "lines": written.lines.total(), "sha256": digest.hexdigest()}
    yield line_text(end) + "\n"


def _lines(
    store: PoolStore, settled: PoolSettings, classes: _Classes, written: Written
) -> Iterator[tuple[str, str]]:
    """Reports before what follows them, so that no reader has to wait for one."""
    for report in stored_reports(store, foreign=False):
        if not classes.has(report.id):
            written.kept_home += 1
            continue
        coarse = coarse_report(given_out(report))
        yield "report", line_text(_report_line(settled, report, coarse))
        yield from _followup_lines(settled, report)
    origin = str(settled.pool_id)
    for report_id in store.withdrawn_own():
        line = {"kind": "withdrawal", "id": str(report_id), "origin": origin}
        yield "withdrawal", line_text(line)
    written.kept_home += sum(not classes.has(report_id) for report_id in classes.of_foreign)
    yield from _foreign(store, settled, classes)


def _foreign(
    store: PoolStore, settled: PoolSettings, classes: _Classes
) -> Iterator[tuple[str, str]]:
    """What came from elsewhere, and what was seen here later of those reports."""
    for kind in FOREIGN_KINDS:
        for held in store.foreign_lines(kind):
            if classes.has(held.report_id):
                yield kind, held.line
    if classes.of_foreign:
        for report in stored_reports(store, foreign=True):
            if classes.has(report.id):
                yield from _followup_lines(settled, report)


def _classes(store: PoolStore, settled: PoolSettings) -> _Classes:
    """Count the people of every class, over own reports and those of other pools."""
    people: dict[str, set[str]] = defaultdict(set)
    of_own: dict[UUID, str] = {}
    of_foreign: dict[UUID, str] = {}
    for report in stored_reports(store, foreign=False):
        name = sys.intern(class_of(coarse_report(given_out(report))))
        of_own[report.id] = name
        people[name].add(_author(settled, report.pseudonym))
    for held in store.foreign_lines("report"):
        line = json.loads(held.line)
        # One string for a class, however many reports are of it.
        of_foreign[held.id] = name = sys.intern(class_of(line["body"]))
        people[name].add(f"{line['origin']} {line['author']}")
    common = {name for name, who in people.items() if len(who) >= PEOPLE_LEAST}
    return _Classes(common, of_own, of_foreign)


def _report_line(settled: PoolSettings, report: StoredReport, coarse: Line) -> Line:
    return {
        "kind": "report",
        "id": str(report.id),
        "origin": str(settled.pool_id),
        "author": _author(settled, report.pseudonym),
        "body": coarse,
    }


def _followup_lines(settled: PoolSettings, report: StoredReport) -> Iterator[tuple[str, str]]:
    """The lines of own follow-ups; those of another pool go on word for word."""
    repaired = json.loads(report.body).get("happened")
    for followup in report.followups:
        if is_foreign(followup.pseudonym):
            continue
        line = {
            "kind": "followup",
            "id": str(followup.id),
            "report": str(report.id),
            "origin": str(settled.pool_id),
            "author": _author(settled, followup.pseudonym),
            "body": coarse_followup(json.loads(followup.body), repaired),
        }
        yield "followup", line_text(line)


def _author(settled: PoolSettings, pseudonym: str) -> str:
    keyed = hmac.new(settled.key, b"parcel\0" + pseudonym.encode(), hashlib.sha256)
    return keyed.hexdigest()[:16]


def line_text(line: Line) -> str:
    """Return the one spelling of a line, without its end."""
    return json.dumps(line, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
