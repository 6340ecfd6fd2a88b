"""Keep a photograph with its report, made again here, and show it."""

import hashlib
import hmac
import threading
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from mendpool.core.privacy.photo import PHOTOS_A_REPORT, SERVICES, made_again
from mendpool.store.photos import HeldPhoto, NewPhoto
from mendpool.store.values import Member
from mendpool.usecases.workplace import Workplace

# One is decoded at a time: forty threads of four million points each would fill a small board.
_decoding = threading.Lock()


def keep_photo(  # noqa: PLR0913, PLR0917 - one argument for each part of the sentence
    place: Workplace,
    member: Member,
    report_id: UUID,
    photo_id: UUID,
    file: bytes,
    most_a_day: int,
    now: datetime,
) -> tuple[bool, dict[str, Any]]:
    """Keep a photograph of a member's own report; nothing of the file but the picture.

    Returns:
        Whether it was kept now, and what is told of it.

    Raises:
        RefusedInput: no JPEG, damaged, or too large.
        NotFound, Withdrawn, NotAllowed, Conflict, TooManyOf: see the store.
    """
    with _decoding:
        photo = made_again(file, SERVICES)
    new = NewPhoto(
        photo_id,
        report_id,
        member.id,
        # Keyed, as of a report: nobody can test a picture against a stolen database.
        hmac.new(place.key, b"photo|" + file, hashlib.sha256).hexdigest(),
        photo.sha256,
        photo.width,
        photo.height,
        photo.jpeg,
    )
    created, held = place.store.put_photo(new, PHOTOS_A_REPORT, most_a_day, now)
    return created, {"id": str(held.id), "report": str(report_id), **_told(held)}


def read_photo(
    place: Workplace, report_id: UUID, known_as: UUID | str
) -> tuple[HeldPhoto, bytes]:
    """Return a photograph by its id or its hash.

    Raises:
        NotFound, Withdrawn: see the store.
    """
    return place.store.get_photo(report_id, known_as)


def photos_told(place: Workplace, report_id: UUID) -> dict[str, Any]:
    """Return what a report tells of its photographs; nothing where it has none."""
    return _all_told(place.store.photos_of(report_id))


def photos_told_of(
    place: Workplace, report_ids: Sequence[UUID]
) -> Callable[[UUID], dict[str, Any]]:
    """Return what tells the same of any of some reports; they are asked for at once."""
    held = place.store.photos_of_all(report_ids)
    return lambda report_id: _all_told(held.get(report_id, ()))


def _all_told(held: Sequence[HeldPhoto]) -> dict[str, Any]:
    return {"photos": [{"id": str(photo.id), **_told(photo)} for photo in held]} if held else {}


def _told(photo: HeldPhoto) -> dict[str, Any]:
    return {
        "sha256": photo.sha256,
        "bytes": photo.size,
        "width": photo.width,
        "height": photo.height,
    }
