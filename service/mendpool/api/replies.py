"""JSON replies with weak ETags."""

import gzip
import hashlib
import json
from typing import Any

from fastapi import Request
from starlette.responses import Response


def reply(body: Any, status: int = 200, headers: dict[str, str] | None = None) -> Response:  # noqa: ANN401 - any JSON
    """Return a JSON response; bytes are sent as they are."""
    content = body if isinstance(body, bytes) else to_json(body)
    return Response(content, status, headers, media_type="application/json")


def to_json(body: Any) -> bytes:  # noqa: ANN401 - any JSON
    """Return compact JSON in UTF-8."""
    return json.dumps(body, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode()


def tag_of(content: bytes) -> str:
    """Return a weak ETag: the same for any content coding."""
    return f'W/"{hashlib.sha256(content).hexdigest()[:24]}"'


def tagged(
    request: Request, content: bytes, tag: str | None = None, kind: str = "application/json"
) -> Response:
    """Return the content with its ETag, or 304 where the client has it already.

    RFC 9110 §13.1.2: a list of tags or ``*``, weak comparison.
    """
    tag = tag or tag_of(content)
    headers = {
        "ETag": tag,
        "Cache-Control": "private, no-cache",
        "Vary": "Authorization, Cookie",
    }
    if has_it(request, tag):
        return Response(status_code=304, headers=headers)
    return Response(content, 200, headers, media_type=kind)


def has_it(request: Request, tag: str) -> bool:
    """Say whether `If-None-Match` names the tag: a list or ``*``, weakly compared."""
    wanted = [t.strip() for t in request.headers.get("if-none-match", "").split(",")]
    return "*" in wanted or tag.removeprefix("W/") in {t.removeprefix("W/") for t in wanted}


def packed(content: bytes) -> tuple[bytes, bytes]:
    """Return a content with its gzip, for what is sent often and packed once."""
    return content, gzip.compress(content, mtime=0)


def packed_or_plain(request: Request, plain: bytes, packed: bytes) -> Response:
    """Return JSON with its ETag, packed where `Accept-Encoding` has gzip; see `tagged`."""
    answer = tagged(request, plain)
    answer.headers["Vary"] = "Authorization, Cookie, Accept-Encoding"
    if answer.status_code != 200 or not takes_gzip(request):
        return answer
    headers = {name: answer.headers[name] for name in ("ETag", "Cache-Control", "Vary")}
    headers["Content-Encoding"] = "gzip"
    return Response(packed, headers=headers, media_type="application/json")


def takes_gzip(request: Request) -> bool:
    """Say whether `Accept-Encoding` has gzip, and not only to refuse it (RFC 9110 §12.5.3)."""
    for part in request.headers.get("accept-encoding", "").lower().split(","):
        coding, _, quality = part.partition(";")
        if coding.strip() == "gzip":
            return quality.replace(" ", "") not in ("q=0", "q=0.0", "q=0.00", "q=0.000")
    return False
