"""A photograph made again from its points alone, so that nothing else of the file is left.

Where it was taken, when, by which camera, a profile, a remark, a small earlier picture, what
hangs behind the end: all of it stands beside the points, and none of it is copied. Both the
member's command and the service do this; the service trusts nobody's word that it was done.

Only JPEG and PNG are read, and how large one is when decoded is known from its first bytes.
The decoding itself is in `photo_points`, imported when a photograph is there.
"""

import hashlib
import struct
from dataclasses import dataclass

from mendpool.core.errors import Complaint, MendpoolError, RefusedInput

LONG_SIDE = 1600
"""Points on the long side of what is kept: enough to read a nameplate, common practice."""
BYTES_KEPT = 400_000
"""The most bytes of what is kept."""
PHOTOS_A_REPORT = 6

_SCANS = 64  # a camera's progressive picture has ten or so; thousands cost minutes to read
_JPEG, _PNG = b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n"
_SCAN = b"\xff\xda"
_NO_SIZE = frozenset({0xC4, 0xC8, 0xCC})  # of the markers C0 to CF these tell no size
_KINDS = (
    (b"GIF8", "a GIF"), (b"II*\0", "a TIFF"), (b"MM\0*", "a TIFF"), (b"BM", "a bitmap"),
    (b"%PDF", "a PDF"), (b"%!PS", "PostScript"), (b"<svg", "an SVG"), (b"<?xml", "XML"),
)  # fmt: skip


class NoPhotoTools(MendpoolError):
    """Pillow is not installed, so no photograph can be read."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What is looked at before anything is decoded.

    Args:
        file_bytes: the largest file.
        points: the most points, width times height; each takes about four bytes to decode.
        png: PNG is read too, not only JPEG.
    """

    file_bytes: int
    points: int
    png: bool


MEMBERS = Limits(30_000_000, 50_000_000, png=True)
"""What a member's own machine takes: a telephone's camera gives 12 to 50 million points."""
SERVICES = Limits(1_048_576, 4_000_000, png=False)
"""What the service takes: the command sends at most 1600 by 1600 points."""


@dataclass(frozen=True, slots=True)
class Photo:
    """A photograph as it is kept: a plain JPEG of at most `BYTES_KEPT`."""

    jpeg: bytes
    width: int
    height: int

    @property
    def sha256(self) -> str:
        """The hash of its bytes, by which it is known."""
        return hashlib.sha256(self.jpeg).hexdigest()


def made_again(file: bytes, limits: Limits) -> Photo:
    """Return a photograph made again: upright, small, and with nothing but the picture.

    Raises:
        RefusedInput: it is too large, or no whole JPEG or PNG; says which.
        NoPhotoTools: Pillow is missing.
    """
    width, height = _size(file, limits)
    if width < 1 or height < 1:
        raise _refused("it is a picture of no size")
    if width * height > limits.points:
        most = limits.points // 1_000_000
        raise _refused(f"it has more than {most} million points; make it smaller first")
    try:
        # Not before a photograph is there: the command must start without Pillow.
        from mendpool.core.privacy.photo_points import Unreadable, redrawn  # noqa: PLC0415
    except ImportError:
        raise NoPhotoTools from None
    try:
        jpeg, size = redrawn(file, (width, height), LONG_SIDE, BYTES_KEPT)
    except Unreadable as error:
        raise _refused(str(error)) from error
    return Photo(jpeg, *size)


def _size(file: bytes, limits: Limits) -> tuple[int, int]:
    """Return width and height as the file declares them, without decoding anything.

    Raises:
        RefusedInput: too many bytes, another kind of file, or nothing declared.
    """
    if len(file) > limits.file_bytes:
        most = limits.file_bytes / 1e6
        raise _refused(f"the file is larger than {most:.0f} MB; make it smaller first")
    if file.startswith(_JPEG):
        if file.count(_SCAN) > _SCANS:
            raise _refused("it is built to be slow to read")
        return _jpeg_size(file)
    if file.startswith(_PNG) and limits.png:
        return _png_size(file)
    raise _refused(_other(file, limits))


def _png_size(file: bytes) -> tuple[int, int]:
    # PNG specification (W3C) 11.2.1: the first chunk is IHDR, and begins with both sizes.
    if file[12:16] != b"IHDR" or len(file) < 24:
        raise _refused("it is damaged or cut short")
    width, height = struct.unpack(">II", file[16:24])
    return int(width), int(height)


def _jpeg_size(file: bytes) -> tuple[int, int]:
    # ITU-T T.81 B.1.1: segments of a marker and a length, up to the frame that tells the size.
    at = 2
    while at + 9 <= len(file) and file[at] == 0xFF:
        marker = file[at + 1]
        if 0xC0 <= marker <= 0xCF and marker not in _NO_SIZE:
            height, width = struct.unpack(">HH", file[at + 5 : at + 9])
            return int(width), int(height)
        if marker == 0xFF:  # a byte of filling
            at += 1
            continue
        at += 2 + int.from_bytes(file[at + 2 : at + 4])
    raise _refused("it is damaged or cut short")


def _other(file: bytes, limits: Limits) -> str:
    found = next((name for begin, name in _KINDS if file.lstrip().startswith(begin)), None)
    if found is None and file[4:8] == b"ftyp":
        found = "HEIC or a film"
    if found is None and file[8:12] == b"WEBP":
        found = "WebP"
    taken = "JPEG or PNG" if limits.png else "JPEG"
    is_it = f"it is {found}" if found else "it is no picture we know"
    return f"{is_it}; save it as {taken}"


def _refused(says: str) -> RefusedInput:
    return RefusedInput([Complaint("/photo", says)])
