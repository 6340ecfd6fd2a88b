"""Invented pictures, with everything a camera or a prankster puts beside the points."""

import struct
import zlib
from functools import cache
from io import BytesIO

from PIL import Image, ImageDraw, PngImagePlugin

CANARY = b"QUILLFEATHER"


@cache
def picture(number: int = 0, size: tuple[int, int] = (320, 240)) -> bytes:
    """Return a plain JPEG, another for each number."""
    out = BytesIO()
    drawn(number, size).save(out, "JPEG")
    return out.getvalue()


def drawn(number: int = 0, size: tuple[int, int] = (320, 240)) -> Image.Image:
    """Return an invented picture: red above, blue below, with a box whose side tells which."""
    image = Image.new("RGB", size, "red")
    draw = ImageDraw.Draw(image)
    draw.rectangle((0, size[1] // 2, *size), fill="blue")
    side = 10 + 7 * number
    draw.rectangle((5, 5, 5 + side, 5 + side), fill="white")
    return image


def told_all(orientation: int = 1) -> bytes:
    """Return a JPEG that says in every place a JPEG has who took it and where."""
    word = CANARY.decode()
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = exif[0x013B] = exif[0x9C9D] = word  # maker, artist, Windows' author
    inner = exif.get_ifd(0x8769)
    inner[0x927C] = CANARY  # the maker's own note
    inner[0x9003] = word  # when
    place = exif.get_ifd(0x8825)
    place[1], place[2], place[29] = "N", (52.0, 31.0, 7.0), word
    out = BytesIO()
    drawn().save(
        out,
        "JPEG",
        exif=exif,
        xmp=b"<x:xmpmeta>" + CANARY + b"</x:xmpmeta>",
        icc_profile=b"\0" * 128 + CANARY,
        comment=CANARY,
    )
    whole = out.getvalue()
    iptc = segment(0xED, b"Photoshop 3.0\0" + CANARY)
    thumbnail = segment(0xE0, b"JFXX\0\x10" + CANARY)
    unheard = segment(0xEC, CANARY)
    return whole[:2] + iptc + thumbnail + unheard + whole[2:] + CANARY * 100


def told_all_png() -> bytes:
    """Return a PNG with texts, plain and packed, a profile, a time, and a tail."""
    word = CANARY.decode()
    info = PngImagePlugin.PngInfo()
    info.add_text("Author", word)
    info.add_text("Comment", word, zip=True)
    info.add_itxt("XML:com.adobe.xmp", word)
    info.add(b"tIME", b"\x07\xea\x0b\x1c\x0c\0\0")
    info.add(b"quIl", CANARY)
    exif = Image.Exif()
    exif[0x013B] = word
    out = BytesIO()
    drawn().save(out, "PNG", pnginfo=info, icc_profile=CANARY * 20, exif=exif)
    return out.getvalue() + CANARY * 100


def segment(marker: int, content: bytes) -> bytes:
    """Return one segment of a JPEG."""
    return bytes((0xFF, marker)) + struct.pack(">H", len(content) + 2) + content


def chunk(kind: bytes, content: bytes) -> bytes:
    """Return one chunk of a PNG."""
    check = zlib.crc32(kind + content)
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", check)


def png_of(width: int, height: int, *more: bytes, rows: bytes = b"") -> bytes:
    """Return a PNG that declares a size and holds whatever rows it is given."""
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    body = chunk(b"IDAT", zlib.compress(rows, 9))
    return b"\x89PNG\r\n\x1a\n" + head + b"".join(more) + body + chunk(b"IEND", b"")


def jpeg_declaring(width: int, height: int) -> bytes:
    """Return a JPEG whose frame declares another size than it has points for."""
    plain = bytearray(picture())
    at = plain.index(b"\xff\xc0")
    plain[at + 5 : at + 9] = struct.pack(">HH", height, width)
    return bytes(plain)


def segments(jpeg: bytes) -> list[int]:
    """Return the markers of a JPEG up to its points, and check that nothing follows the end."""
    found, at = [], 2
    while jpeg[at + 1] != 0xDA:
        found.append(jpeg[at + 1])
        at += 2 + int.from_bytes(jpeg[at + 2 : at + 4])
    assert jpeg.endswith(b"\xff\xd9")
    assert jpeg.count(b"\xff\xd9") == 1
    return found
