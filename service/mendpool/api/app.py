"""The application: routes, problems, documentation, the outer layer."""

import re
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic import BaseModel
from pydantic.json_schema import models_json_schema
from starlette.responses import Response
from starlette.types import ASGIApp

from mendpool import __version__
from mendpool._places import place_of
from mendpool.api import (
    copy_routes,
    correction_routes,
    joining_routes,
    known_routes,
    page_routes,
    parcel_routes,
    photo_routes,
    pool_routes,
    question_routes,
    report_routes,
    session_routes,
    steward_routes,
)
from mendpool.api.context import Service
from mendpool.api.docs_page import style_sheet
from mendpool.api.outer import Outer
from mendpool.api.page_files import Page, read_page
from mendpool.api.pages import routes as plain_routes
from mendpool.api.problems import KINDS, MEDIA_TYPE, install
from mendpool.api.replies import packed, to_json
from mendpool.api.seen import Seen, Templates, Watch
from mendpool.api.signing_in import COOKIE, TOKEN_HEADER
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.handheld import handheld
from mendpool.core.privacy.photo import SERVICES
from mendpool.core.record.answer import Answer
from mendpool.core.record.correction import Corrections
from mendpool.core.record.joining import Joining, SigningIn
from mendpool.core.record.report import Followup, JudgeRequest, Question, Report, SheetRequest
from mendpool.core.record.steward import Inviting, Verdict
from mendpool.core.workings.registry import WORKINGS
from mendpool.core.workings.worked import Worked

BODY_MAX = 256 * 1024
_PHOTO_PATH = "/v1/reports/{report_id}/photos/{photo_id}"
_PHOTO_ADDRESS = re.compile("/v1/reports/[^/]+/photos/[^/]+")
_SESSION_PATH = "/v1/session"
_SESSION: dict[str, list[str]] = {"session": []}
_BODIES = {
    ("/v1/reports/preview", "post"): Report,
    ("/v1/reports/{report_id}", "put"): Report,
    ("/v1/reports/{report_id}/followups/{followup_id}", "put"): Followup,
    ("/v1/ask", "post"): Question,
    ("/v1/readings/judge", "post"): JudgeRequest,
    ("/v1/join", "post"): Joining,
    (_SESSION_PATH, "post"): SigningIn,
    ("/v1/invitations", "post"): Inviting,
    ("/v1/review/{report_id}", "post"): Verdict,
    ("/v1/sheet", "post"): SheetRequest,
    ("/v1/corrections", "post"): Corrections,
}
_WORKINGS_PATH = "/v1/workings/{name}"
_PARCEL_PATH = "/v1/parcel"
_PARCEL_ADDRESS = re.compile(_PARCEL_PATH)
_LINES = {"schema": {"type": "string", "description": "a JSON object a line"}}
_ANSWERS: Mapping[str, type[BaseModel]] = {"/v1/ask": Answer, _WORKINGS_PATH: Worked}
_INPUTS = "WorkingInputs"
"""The schema of what a working takes: that of its name."""
_OPEN = ("/healthz", "/readyz", "/v1/join")
_DESCRIPTION = (
    "A shared knowledge base of anonymised generator repairs: file what was done and what "
    "came of it, ask what to do next. Answers carry cautions and defer to local codes and "
    "licensed people."
)


def make_app(
    service: Service, watch: Watch | None = None, phone: Path | None = None
) -> ASGIApp:
    """Return the application over one running service, ready for a server.

    Args:
        watch: hears of every request.
        phone: the folder of the page, if it is another than the one that came along.
    """
    app = FastAPI(
        title="mendpool",
        version=__version__,
        description=_DESCRIPTION,
        docs_url=None,
        redoc_url=None,
        redirect_slashes=False,
        telemetry={"logs": False},
    )
    app.state.service = service
    app.state.page = _page_that_came_along() if phone is None else read_page(phone)
    told = _told_of(service.place.catalogue)
    app.state.catalogue_json, app.state.vocabulary_json = told
    install(app)
    for routes in (
        report_routes,
        photo_routes,
        question_routes,
        copy_routes,
        correction_routes,
        joining_routes,
        parcel_routes,
        known_routes,
        pool_routes,
        session_routes,
        steward_routes,
        page_routes,
        plain_routes,
    ):
        app.include_router(routes.router)

    @app.get("/docs.css", include_in_schema=False)
    def docs_css() -> Response:
        return Response(style_sheet(), media_type="text/css")

    app.openapi = lambda: _document(app)  # type: ignore[method-assign]
    larger = [
        (_PHOTO_ADDRESS, SERVICES.file_bytes),
        (_PARCEL_ADDRESS, parcel_routes.PARCEL_MAX),
    ]
    outer = Outer(app, BODY_MAX, larger)
    return outer if watch is None else Seen(outer, Templates(app), watch)


