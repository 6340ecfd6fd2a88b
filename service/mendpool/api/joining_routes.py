"""The one route that needs no token: an invitation's code for a token of one's own."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from mendpool.api.bodies import JsonBody, json_body
from mendpool.api.context import Running, wrong_code
from mendpool.api.problems import Refusal
from mendpool.api.replies import reply
from mendpool.core.catalogue.typed import typed
from mendpool.core.errors import NotFound
from mendpool.core.record.joining import Joining
from mendpool.usecases import members

router = APIRouter(prefix="/v1", tags=["pool"])
Body = Annotated[JsonBody, Depends(json_body)]


@router.post("/join", status_code=201)
def join(request: Request, running: Running, body: Body) -> Response:
    """Use up an invitation: gives a token, this once. Needs no token."""
    code = typed(Joining, body.value).code
    try:
        new = members.join(running.place.store, code, running.clock())
    except NotFound:
        wrong_code(request, running, running.clock())
        says = "This invitation is unknown, was used or has expired; ask a steward for another."
        raise Refusal("not-found", says) from None
    ends = new.member.expires
    told = {
        "token": new.token,
        "role": new.member.role,
        "contributor": new.member.pseudonym,
        "expires": None if ends is None else ends.strftime("%Y-%m-%dT%H:%M:%SZ"),
    }
    return reply(told, 201, {"Cache-Control": "no-store"})
