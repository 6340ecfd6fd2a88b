"""Parcels: what one pool gives another by hand, too coarse to tell who or where.

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
import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from pydantic import ValidationError

from mendpool.core.catalogue.codes import check_followup
from mendpool.core.errors import MendpoolError, RefusedInput
from mendpool.core.privacy.coarse import class_of, coarse_followup, coarse_report
from mendpool.core.record.report import Followup, Report
from mendpool.store.parcels import Taken
from mendpool.store.pool_store import PoolStore
from mendpool.store.values import FOREIGN_PSEUDONYM, ForeignLine, PoolSettings, StoredReport
from mendpool.usecases.bulk_out import given_out
from mendpool.usecases.file_report import new_report
from mendpool.usecases.workplace import Workplace

PEOPLE_LEAST = 3
"""Fewer people than this in a class and its reports stay at home (small-group suppression)."""
FORMAT = 1
_PAGE = 500
_LINE_MOST = 512 * 1024
_AUTHOR = re.compile(r"[0-9a-f]{16}")
_UUID_7 = 7
_NOBODY = "0" * 16
_FIELDS = {
    "report": {"kind", "id", "origin", "author", "body"},
    "followup": {"kind", "id", "report", "origin", "author", "body"},
    "withdrawal": {"kind", "id", "origin"},
}

Line = Mapping[str, Any]


@dataclass(slots=True)
class Written:
    """What was written: lines by kind, and reports that stayed at home."""

    lines: Counter[str] = field(default_factory=Counter)
    kept_home: int = 0


@dataclass(slots=True)
class Read:
    """What became of the lines of a parcel.

    Args:
        taken: how many came to what (`new`, `unchanged`, `own`, `withdrawn`, `early`).
        left_out: lines that could not be used.
        whole: its last line was there and agreed.
        gone: something was taken back.
    """

    taken: Counter[Taken] = field(default_factory=Counter)
    left_out: int = 0
    whole: bool = False
    gone: bool = False


class BadParcelError(MendpoolError):
    """It is no parcel at all."""


# ------------------------------------------------------------------ writing


def write_parcel(store: PoolStore, written: Written) -> Iterator[str]:
    """Give the lines of a parcel, the last one with their hash; `written` counts them."""
    settled = store.pool_settings()
    common = _classes(store, settled)
    digest = hashlib.sha256()
    for kind, line in _lines(store, settled, common, written):
        written.lines[kind] += 1
        digest.update(line.encode())
        yield line + "\n"
    end = {"parcel": FORMAT, "lines": written.lines.total(), "sha256": digest.hexdigest()}
    yield _text(end) + "\n"


def _lines(
    store: PoolStore, settled: PoolSettings, common: set[str], written: Written
) -> Iterator[tuple[str, str]]:
    """Reports before what follows them, so that no reader has to wait for one."""
    for report in _all(store, foreign=False):
        coarse = coarse_report(given_out(report))
        if class_of(coarse) not in common:
            written.kept_home += 1
            continue
        yield "report", _text(_report_line(settled, report, coarse))
        yield from _followup_lines(settled, report)
    for report_id in store.withdrawn_own():
        origin = str(settled.pool_id)
        yield (
            "withdrawal",
            _text({"kind": "withdrawal", "id": str(report_id), "origin": origin}),
        )
    kept_home = _rare(store, common)
    written.kept_home += len(kept_home)
    yield from _foreign(store, settled, kept_home)


def _foreign(
    store: PoolStore, settled: PoolSettings, kept_home: set[UUID]
) -> Iterator[tuple[str, str]]:
    """What came from elsewhere, and what was seen here later of those reports."""
    for kind in ("report", "followup", "withdrawal"):
        for held in store.foreign_lines():
            if held.kind == kind and held.report_id not in kept_home:
                yield kind, held.line
    for report in _all(store, foreign=True):
        if report.id not in kept_home:
            yield from _followup_lines(settled, report)


def _rare(store: PoolStore, common: set[str]) -> set[UUID]:
    """Return the reports of other pools whose class is of too few people here."""
    return {
        held.id
        for held in store.foreign_lines()
        if held.kind == "report" and class_of(json.loads(held.line)["body"]) not in common
    }


def _all(store: PoolStore, *, foreign: bool) -> Iterator[StoredReport]:
    """Give the pool's own reports, or those of other pools."""
    after = 0
    while page := store.reports_after(after, _PAGE):
        yield from (r for r in page if _is_foreign(r.pseudonym) == foreign)
        after = page[-1].seq


def _is_foreign(pseudonym: str) -> bool:
    return pseudonym.startswith(FOREIGN_PSEUDONYM)


