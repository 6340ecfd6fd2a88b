"""Of a photograph only the points are kept, and nothing bears down on the machine."""

import pickle
import subprocess
import sys
import time
import warnings
import zlib
from io import BytesIO

import pytest
from PIL import Image

from mendpool.core.errors import RefusedInput
from mendpool.core.privacy.photo import BYTES_KEPT, MEMBERS, SERVICES, Limits, made_again

from tests.pictures import (
    CANARY,
    chunk,
    drawn,
    jpeg_declaring,
    picture,
    png_of,
    segments,
    told_all,
    told_all_png,
)


@pytest.mark.parametrize("file", [told_all(), told_all_png()], ids=["jpeg", "png"])
def test_nothing_beside_the_points_survives(file: bytes) -> None:
    assert CANARY in file  # or the test could not fail
    kept = made_again(file, MEMBERS).jpeg
    assert CANARY not in kept
    assert CANARY.decode().encode("utf-16-le") not in kept
    # T.81: JFIF's own header, tables and the frame; no APP1 (Exif, XMP), APP2 (ICC), COM.
    assert set(segments(kept)) <= {0xE0, 0xDB, 0xC0, 0xC4}
    with Image.open(BytesIO(kept)) as again:
        assert not again.getexif()
        assert set(again.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}


@pytest.mark.parametrize(("orientation", "upright"), [(1, (320, 240)), (6, (240, 320))])
def test_it_stands_upright(orientation: int, upright: tuple[int, int]) -> None:
    kept = made_again(told_all(orientation), MEMBERS)
    assert (kept.width, kept.height) == upright
    with Image.open(BytesIO(kept.jpeg)) as again:
        corner = again.getpixel((upright[0] - 20, 60))
    assert isinstance(corner, tuple)
    assert corner[0] > 200  # red: above before, at the right after a quarter turn


def test_the_long_side_and_the_bytes_are_bounded() -> None:
    noise = Image.effect_noise((3000, 2000), 200).convert("RGB")
    out = BytesIO()
    noise.save(out, "JPEG", quality=95)
    kept = made_again(out.getvalue(), MEMBERS)
    assert max(kept.width, kept.height) <= 1600
    assert len(kept.jpeg) <= BYTES_KEPT
    assert made_again(picture(), MEMBERS).width == 320  # and nothing is blown up


def test_what_the_command_sends_the_service_takes() -> None:
    out = BytesIO()
    drawn(size=(4000, 3000)).save(out, "PNG")
    sent = made_again(out.getvalue(), MEMBERS)
    assert (sent.width, sent.height) == (1600, 1200)
    assert made_again(sent.jpeg, SERVICES).width == 1600


@pytest.mark.parametrize("mode", ["L", "LA", "P", "RGBA", "I;16", "1"])
def test_every_kind_of_png_becomes_a_plain_picture(mode: str) -> None:
    plain = drawn().convert("L") if mode == "I;16" else drawn()
    made = plain.convert("I;16") if mode == "I;16" else plain.convert(mode)
    out = BytesIO()
    made.save(out, "PNG")
    with Image.open(BytesIO(made_again(out.getvalue(), MEMBERS).jpeg)) as again:
        assert again.mode == "RGB"


def test_what_is_see_through_is_over_white() -> None:
    out = BytesIO()
    Image.new("RGBA", (40, 40), (0, 0, 0, 0)).save(out, "PNG")
    with Image.open(BytesIO(made_again(out.getvalue(), MEMBERS).jpeg)) as again:
        assert again.getpixel((20, 20)) == (255, 255, 255)


def _moving() -> bytes:
    out = BytesIO()
    drawn().save(out, "PNG", save_all=True, append_images=[drawn(1)])
    return out.getvalue()


def _tiff(width: int) -> bytes:
    out = BytesIO()
    drawn().save(out, "TIFF")
    return out.getvalue().replace((320).to_bytes(2, "little"), width.to_bytes(2, "little"))


def _many_scans() -> bytes:
    out = BytesIO()
    drawn(size=(2000, 2000)).save(out, "JPEG", progressive=True)
    whole = out.getvalue()
    last = whole.rindex(b"\xff\xda")
    return whole[:-2] + whole[last:-2] * 3000 + whole[-2:]


def _packed(mebibytes: int) -> bytes:
    """A PNG of a few points whose texts unpack to so much."""
    text = b"Comment\0\0" + zlib.compress(b"\0" * (mebibytes << 20), 9)
    return png_of(2, 2, *[chunk(b"zTXt", text)] * 8, rows=b"\0" * 14)


