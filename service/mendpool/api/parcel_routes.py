"""Routes of parcels, for stewards whose pools do meet on a network."""

import zlib
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from tempfile import SpooledTemporaryFile
from typing import IO, Annotated

from fastapi import APIRouter, Depends, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response, StreamingResponse

from mendpool.api.context import Asker, Running
from mendpool.api.problems import Refusal
from mendpool.api.replies import reply, takes_gzip
from mendpool.core.errors import Complaint, RefusedInput, TemporarilyImpossible
from mendpool.store.values import Member
from mendpool.usecases.parcels_in import (
    BadParcelError,
    Read,
    TooMuchError,
    read_parcel,
    unpacked,
)
from mendpool.usecases.parcels_out import Written, write_parcel

router = APIRouter(prefix="/v1/parcel", tags=["parcels"])
MEDIA_TYPE = "application/x-ndjson"
PACKED = "application/gzip"
PARCEL_MAX = 16 * 1024 * 1024
"""Bytes of a parcel as it is sent; a larger one is read with the command (common practice)."""
UNPACKED_MAX = 8 * PARCEL_MAX
"""Bytes of its lines: about 200,000 of them; JSON Lines pack to an eighth or less."""
_IN_MEMORY = 1024 * 1024
_LEVEL = 6
_GZIP = 16 + zlib.MAX_WBITS


def steward(asker: Asker) -> Member:
    """Return the steward who asks.

    Raises:
        Refusal: it is a member like any other.
    """
    if asker.role != "steward":
        raise Refusal("not-allowed", "Parcels are for stewards of the pool.")
    return asker


Steward = Annotated[Member, Depends(steward)]


@router.get("")
def write(request: Request, running: Running, asker: Steward) -> Response:
    """Return what may leave this pool as JSON Lines, the last one with their number and hash.

    For a steward. Coarse and without names; no class of sets that fewer than three people
    have. Compressed where `Accept-Encoding` has gzip.
    """
    lines: Iterator[bytes] = (
        line.encode() for line in write_parcel(running.place.store, Written())
    )
    headers = {"Vary": "Accept-Encoding, Authorization"}
    if takes_gzip(request):
        headers["Content-Encoding"] = "gzip"
        lines = _packed(lines)
    return StreamingResponse(lines, headers=headers, media_type=MEDIA_TYPE)


@router.post("")
async def read(request: Request, running: Running, asker: Steward) -> Response:
    """Take a parcel of another pool in: JSON Lines, or the same as gzip.

    For a steward. Again, in any order or only a part of it is harmless. The answer counts
    what came of the lines; `whole` is false where the parcel broke off, and what was read of
    it is kept.
    """
    is_packed = _is_packed(request)
    async with _received(request) as body:
        done = await run_in_threadpool(_taken, running, body, is_packed=is_packed)
    counts = {str(what): count for what, count in sorted(done.taken.items())}
    return reply({**counts, "left_out": done.left_out, "whole": done.whole})


def _taken(running: Running, body: IO[bytes], *, is_packed: bool) -> Read:
    lines = unpacked(body, UNPACKED_MAX) if is_packed else iter(body)
    try:
        *_, done = read_parcel(running.place, lines, running.clock())
    except BadParcelError as error:
        raise RefusedInput([Complaint("", str(error))]) from None
    except TooMuchError:
        raise _too_large() from None
    return done


def _is_packed(request: Request) -> bool:
    """Tell whether the body is gzip.

    Raises:
        Refusal: it is said to be neither that nor JSON Lines.
    """
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    coding = request.headers.get("content-encoding", "identity").strip().lower()
    lines = kind in {MEDIA_TYPE, "application/jsonl"}
    if kind == PACKED and coding == "identity":
        return True
    if lines and coding in {"identity", "gzip", "x-gzip"}:
        return coding != "identity"
    says = f"Set Content-Type to {MEDIA_TYPE}, or to {PACKED} for the same packed."
    raise Refusal("not-json-type", says)


@asynccontextmanager
async def _received(request: Request) -> AsyncIterator[IO[bytes]]:
    """Receive the whole of a body, on disk beyond a mebibyte, before any of it is taken.

    A slow sender so holds neither a thread nor the database.
    """
    with SpooledTemporaryFile(_IN_MEMORY) as body:
        try:
            async for chunk in request.stream():
                if len(chunk) + body.tell() > _IN_MEMORY:
                    await run_in_threadpool(body.write, chunk)
                else:
                    body.write(chunk)
            body.seek(0)
        except OSError as error:
            raise TemporarilyImpossible("there is no room for the parcel here") from error
        except Refusal:
            raise _too_large() from None
        yield body


def _too_large() -> Refusal:
    most, lines = PARCEL_MAX // 1024**2, UNPACKED_MAX // 1024**2
    says = f"A parcel is at most {most} MiB, {lines} MiB unpacked; `mendpool pool parcel read` "
    return Refusal("too-large", says + "takes any.")


def _packed(lines: Iterator[bytes]) -> Iterator[bytes]:
    packer = zlib.compressobj(_LEVEL, zlib.DEFLATED, _GZIP)
    for line in lines:
        if piece := packer.compress(line):
            yield piece
    yield packer.flush()
