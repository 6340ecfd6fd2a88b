"""Routes of photographs: put by the id its client made, read by that or by the hash."""

import re
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from mendpool.api.context import Asker, Running
from mendpool.api.ids import known_id, uuid7
from mendpool.api.problems import Refusal
from mendpool.api.replies import reply, tagged
from mendpool.usecases.photographs import keep_photo, read_photo

router = APIRouter(prefix="/v1/reports/{report_id}/photos", tags=["photographs"])
JPEG = "image/jpeg"
_HASH = re.compile(r"[0-9a-f]{64}")


async def jpeg_body(request: Request, asker: Asker) -> bytes:
    """Read the body, of someone who is signed in; what it holds is found by decoding it.

    Raises:
        Refusal: it is not even said to be a JPEG.
    """
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind != JPEG:
        raise Refusal("not-jpeg-type")
    return await request.body()


@router.put("/{photo_id}")
def put_photo(
    report_id: str,
    photo_id: str,
    running: Running,
    asker: Asker,
    body: Annotated[bytes, Depends(jpeg_body)],
) -> Response:
    """Store a photograph of one's own report. The same again is harmless.

    It is made again here: what is stored, and its `sha256`, is not the bytes that were sent.
    """
    report, name = known_id(report_id), uuid7("/photo_id", photo_id)
    now, most = running.clock(), running.photos_a_day
    created, told = keep_photo(running.place, asker, report, name, body, most, now)
    where = f"/v1/reports/{report}/photos/{told['sha256']}"
    return reply(told, 201 if created else 200, {"Location": where})


@router.get("/{photo_id}")
def get_photo(
    report_id: str, photo_id: str, request: Request, running: Running, asker: Asker
) -> Response:
    """Return a photograph by its id or by the SHA-256 of its bytes."""
    known_as = photo_id if _HASH.fullmatch(photo_id) else known_id(photo_id)
    held, jpeg = read_photo(running.place, known_id(report_id), known_as)
    answer = tagged(request, jpeg, f'"{held.sha256}"', JPEG)
    answer.headers["Content-Disposition"] = "inline"
    return answer
