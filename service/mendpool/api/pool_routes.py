"""Routes of the pool itself: catalogue, health, documentation."""

from time import monotonic

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, Response

from mendpool.api.context import Asker, Running, Service, service_of
from mendpool.api.docs_page import docs_page
from mendpool.api.problems import Refusal
from mendpool.api.replies import packed_or_plain, reply, tagged
from mendpool.core.errors import MendpoolError, TemporarilyImpossible
from mendpool.store.schema import schema_state

LAG_MOST = 10_000
"""Changes that a question still reads in passing, in about a second."""

router = APIRouter(tags=["pool"])


@router.get("/v1/catalogue")
def catalogue(request: Request, running: Running, asker: Asker) -> Response:
    """Return the vocabulary with labels, aliases, causes, checks, limits and cautions."""
    place = running.place
    content: bytes = request.app.state.catalogue_json
    return tagged(request, content, f'W/"{place.catalogue.version}"')


@router.get("/v1/vocabulary")
def vocabulary(request: Request, running: Running, asker: Asker) -> Response:
    """Return the part of the catalogue that a client in the hand keeps, in a fifth of the room.

    Codes in words, complaints with their aliases, what to read and the bands that judge it,
    checks with the results each can have, cautions. Compressed where `Accept-Encoding` has
    gzip. The tag changes with the catalogue and with the form it is told in.
    """
    plain, packed = request.app.state.vocabulary_json
    return packed_or_plain(request, plain, packed)


@router.get("/healthz")
def healthz() -> Response:
    """Say that the process is alive."""
    return reply({"alive": True})


@router.get("/readyz")
def readyz(request: Request) -> Response:
    """Say whether a report can be taken and found now.

    The database is writable, its disk has room, its migrations are current, and the index has
    read the feed but for what a question reads in passing.
    """
    service = service_of(request)
    place = service.place
    lag, until = getattr(request.app.state, "ready", (0, 0.0))
    if monotonic() >= until:
        try:
            lag = _check_ready(service)
        except MendpoolError as error:
            raise Refusal("try-later", str(error) or None, {"Retry-After": "5"}) from error
        # Anyone may ask, and to try a write takes the turn of those who have one to make.
        request.app.state.ready = (lag, monotonic() + service.ready_for_s)
    return reply({"ready": True, "catalogue": place.catalogue.version, "index_lag": lag})


def _check_ready(service: Service) -> int:
    """Return how many changes the index has not read.

    Raises:
        TemporarilyImpossible: what is in the way.
    """
    place = service.place
    state = schema_state(place.store.engine)
    if state != "current":
        says = f"The database schema is {state}: run `mendpool pool migrate`."
        raise TemporarilyImpossible(says)
    place.store.ready()
    lag = place.learned.behind()
    if service.told_lag is not None:
        service.told_lag(lag)
    if lag > LAG_MOST:
        place.learned.catch_up_apart()
        raise TemporarilyImpossible(f"The index is {lag} changes behind; it is reading them.")
    return lag


@router.get("/docs", include_in_schema=False)
def docs(request: Request) -> HTMLResponse:
    """Return the API's documentation as one page that needs nothing from elsewhere."""
    return HTMLResponse(docs_page(request.app.openapi()))
