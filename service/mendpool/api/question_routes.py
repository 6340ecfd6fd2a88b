"""Routes of questions: ask, judge readings, do a calculation of the trade."""

from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.responses import Response

from mendpool.api.bodies import JsonBody, json_body
from mendpool.api.context import Asker, Running
from mendpool.api.problems import Refusal
from mendpool.api.replies import reply
from mendpool.core.catalogue.typed import typed
from mendpool.core.errors import Complaint
from mendpool.core.record.report import JudgeRequest, Question, SheetRequest
from mendpool.core.workings.registry import UnknownWorking, listed
from mendpool.usecases import ask as asking
from mendpool.usecases.sheet import sheet as sheet_for

router = APIRouter(prefix="/v1", tags=["questions"])
Body = Annotated[JsonBody, Depends(json_body)]


@router.post("/ask")
def ask(running: Running, asker: Asker, body: Body) -> Response:
    """Answer a question about a set in trouble. Stores nothing.

    A caution with `of_steps: true` is called for by the first steps of the plan alone and may
    be told with them; every other holds whatever is done next, and is to be told at once.
    """
    answer = asking.ask(running.place, typed(Question, body.value))
    return reply(answer.model_dump_json(by_alias=True, exclude_unset=True).encode())


@router.post("/readings/judge")
def judge(running: Running, asker: Asker, body: Body) -> Response:
    """Judge readings against a nameplate, each and together."""
    return reply(asking.judge(running.place, typed(JudgeRequest, body.value)))


@router.post("/sheet")
def sheet(running: Running, asker: Asker, body: Body) -> Response:
    """Return the fault sheet of a nameplate: what `mendpool sheet` prints, to be drawn.

    Complaints with what to test first, good values, cautions, the form and its letters, and
    the headings. It goes by the newest fit. Stores nothing.
    """
    return reply(sheet_for(running.place, typed(SheetRequest, body.value)))


@router.get("/workings")
def workings(running: Running, asker: Asker) -> Response:
    """List the calculations of the trade with what each takes."""
    return reply({"items": listed(running.place.catalogue)})


@router.post("/workings/{name}")
def work(running: Running, asker: Asker, name: str, body: Body) -> Response:
    """Do one calculation: inputs, as numbers or text with a unit, to answer and formula."""
    try:
        worked = asking.work(running.place, name, body.value)
    except UnknownWorking as unknown:
        errors = [Complaint("/name", "no such working; see GET /v1/workings", unknown.near)]
        raise Refusal("not-found", "No such working.", errors=errors) from None
    return reply(worked.model_dump_json(exclude_none=True).encode())