BOMBS = {
    "a PNG of 2,000 million points": (png_of(2**31 - 1, 1), "million points"),
    "a PNG of 65,000 by 65,000": (png_of(65_000, 65_000, rows=bytes(10_000_000)), "million"),
    "a JPEG of 65,000 by 65,000": (jpeg_declaring(65_000, 65_000), "million points"),
    "texts of 512 MiB": (_packed(64), "damaged"),
    "thousands of scans": (_many_scans(), "slow"),
    "a TIFF": (_tiff(65_000), "it is a TIFF"),
    "a GIF": (b"GIF89a\xff\xff\xff\xff" + bytes(50), "it is a GIF"),
    "a WebP": (b"RIFF\0\0\0\0WEBPVP8X" + b"\xff" * 40, "it is WebP"),
    "a telephone's HEIC": (b"\0\0\0\x18ftypheic" + bytes(40), "HEIC"),
    "PostScript": (b"%!PS-Adobe\n{} loop", "PostScript"),
    "a page that calls itself a picture": (b"<?xml version='1.0'?><svg/>", "XML"),
    "a picture that moves": (_moving(), "it moves"),
    "a picture of no size": (png_of(0, 0), "no size"),
    "rows that unpack without end": (png_of(4, 4, rows=bytes(100_000_000)), ""),
}


def tried(file: bytes) -> str:
    """Return why a file is refused; nothing where it is not."""
    try:
        made_again(file, MEMBERS)
    except RefusedInput as refused:
        return refused.errors[0].says
    return ""


@pytest.mark.parametrize("name", BOMBS)
def test_a_bomb_is_refused_at_once(name: str) -> None:
    file, says = BOMBS[name]
    started = time.process_time()
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        why = tried(file)
    assert time.process_time() - started < 1
    assert says in why
    assert bool(says) == bool(why)  # rows without end are read to where the picture ends


def test_no_bomb_takes_room() -> None:
    script = (
        "import pickle, resource, sys\n"
        "from tests.core.test_photo import BOMBS, MEMBERS, made_again, picture, tried\n"
        "files = pickle.load(sys.stdin.buffer)\n"
        "made_again(picture(), MEMBERS)\n"
        "used = lambda: resource.getrusage(resource.RUSAGE_SELF).ru_maxrss\n"
        "before = used()\n"
        "for file in files: tried(file)\n"
        "print(used() - before)"
    )
    files = pickle.dumps([file for file, _ in BOMBS.values()])
    done = subprocess.run(
        [sys.executable, "-c", script], input=files, capture_output=True, check=True
    )
    assert int(done.stdout) < 100_000  # KiB; Pillow bounds the texts of a PNG at 64 MiB


def test_the_sizes_decide_before_a_decoder_is_even_loaded() -> None:
    tight = Limits(1_000_000, 320 * 240, png=True)
    assert made_again(picture(), tight).width == 320
    with pytest.raises(RefusedInput, match="points"):
        made_again(picture(size=(321, 240)), tight)
    with pytest.raises(RefusedInput, match="larger than"):
        made_again(picture(), Limits(100, 320 * 240, png=True))


@pytest.mark.parametrize("part", [0.1, 0.5, 0.9])
@pytest.mark.parametrize("make", [picture, told_all_png], ids=["jpeg", "png"])
def test_what_is_cut_short_is_refused(make: object, part: float) -> None:
    whole = make()  # type: ignore[operator]
    whole = whole.removesuffix(CANARY * 100)
    with pytest.raises(RefusedInput, match="damaged or cut short"):
        made_again(whole[: int(len(whole) * part)], MEMBERS)


@pytest.mark.parametrize(
    "file",
    [
        b"\x89PNG\r\n\x1a\n" + chunk(b"sRGB", b"\0") + png_of(4, 4)[8:],
        png_of(4, 4)[:20],
        picture()[:3],
        b"\xff\xd8" + b"\xff" * 40,
        b"\xff\xd8\xff\xe0\x00\x10JFIF\0",
    ],
    ids=["PNG begins otherwise", "PNG cut", "JPEG cut", "filling alone", "no frame"],
)
def test_a_picture_that_does_not_say_its_size_is_refused(file: bytes) -> None:
    """PNG (W3C) 11.2.1: IHDR comes first. ITU-T T.81 B.1.1: a frame tells the size."""
    with pytest.raises(RefusedInput, match="damaged or cut short"):
        made_again(file, MEMBERS)


def test_bytes_of_filling_before_a_marker_are_no_damage() -> None:
    """ITU-T T.81 B.1.1.2: any marker may have bytes FF before it."""
    whole = picture()
    filled = whole[:2] + b"\xff\xff\xff" + whole[2:]
    assert made_again(filled, MEMBERS).width == 320
