"""Photographs of a report: made again here, warned about, told of, and fetched."""

import json
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from mendpool_field import console
from mendpool_field.disk import write_durably
from mendpool_field.errors import BadUsage
from mendpool_field.outbox import Entry

if TYPE_CHECKING:
    from mendpool.core.privacy.photo import Photo
    from mendpool_field.gateway import Gateway

WARNING = (
    "Look at each photograph once more before it goes. Faces, number plates, addresses on "
    "letters or labels, serial numbers and the view out of the shed door tell who you are "
    "and where. Nothing takes those out; place, time and camera are gone already."
)
_HASH = re.compile(r"[0-9a-f]{64}")


def photos_of(names: Sequence[str]) -> list["Photo"]:
    """Return photographs made again, so that nothing but the picture is kept.

    Raises:
        BadUsage: a file that can't be used, too many, or Pillow is missing.
    """
    if not names:
        return []
    from mendpool.core.errors import RefusedInput
    from mendpool.core.privacy.photo import (
        MEMBERS,
        PHOTOS_A_REPORT,
        NoPhotoTools,
        made_again,
    )

    if len(names) > PHOTOS_A_REPORT:
        raise BadUsage(f"A report takes {PHOTOS_A_REPORT} photographs.", "Choose the best.")
    made: dict[str, Photo] = {}
    for name in names:
        try:
            photo = made_again(_read(Path(name), MEMBERS.file_bytes), MEMBERS)
        except RefusedInput as refused:
            says = f"{name} can't be sent: {refused.errors[0].says}."
            raise BadUsage(says, "Nothing was sent; leave it out or mend it.") from None
        except NoPhotoTools:
            raise BadUsage(
                "Photographs need Pillow, and it is not installed here.",
                "Install it (python3 -m pip install pillow), or report without --photo.",
            ) from None
        made[photo.sha256] = photo  # the same picture twice is sent once
    return list(made.values())


def agreed_photos(photos: Sequence["Photo"], *, ask: bool) -> Sequence["Photo"]:
    """Tell what will be sent and what may give one away; return what may go.

    Args:
        photos: made again.
        ask: wait for a yes or a no; a no sends the report without them.

    Raises:
        BadUsage: there is nobody to ask.
    """
    if not photos:
        return photos
    for photo in photos:
        told = _told(photo.width, photo.height, len(photo.jpeg))
        console.talk(f"Photograph, made again: {told}.")
    console.talk(WARNING)
    if not ask:
        return photos
    try:
        while True:
            typed = console.read_line("Send the photographs too? [y, n] ").strip().lower()
            if typed in {"y", "yes"}:
                return photos
            if typed in {"n", "no"}:
                console.talk("The report goes without them.")
                return ()
    except EOFError:
        raise BadUsage(
            "Nobody said yes, so nothing was sent or kept.",
            "Add --yes to send without being asked.",
        ) from None


def photo_entry(new_id: str, report_id: str, photo: "Photo") -> tuple[Entry, bytes]:
    """Return what the outbox keeps of a photograph."""
    told = {
        "sha256": photo.sha256,
        "bytes": len(photo.jpeg),
        "width": photo.width,
        "height": photo.height,
    }
    return Entry(new_id, "photo", report_id, json.dumps(told)), photo.jpeg


def links(report_id: str, report: Mapping[str, Any], base: str) -> list[str]:
    """Return a line for each photograph of a report, and a link."""
    lines: list[str] = []
    for photo in _known(report):
        told = _told(photo.get("width"), photo.get("height"), photo.get("bytes"))
        lines += [
            f"Photograph: {told}",
            f"  {base}/v1/reports/{report_id}/photos/{photo['sha256']}",
        ]
    return lines


def fetched(
    gateway: "Gateway", report_id: str, report: Mapping[str, Any], folder: Path
) -> list[Path]:
    """Save the photographs of a report in a folder; return their files."""
    saved: list[Path] = []
    for photo in _known(report):
        path = folder / f"{photo['sha256'][:16]}.jpg"
        write_durably(path, gateway.photo(report_id, photo["sha256"]))
        saved.append(path)
    return saved


def _known(report: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Return what a report tells of photographs, of those with a hash that is one."""
    told = report.get("photos")
    found = told if isinstance(told, list) else []
    return [
        one
        for one in found
        if isinstance(one, Mapping) and _HASH.fullmatch(str(one.get("sha256")))
    ]


def _told(width: object, height: object, size: object) -> str:
    kilobytes = f", {size / 1000:.0f} kB" if isinstance(size, int) else ""
    sides = (width, height)
    return " × ".join(str(s) for s in sides if isinstance(s, int)) + f" points{kilobytes}"


def _read(path: Path, most: int) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(most + 1)
    except (FileNotFoundError, IsADirectoryError):
        raise BadUsage(f"There is no file {path}.", "Check its name and folder.") from None
