"""The only place where an error becomes HTTP: RFC 9457 problem details."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from http import HTTPStatus
from types import MappingProxyType
from typing import Any, NamedTuple

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.routing import iter_route_contexts
from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.routing import Match

from mendpool.core.errors import (
    Complaint,
    Conflict,
    MendpoolError,
    NotAllowed,
    NotFound,
    RefusedInput,
    TemporarilyImpossible,
    TooManyOf,
    Withdrawn,
)
from mendpool.usecases.look import BadCursor

MEDIA_TYPE = "application/problem+json"


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of problem: its name (the end of its `type`), its status and its title."""

    name: str
    status: int
    title: str
    detail: str


KINDS: Mapping[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind(
            "not-json",
            400,
            "The body is not JSON we can read",
            "Send one JSON object in UTF-8.",
        ),
        Kind("bad-cursor", 400, "This cursor does not belong here", "Start without a cursor."),
        Kind(
            "not-signed-in",
            401,
            "Sign in first",
            "Send a member's token as a Bearer token, or sign in on the page.",
        ),
        Kind(
            "not-allowed", 403, "Not yours to change", "Only its contributor or a steward may."
        ),
        Kind("not-found", 404, "Not here", "Check the address and the id."),
        Kind("wrong-method", 405, "Not this way", "See the Allow header."),
        Kind(
            "too-slow",
            408,
            "It came too slowly",
            "Send it again; what was sent by half was not kept.",
        ),
        Kind(
            "conflict",
            409,
            "This id stands for something else",
            "Make a new id and send again.",
        ),
        Kind(
            "withdrawn", 410, "It was taken back", "Its contributor or a steward withdrew it."
        ),
        Kind(
            "too-large",
            413,
            "The body is too large",
            "A body is at most 256 KiB, a photograph 1 MiB.",
        ),
        Kind("not-json-type", 415, "Send JSON", "Set Content-Type to application/json."),
        Kind(
            "not-a-form",
            415,
            "Send a form",
            "Post it as a browser does, of at most 400 fields.",
        ),
        Kind("not-jpeg-type", 415, "Send a JPEG", "Set Content-Type to image/jpeg."),
        Kind("refused", 422, "Something in it can't be used", "See `errors`."),
        Kind("too-many", 429, "Too many requests", "Wait as Retry-After says."),
        Kind("our-fault", 500, "Our fault", "Nothing was kept by half; sending again is safe."),
        Kind("try-later", 503, "Not now", "Try again in a moment; nothing is lost."),
    )
}


_WAIT = {"Retry-After": "3600"}


class Refusal(MendpoolError):
    """A refusal that HTTP itself knows: a kind of problem, with headers."""

    def __init__(
        self,
        kind: str,
        detail: str | None = None,
        headers: Mapping[str, str] | None = None,
        errors: Sequence[Complaint] = (),
    ) -> None:
        self.kind = KINDS[kind]
        self.detail = detail
        self.headers = dict(headers or {})
        self.errors = errors
        super().__init__(kind)


def problem(
    kind: Kind,
    detail: str | None = None,
    errors: Sequence[Complaint] = (),
    headers: Mapping[str, str] | None = None,
) -> Response:
    """Return a problem as a response. Nothing the caller sent is echoed."""
    body: dict[str, Any] = {
        "type": f"/docs#{kind.name}",
        "title": kind.title,
        "status": kind.status,
        "detail": detail or kind.detail,
    }
    if errors:
        body["errors"] = [
            {"at": e.at, "says": e.says}
            | ({"did_you_mean": e.did_you_mean} if e.did_you_mean else {})
            for e in errors
        ]
    return Response(
        json.dumps(body, ensure_ascii=False),
        status_code=kind.status,
        media_type=MEDIA_TYPE,
        headers=dict(headers or {}),
    )


class Told(NamedTuple):
    """What a client is told of an error, however it is put.

    Args:
        kind: of problem.
        detail: a sentence that may be shown; an error's own words may be meant for the log.
        errors: what exactly was wrong where.
        headers: that go along.
    """

    kind: Kind
    detail: str
    errors: Sequence[Complaint] = ()
    headers: Mapping[str, str] = MappingProxyType({})


