"""Whole reports of the simulator, as a member would send them, put into a pool in bulk."""

import json
import uuid
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from typing import Any

from mendpool.core.record.report import Report
from mendpool.store.values import Member, NewReport
from mendpool.usecases.file_report import new_report
from mendpool.usecases.members import add_member
from mendpool.usecases.workplace import Workplace

from tests.bench.diagnosis.simulator.pool import Drawn, Simulator

NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
_MEMBERS = 150
_BATCH = 200
_TRUTHS = ("machine", "complaint", "symptoms", "readings", "observations")


def body_of(drawn: Drawn) -> dict[str, Any]:
    """Return a drawn repair as the body of a report."""
    asked = drawn.asked.question.model_dump(
        mode="json", by_alias=True, exclude_unset=True, exclude_none=True
    )
    body = {name: asked[name] for name in _TRUTHS if asked.get(name)}
    case = drawn.asked.case
    body["attempts"] = [
        {
            "component": t.fix[0],
            "action": t.fix[1],
            "result": t.result,
            **({"minutes": t.minutes} if t.minutes else {}),
        }
        for t in drawn.work
    ]
    if case.causes:
        names = ("component", "failure")
        body["cause"] = dict(zip(names, case.causes[0].split("/"), strict=False))
    return {**body, "outcome": case.outcome, "happened": case.happened}


def question_of(drawn: Drawn) -> dict[str, Any]:
    """Return a drawn question as it goes over the wire."""
    return drawn.asked.question.model_dump(
        mode="json", by_alias=True, exclude_unset=True, exclude_none=True
    )


def filled(place: Workplace, simulator: Simulator, drawn: int, count: int) -> None:
    """Put so many reports into a pool: so many drawn, and those again under new ids."""
    members = [
        add_member(place.store, f"hand {n}", "member", NOW).member for n in range(_MEMBERS)
    ]
    made: list[NewReport] = []
    for number, body in enumerate(body_of(one) for one in simulator.reports(drawn)):
        member = members[number % _MEMBERS]
        report = Report.model_validate(body)
        made.append(new_report(place, member, report_id(number), body, report, NOW))
    for batch in _batches(_again(made, members, count)):
        place.store.put_reports(batch, NOW)


def report_id(number: int) -> uuid.UUID:
    """Return a UUIDv7 of its own for each number, a minute apart."""
    moment = 1_700_000_000_000 + number * 60_000
    mixed = number * 0x9E3779B97F4A7C15 % (1 << 62)
    return uuid.UUID(int=moment << 80 | 0x7 << 76 | 0x2 << 62 | mixed)


def _again(
    made: Sequence[NewReport], members: Sequence[Member], count: int
) -> Iterator[NewReport]:
    for number in range(count):
        like = made[number % len(made)]
        name = report_id(number)
        case = json.loads(like.case_body) | {"id": str(name)}
        yield NewReport(
            name,
            members[(number + number // len(made)) % _MEMBERS].id,
            f"{number:x}",
            like.body,
            json.dumps(case, ensure_ascii=False, separators=(",", ":")),
            like.derived_version,
            like.facets,
        )


def _batches(reports: Iterator[NewReport]) -> Iterator[list[NewReport]]:
    batch: list[NewReport] = []
    for report in reports:
        batch.append(report)
        if len(batch) == _BATCH:
            yield batch
            batch = []
    if batch:
        yield batch