def _told_of(catalogue: Catalogue) -> tuple[bytes, tuple[bytes, bytes]]:
    """Return the catalogue as it is given out, whole and for what is held in a hand."""
    return catalogue.model_dump_json().encode(), packed(to_json(handheld(catalogue)))


@lru_cache(maxsize=1)
def _page_that_came_along() -> Page:
    """Packing its files takes longer than all else of an application."""
    return read_page(place_of("phone"))


def _document(app: FastAPI) -> dict[str, Any]:
    """The OpenAPI document, with the bodies that the routes read strictly themselves."""
    if app.openapi_schema is not None:
        return app.openapi_schema
    document = get_openapi(
        title=app.title, version=app.version, description=app.description, routes=app.routes
    )
    bodies = [*_BODIES.values(), *(working.inputs for working in WORKINGS.values())]
    models = [(m, "validation") for m in dict.fromkeys(bodies)]
    answers = [(m, "serialization") for m in _ANSWERS.values()]
    _, schemas = models_json_schema(
        [*models, *answers],  # type: ignore[list-item]
        ref_template="#/components/schemas/{model}",
    )
    components = document.setdefault("components", {})
    # FastAPI's own words for a refusal are never sent: `problems` has others.
    components["schemas"] = schemas["$defs"] | {
        _INPUTS: {"anyOf": [_ref(w.inputs.__name__) for w in WORKINGS.values()]}
    }
    components["securitySchemes"] = {
        "member": {"type": "http", "scheme": "bearer"},
        "session": {"type": "apiKey", "in": "cookie", "name": COOKIE},
        "page": {"type": "apiKey", "in": "header", "name": TOKEN_HEADER},
    }
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            _complete(operation, path, method)
            if path == _PHOTO_PATH:
                _picture(operation, method)
    for method, operation in document["paths"][_PARCEL_PATH].items():
        _complete_parcel(operation, method)
    app.openapi_schema = document
    return document


def _ref(name: str) -> dict[str, Any]:
    return {"$ref": f"#/components/schemas/{name}"}


def _security(path: str, method: str) -> list[dict[str, list[str]]]:
    """What an operation asks for: each of the list is enough."""
    by_page = {**_SESSION, "page": []}
    if path == _SESSION_PATH:
        return {"get": [_SESSION], "delete": [by_page]}.get(method, [])
    return [] if path in _OPEN else [{"member": []}, by_page]


def _body_schema(path: str, method: str) -> dict[str, Any] | None:
    if path == _WORKINGS_PATH:
        return _ref(_INPUTS)
    body = _BODIES.get((path, method))
    return None if body is None else _ref(body.__name__)


def _picture(operation: dict[str, Any], method: str) -> None:
    picture: dict[str, Any] = {photo_routes.JPEG: {"schema": {}}}
    if method == "put":
        operation["requestBody"] = {"required": True, "content": picture}
    else:
        answer = {"description": "The photograph", "content": picture}
        operation.setdefault("responses", {})["200"] = answer


def _complete(operation: dict[str, Any], path: str, method: str) -> None:
    schema = _body_schema(path, method)
    if schema is not None:
        operation["requestBody"] = {
            "required": True,
            "content": {"application/json": {"schema": schema}},
        }
    answers = operation.setdefault("responses", {})
    answers.pop("422", None)
    security = _security(path, method)
    if security:
        operation["security"] = security
    if path in _ANSWERS:
        ref = _ref(_ANSWERS[path].__name__)
        answers["200"] = {
            "description": "The answer",
            "content": {"application/json": {"schema": ref}},
        }
    if method == "put":
        answers["201"] = {"description": "Stored"}
        answers["200"] = {"description": "The very same was there already"}
    if method == "delete":
        answers.pop("200", None)
        answers["204"] = {"description": "Gone"}
    for kind in KINDS.values():
        if str(kind.status) not in answers:
            answers[str(kind.status)] = {"description": kind.title, "content": {MEDIA_TYPE: {}}}


def _complete_parcel(operation: dict[str, Any], method: str) -> None:
    lines = {parcel_routes.MEDIA_TYPE: _LINES}
    if method == "get":
        operation["responses"]["200"] = {"description": "The parcel", "content": lines}
    else:
        content = {**lines, parcel_routes.PACKED: {"schema": {"type": "string"}}}
        operation["requestBody"] = {"required": True, "content": content}
