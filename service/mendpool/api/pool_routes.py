"""Routes of the pool itself: catalogue, change feed, health, documentation."""

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import HTMLResponse, Response

from mendpool.api.context import Asker, Running, known_parameters, service_of
from mendpool.api.docs_page import docs_page
from mendpool.api.problems import Refusal
from mendpool.api.replies import reply, tagged
from mendpool.core.errors import Complaint, RefusedInput, TemporarilyImpossible
from mendpool.store.schema import schema_state
from mendpool.usecases.changes import changes_after
from mendpool.usecases.workplace import Workplace

router = APIRouter(tags=["pool"])
CHANGES_MOST = 1000


@router.api_route("/v1/catalogue", methods=["GET", "HEAD"])
def catalogue(request: Request, running: Running, asker: Asker) -> Response:
    """Return the vocabulary with labels, aliases, causes, checks, limits and cautions."""
    place = running.place
    content: bytes = request.app.state.catalogue_json
    return tagged(request, content, f'W/"{place.catalogue.version}"')


@router.api_route(
    "/v1/changes",
    methods=["GET", "HEAD"],
    dependencies=[Depends(known_parameters("after", "limit"))],
)
def changes(
    running: Running,
    asker: Asker,
    after: Annotated[str, Query(max_length=19)] = "0",
    limit: Annotated[str, Query(max_length=6)] = "500",
) -> Response:
    """Return everything since a sequence number, in order."""
    if not after.isdigit() or not limit.isdigit() or not int(limit):
        raise RefusedInput([Complaint("/after", "whole numbers only, and a limit from 1")])
    return reply(changes_after(running.place, int(after), min(int(limit), CHANGES_MOST)))


@router.api_route("/healthz", methods=["GET", "HEAD"])
def healthz() -> Response:
    """Say that the process is alive."""
    return reply({"alive": True})


@router.api_route("/readyz", methods=["GET", "HEAD"])
def readyz(request: Request) -> Response:
    """Say whether a report can be taken now: database writable, migrations current."""
    place = service_of(request).place
    try:
        _check_ready(place)
    except TemporarilyImpossible as error:
        raise Refusal("try-later", str(error) or None, {"Retry-After": "5"}) from error
    return reply({"ready": True, "catalogue": place.catalogue.version})


def _check_ready(place: Workplace) -> None:
    state = schema_state(place.store.engine)
    if state != "current":
        says = f"The database schema is {state}: run `mendpool pool migrate`."
        raise TemporarilyImpossible(says)
    place.store.ready()


@router.get("/docs", include_in_schema=False)
def docs(request: Request) -> HTMLResponse:
    """Return the API's documentation as one page that needs nothing from elsewhere."""
    return HTMLResponse(docs_page(request.app.openapi()))