def told_of(error: MendpoolError) -> Told:
    """Return what a client is told of an error of the core."""
    if isinstance(error, Refusal):
        detail = error.detail or error.kind.detail
        return Told(error.kind, detail, error.errors, error.headers)
    if isinstance(error, BadCursor):
        kind = KINDS["bad-cursor"]
        return Told(kind, kind.detail, error.errors)
    if isinstance(error, TooManyOf):
        # Waiting helps with a day's number only; the other is a refusal like any other.
        name, headers = ("refused", {}) if error.for_good else ("too-many", _WAIT)
        return Told(KINDS[name], str(error) or KINDS[name].detail, headers=headers)
    if isinstance(error, RefusedInput):
        return Told(KINDS["refused"], _in_a_sentence(error.errors), error.errors)
    if isinstance(error, TemporarilyImpossible):
        kind = KINDS["try-later"]
        return Told(kind, str(error) or kind.detail, headers={"Retry-After": "2"})
    kind = KINDS[next((name for of, name in _NAMES if isinstance(error, of)), "our-fault")]
    return Told(kind, kind.detail)


def problem_of(error: MendpoolError) -> Response:
    """Return the response an error of the core stands for."""
    return problem(*told_of(error))


_NAMES: tuple[tuple[type[MendpoolError], str], ...] = (
    (Withdrawn, "withdrawn"),
    (NotFound, "not-found"),
    (Conflict, "conflict"),
    (NotAllowed, "not-allowed"),
)

_OF_STATUS = {
    400: "not-json",
    401: "not-signed-in",
    403: "not-allowed",
    404: "not-found",
    405: "wrong-method",
    413: "too-large",
    415: "not-json-type",
    503: "try-later",
}


def install(app: FastAPI) -> None:
    """Let every error that reaches FastAPI leave as a problem."""

    @app.exception_handler(MendpoolError)
    def _mendpool(_: Request, error: MendpoolError) -> Response:
        return problem_of(error)

    @app.exception_handler(RequestValidationError)
    def _parameters(_: Request, error: RequestValidationError) -> Response:
        # What was given is in there too and must not go back.
        faults = [Complaint(f"/{e['loc'][-1]}", e["msg"]) for e in error.errors()]
        return problem(KINDS["refused"], _in_a_sentence(faults), faults)

    @app.exception_handler(HTTPException)
    def _http(request: Request, error: HTTPException) -> Response:
        name = _OF_STATUS.get(error.status_code)
        if name is None:
            title = HTTPStatus(error.status_code).phrase
            return problem(Kind("http", error.status_code, title, title))
        headers = {"Allow": _allowed(request)} if name == "wrong-method" else error.headers
        return problem(KINDS[name], headers=headers)

    @app.exception_handler(Exception)
    def _unforeseen(_: Request, error: Exception) -> Response:
        return problem(KINDS["our-fault"])


def _allowed(request: Request) -> str:
    """Every method the address answers; a router knows only the first route that is near."""
    near = [
        route
        for route in iter_route_contexts(request.app.routes)
        if route.methods and route.matches(request.scope)[0] is not Match.NONE
    ]
    # An address written out is no id of the route beside it.
    written = [route for route in near if route.path == request.scope["path"]]
    # Nor is one that is kept out of the document an answer, where another is in it.
    told = [
        r for r in written if getattr(r.original_route, "include_in_schema", True)
    ] or written
    methods = {method for route in told or near for method in route.methods or ()}
    return ", ".join(sorted(methods | ({"HEAD"} if "GET" in methods else set())))


def _in_a_sentence(errors: Sequence[Complaint]) -> str:
    first = errors[0] if errors else Complaint("", "something can't be used")
    more = f" And {len(errors) - 1} more." if len(errors) > 1 else ""
    place = f"{first.at}: " if first.at else ""
    meant = f" Did you mean {first.did_you_mean}?" if first.did_you_mean else ""
    stop = "" if first.says.endswith((".", "?")) else "."
    return f"{place}{first.says}{stop}{meant}{more}"