def _classes(store: PoolStore, settled: PoolSettings) -> set[str]:
    """Return the classes of enough people, over own reports and those of other pools."""
    people: dict[str, set[str]] = defaultdict(set)
    for report in _all(store, foreign=False):
        people[class_of(coarse_report(given_out(report)))].add(
            _author(settled, report.pseudonym)
        )
    for held in store.foreign_lines():
        if held.kind == "report":
            line = json.loads(held.line)
            people[class_of(line["body"])].add(f"{line['origin']} {line['author']}")
    return {name for name, who in people.items() if len(who) >= PEOPLE_LEAST}


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
        if _is_foreign(followup.pseudonym):
            continue
        line = {
            "kind": "followup",
            "id": str(followup.id),
            "report": str(report.id),
            "origin": str(settled.pool_id),
            "author": _author(settled, followup.pseudonym),
            "body": coarse_followup(json.loads(followup.body), repaired),
        }
        yield "followup", _text(line)


def _author(settled: PoolSettings, pseudonym: str) -> str:
    keyed = hmac.new(settled.key, b"parcel\0" + pseudonym.encode(), hashlib.sha256)
    return keyed.hexdigest()[:16]


def _text(line: Line) -> str:
    return json.dumps(line, sort_keys=True, ensure_ascii=False, separators=(",", ":"))


# ------------------------------------------------------------------ reading


def read_parcel(place: Workplace, lines: Iterable[bytes], now: datetime) -> Iterator[Read]:
    """Take the lines of a parcel in, giving how far it is after each page; the last is final.

    Read twice, in any order, partly or back in its own pool, it changes nothing further.

    Raises:
        BadParcelError: nothing of it could be used.
    """
    done = Read()
    digest = hashlib.sha256()
    own_pool = str(place.store.pool_settings().pool_id)
    for before, raw in enumerate(lines):
        text = raw.rstrip(b"\r\n")
        end = _end_of(text)
        if end is not None:
            done.whole = (end["lines"], end["sha256"]) == (before, digest.hexdigest())
            break
        digest.update(text)
        _take_one(place, text, own_pool, now, done)
        if (before + 1) % _PAGE == 0:
            yield done
    if not done.taken and not done.whole:
        raise BadParcelError("This is no parcel, or nothing of it can be used.")
    if done.gone:
        place.learned.fit_if_due(now, at_once=True, then=place.store.erase_remnants)
    elif done.taken["new"]:
        place.learned.fit_if_due(now)
    yield done


def _take_one(place: Workplace, text: bytes, own_pool: str, now: datetime, done: Read) -> None:
    try:
        kind, taken = _take(place, text, own_pool, now)
    except (_UnusableError, RefusedInput, ValidationError):
        done.left_out += 1
        return
    done.taken[taken] += 1
    done.gone = done.gone or (kind == "withdrawal" and taken == "new")


class _UnusableError(ValueError):
    pass


def _take(place: Workplace, text: bytes, own_pool: str, now: datetime) -> tuple[str, Taken]:
    line, found = _checked(text)
    if found.origin == own_pool:
        return found.kind, "own"
    if found.kind == "withdrawal":
        return found.kind, place.store.take_withdrawal(found, now)
    author = place.store.author(found.origin, line["author"], now)
    body = line["body"]
    if found.kind == "followup":
        followup = Followup.model_validate(body)
        check_followup(followup, place.catalogue)
        kept = followup.model_dump_json(exclude_unset=True)
        return found.kind, place.store.take_followup(found, author.id, kept, now)
    report = Report.model_validate(body)
    if coarse_report(body) != body:
        raise _UnusableError("finer than a parcel may be")
    new = new_report(place, author, found.id, body, report, now)
    return found.kind, place.store.take_report(found, new, now)


def _checked(text: bytes) -> tuple[dict[str, Any], ForeignLine]:
    """Return a line and what it is, if it is one in all its parts and in its one spelling."""
    if len(text) > _LINE_MOST:
        raise _UnusableError("longer than a line can be")
    try:
        line = json.loads(text.decode())
        kind = line["kind"]
        line_id, origin = UUID(line["id"]), UUID(line["origin"])
        report_id = UUID(line["report"]) if kind == "followup" else line_id
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise _UnusableError("not a line of a parcel") from None
    again = _text(line)
    # One spelling only, or the same line would have two hashes.
    if set(line) != _FIELDS.get(kind) or again.encode() != text:
        raise _UnusableError("not in the one form a line has")
    if line_id.version != _UUID_7 or report_id.version != _UUID_7:
        raise _UnusableError("no UUIDv7")
    if not _AUTHOR.fullmatch(str(line.get("author", _NOBODY))):
        raise _UnusableError("no author")
    sha256 = hashlib.sha256(text).hexdigest()
    return line, ForeignLine(line_id, kind, str(origin), report_id, sha256, again)


def _end_of(text: bytes) -> dict[str, Any] | None:
    if not text.startswith(b'{"lines":'):
        return None
    try:
        end = json.loads(text)
    except ValueError:
        return None
    return end if isinstance(end, dict) and {"lines", "sha256", "parcel"} <= set(end) else None
