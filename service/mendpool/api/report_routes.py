"""Routes of reports and follow-ups."""

import uuid
from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from mendpool.api.bodies import JsonBody, json_body, object_of
from mendpool.api.context import (
    Asker,
    Running,
    Service,
    known_parameters,
    service_of,
    signed_in,
    truth,
    whole_number,
)
from mendpool.api.ids import known_id, uuid7
from mendpool.api.problems import Refusal
from mendpool.api.replies import reply, tag_of, tagged, to_json
from mendpool.core.catalogue.typed import typed
from mendpool.core.errors import Complaint, NotFound, RefusedInput, Withdrawn
from mendpool.core.record.report import Followup, Report
from mendpool.store.values import Member, ReportFilters
from mendpool.usecases import file_report as filing
from mendpool.usecases import follow_up as following
from mendpool.usecases import look

router = APIRouter(prefix="/v1/reports", tags=["reports"])
Body = Annotated[JsonBody, Depends(json_body)]
Code = Annotated[str | None, Query(max_length=60)]


@router.post("/preview")
def preview(running: Running, asker: Asker, body: Body) -> Response:
    """Show what would be stored of a report, and what would be removed. Stores nothing."""
    report = typed(Report, body.value)
    return reply(filing.preview_report(running.place, report, running.clock()))


@router.api_route("/preview", methods=["GET", "PUT", "DELETE"], include_in_schema=False)
def not_this_way() -> Response:
    """Refuse, where it would else be taken for the id of a report."""
    raise Refusal("wrong-method", headers={"Allow": "POST"})


@router.put("/{report_id}")
async def put(report_id: str, request: Request) -> Response:
    """Store a report under the UUIDv7 its client made. The same again is harmless."""
    # One thread for who asks and what is asked: to change to a second takes a tenth of all.
    return await run_in_threadpool(_put, report_id, request, await request.body())


def _put(report_id: str, request: Request, content: bytes) -> Response:
    running, asker = service_of(request), signed_in(request)
    body = object_of(request, content)
    name = uuid7("/report_id", report_id)
    report = typed(Report, body)
    now = running.clock()
    within_the_day(running, asker, name, now)
    filed = filing.file_report(running.place, asker, name, body, report, now)
    content = to_json(filed.report)
    headers = {"ETag": tag_of(content), "Location": f"/v1/reports/{name}"}
    return reply(content, 201 if filed.created else 200, headers)


def within_the_day(running: Service, asker: Member, name: uuid.UUID, now: datetime) -> None:
    """Refuse a new report over the day's number; one that is held already is no new one."""
    store = running.place.store
    if running.limiter.file(store, asker.id, running.reports_a_day, now):
        return
    try:
        store.get_report(name)
    except Withdrawn:
        return
    except NotFound:
        says = "Enough reports for one day."
        raise Refusal("too-many", says, {"Retry-After": "3600"}) from None


@router.get("/{report_id}")
def get(report_id: str, request: Request, running: Running, asker: Asker) -> Response:
    """Return one report with its follow-ups."""
    found = look.read_report(running.place, asker, known_id(report_id))
    return tagged(request, to_json(found))


@router.delete("/{report_id}")
def delete(report_id: str, running: Running, asker: Asker) -> Response:
    """Withdraw a report; again is harmless."""
    following.withdraw(running.place, asker, known_id(report_id), running.clock())
    if running.snapshots is not None:
        running.snapshots.drop_stale()
    return Response(status_code=204)


@router.put("/{report_id}/followups/{followup_id}")
def put_followup(
    report_id: str, followup_id: str, running: Running, asker: Asker, body: Body
) -> Response:
    """Say what was seen later. The same again is harmless."""
    followup = typed(Followup, body.value)
    followed = following.follow_up(
        running.place,
        asker,
        known_id(report_id),
        uuid7("/followup_id", followup_id),
        body.value,
        followup,
        running.clock(),
    )
    return reply(followed.followup, 201 if followed.created else 200)


_PARAMETERS = (
    "symptom", "component", "fuel", "excitation", "outcome", "mine", "q", "limit", "cursor",
)  # fmt: skip


@router.get("", dependencies=[Depends(signed_in), Depends(known_parameters(*_PARAMETERS))])
def list_reports(
    request: Request,
    running: Running,
    asker: Asker,
    symptom: Code = None,
    component: Code = None,
    fuel: Code = None,
    excitation: Code = None,
    outcome: Code = None,
    mine: Annotated[str | None, Query(max_length=5)] = None,
    q: Annotated[str | None, Query(max_length=1000)] = None,
    limit: Annotated[str | None, Query(max_length=18)] = None,
    cursor: Annotated[str | None, Query(max_length=200)] = None,
) -> Response:
    """List reports newest first, or with `q` by likeness.

    With `mine=true` the asker's own, each as `GET /v1/reports/{report_id}` tells it.
    """
    own = None if mine is None else truth("/mine", mine)
    whose = asker.id if own else None
    filters = ReportFilters(symptom, component, fuel, excitation, outcome, whose)
    most = look.LIMIT if limit is None else whole_number("/limit", limit, 1)
    if q is not None and q.strip():
        if own:
            raise RefusedInput([Complaint("/mine", "not together with `q`")])
        if cursor is not None:
            raise look.BadCursor([Complaint("/cursor", "there are no pages with `q`")])
        return reply(look.find_reports(running.place, asker, q, filters, most))
    page = look.list_reports(running.place, asker, filters, most, cursor)
    headers = {}
    if page["next"] is not None:
        url = request.url.include_query_params(cursor=page["next"])
        headers["Link"] = f'<{url.path}?{url.query}>; rel="next"'
    return reply(page, headers=headers)
