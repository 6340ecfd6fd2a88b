"""Routes for a member's own copy: the change feed, and all of it packed in one file."""

import base64
import gzip
import hashlib
from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import FileResponse, Response

from mendpool.api.context import (
    Asker,
    Running,
    known_parameters,
    signed_in,
    whole_number,
)
from mendpool.api.problems import Refusal
from mendpool.api.replies import takes_gzip, to_json
from mendpool.usecases.changes import changes_after, lines_seen

router = APIRouter(prefix="/v1", tags=["copy"])
CHANGES_MOST = 1000
PACK_WAIT_S = 2.0
"""The longest a request waits for the first packing; after it the client asks again."""
_WORTH_PACKING = 1024
_LEVEL = 6


@router.get(
    "/changes",
    dependencies=[
        Depends(signed_in),
        Depends(known_parameters("after", "limit", "derived", "seen")),
    ],
)
def changes(
    request: Request,
    running: Running,
    after: Annotated[str, Query(max_length=18)] = "0",
    limit: Annotated[str, Query(max_length=18)] = "500",
    derived: Annotated[str | None, Query(max_length=60)] = None,
    seen: Annotated[str | None, Query(max_length=80)] = None,
) -> Response:
    """Return everything since a sequence number, in order.

    With `derived`, the version of the asker's derived cases, reports bring theirs along. With
    `seen`, numbers with commas, the answer has those lines as ``[sequence, kind, ref]``, by
    which a copy tells whether this is the past it knows.
    The answer is compressed where `Accept-Encoding` has gzip, and `Content-Digest`
    (RFC 9530) is of the bytes as sent.
    """
    most = min(whole_number("/limit", limit, 1), CHANGES_MOST)
    found = changes_after(running.place, whole_number("/after", after, 0), most, derived)
    if seen is not None:
        numbers = [whole_number("/seen", one, 0) for one in seen.split(",")]
        found["seen"] = lines_seen(running.place, numbers)
    return _digested(request, found)


@router.get("/snapshot")
def snapshot(running: Running, asker: Asker) -> Response:
    """Tell of the feed packed for whoever begins a copy: its name, size and SHA-256.

    `name` is null where the pool is so young that `GET /v1/changes` is enough; 503 while it
    is being packed.
    """
    snapshots = running.snapshots
    told: dict[str, Any] = {"pool": str(running.place.store.pool_settings().pool_id)}
    if snapshots is None or not snapshots.is_worth_it:
        return Response(to_json({**told, "name": None}), media_type="application/json")
    newest = snapshots.newest(PACK_WAIT_S)
    if newest is None:
        detail = "The feed is being packed; ask again in a moment."
        raise Refusal("try-later", detail, {"Retry-After": "2"})
    return Response(to_json({**told, **asdict(newest)}), media_type="application/json")


@router.get("/snapshot/{name}")
def snapshot_bytes(running: Running, asker: Asker, name: str) -> Response:
    """Return a packed feed: gzip of JSON Lines, the first telling what it is. Takes `Range`."""
    snapshots = running.snapshots
    file = None if snapshots is None else snapshots.file_of(name)
    if file is None:
        detail = "It was replaced by a newer one; GET /v1/snapshot names that."
        raise Refusal("not-found", detail)
    return FileResponse(file, media_type="application/gzip")


def _digested(request: Request, body: dict[str, Any]) -> Response:
    content = to_json(body)
    headers = {"Vary": "Accept-Encoding, Authorization, Cookie"}
    if takes_gzip(request) and len(content) > _WORTH_PACKING:
        content = gzip.compress(content, _LEVEL, mtime=0)
        headers["Content-Encoding"] = "gzip"
    digest = base64.b64encode(hashlib.sha256(content).digest()).decode()
    headers["Content-Digest"] = f"sha-256=:{digest}:"
    return Response(content, headers=headers, media_type="application/json")
