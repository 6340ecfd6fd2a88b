"""Take in a file of reports: a line each, bad ones told by number and left out."""

import json
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from pydantic import ValidationError

from mendpool.core.errors import RefusedInput
from mendpool.core.record.report import Report
from mendpool.store.values import Member, NewReport
from mendpool.usecases.file_report import new_report
from mendpool.usecases.workplace import Workplace, sameness

BATCH = 200
_LONGEST = 1_000_000
_TOLD_EVERY_S = 2.0
_NOT_OF_THE_REPORT = ("id", "received", "contributor", "followups")
_UUID_7 = 7

Tell = Callable[[str], None]


@dataclass(slots=True)
class Imported:
    """What became of the lines."""

    new: int = 0
    unchanged: int = 0
    left_out: int = 0


class _BadLineError(ValueError):
    pass


def import_lines(
    place: Workplace, member: Member, lines: Iterable[bytes], now: datetime, tell: Tell
) -> Imported:
    """File the reports of JSON Lines as `member`, a transaction a batch.

    Each line is a report as the API takes it, with its `id`. What an export adds to that
    (`received`, `followups`) is passed over. What is there already is not touched.

    Args:
        tell: hears how far it is and what is wrong with a line.
    """
    done = Imported()
    batch: list[tuple[int, bytes]] = []
    said = time.monotonic()
    for number, line in enumerate(lines, 1):
        if line.strip():
            batch.append((number, line))
        if len(batch) >= BATCH:
            _import_batch(place, member, batch, now, tell, done)
            batch = []
            if time.monotonic() - said >= _TOLD_EVERY_S:
                said = time.monotonic()
                tell(f"line {number}: {done.new} new, {done.left_out} left out so far")
    _import_batch(place, member, batch, now, tell, done)
    return done


def _import_batch(
    place: Workplace,
    member: Member,
    batch: list[tuple[int, bytes]],
    now: datetime,
    tell: Tell,
    done: Imported,
) -> None:
    read: list[tuple[int, UUID, dict[str, Any]]] = []
    for number, line in batch:
        try:
            read.append((number, *_read(line)))
        except _BadLineError as error:
            _leave_out(number, str(error), tell, done)
    held = place.store.held([report_id for _, report_id, _ in read])
    fresh: list[NewReport] = []
    for number, report_id, body in read:
        try:
            ready = _ready(place, member, report_id, body, held.get(report_id), now)
        except _BadLineError as error:
            _leave_out(number, str(error), tell, done)
            continue
        if ready is None:
            done.unchanged += 1
        else:
            fresh.append(ready)
            held[report_id] = (member.id, ready.sameness)
    if fresh:
        for put in place.store.put_reports(fresh, now):
            done.new += put.created
            done.unchanged += not put.created


def _ready(
    place: Workplace,
    member: Member,
    report_id: UUID,
    body: dict[str, Any],
    there: tuple[int, str | None] | None,
    now: datetime,
) -> NewReport | None:
    """Return what is to be kept, None where the very same is `there` already."""
    if there == (member.id, sameness(place, body)):
        return None
    if there is not None and there[1] is None:
        raise _BadLineError("its report was taken back; remove the line")
    if there is not None:
        raise _BadLineError("this id stands for another report; give it a new id")
    try:
        report = Report.model_validate(body)
        return new_report(place, member, report_id, body, report, now)
    except ValidationError as error:
        fault = error.errors(include_url=False, include_input=False)[0]
        at = "".join(f"/{part}" for part in fault["loc"]) or "report"
        raise _BadLineError(f"{at}: {fault['msg']}") from None
    except RefusedInput as error:
        raise _BadLineError(str(error)) from None


def _leave_out(number: int, why: str, tell: Tell, done: Imported) -> None:
    done.left_out += 1
    tell(f"line {number} left out: {why}")


def _read(line: bytes) -> tuple[UUID, dict[str, Any]]:
    if len(line) > _LONGEST:
        raise _BadLineError("longer than a report can be; one report a line")
    try:
        body = json.loads(
            line.decode("utf-8-sig"), parse_constant=_no_constant, object_pairs_hook=_once
        )
        json.dumps(body, ensure_ascii=False).encode()  # no half of a surrogate pair
    except (ValueError, RecursionError):
        raise _BadLineError("not JSON in UTF-8, or a name twice; one object a line") from None
    if not isinstance(body, dict):
        raise _BadLineError("not an object; one report a line")
    if b"\\u0000" in line:
        raise _BadLineError("a text holds NUL; take it out")
    try:
        report_id = UUID(body.get("id"))
    except (TypeError, ValueError, AttributeError):
        raise _BadLineError("`id` is needed: a UUIDv7") from None
    if report_id.version != _UUID_7:
        raise _BadLineError("`id` must be a UUIDv7")
    return report_id, {n: v for n, v in body.items() if n not in _NOT_OF_THE_REPORT}


def _no_constant(_: str) -> None:
    raise ValueError


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError
    return found
