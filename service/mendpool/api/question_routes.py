"""Routes of questions: ask, and judge readings."""

from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.responses import Response

from mendpool.api.bodies import JsonBody, json_body, typed
from mendpool.api.context import Asker, Running
from mendpool.api.replies import reply
from mendpool.core.record.report import JudgeRequest, Question
from mendpool.usecases import ask as asking

router = APIRouter(prefix="/v1", tags=["questions"])
Body = Annotated[JsonBody, Depends(json_body)]


@router.post("/ask")
def ask(body: Body, running: Running, asker: Asker) -> Response:
    """Answer a question about a set in trouble. Stores nothing."""
    answer = asking.ask(running.place, typed(Question, body.value))
    return reply(answer.model_dump_json(by_alias=True, exclude_unset=True).encode())


@router.post("/readings/judge")
def judge(body: Body, running: Running, asker: Asker) -> Response:
    """Judge readings against a nameplate, each and together."""
    return reply(asking.judge(running.place, typed(JudgeRequest, body.value)))
