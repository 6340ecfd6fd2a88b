"""Decode a picture of bearable size and draw it again: the one user of Pillow."""

from io import BytesIO

from PIL import Image, ImageOps

_QUALITIES = (85, 75, 65, 50)
_SMALLER = 0.75  # of each side, where even the lowest quality is too large

# The caller has looked at the sizes, and more strictly; Pillow would warn, from any thread.
Image.MAX_IMAGE_PIXELS = None


class Unreadable(Exception):
    """It can't be used; the words are for a person."""


def redrawn(
    file: bytes, size: tuple[int, int], long_side: int, most: int
) -> tuple[bytes, tuple[int, int]]:
    """Return a picture as a baseline JPEG that holds its points and nothing else.

    Args:
        file: a JPEG or PNG.
        size: what its first bytes declare; another size found on decoding is a trick.
        long_side: the most points of a side.
        most: bytes of the JPEG.

    Returns:
        The JPEG, and its width and height.

    Raises:
        Unreadable: damaged, cut short, moving, or of another size.
    """
    try:
        with Image.open(BytesIO(file), formats=("JPEG", "PNG")) as opened:
            trick = _trick(opened, size)
            if trick is None:
                opened.draft("RGB", (long_side, long_side))
                opened.load()
                upright = ImageOps.exif_transpose(opened)
                upright.thumbnail((long_side, long_side), Image.Resampling.LANCZOS)
                return _encoded(_bare(upright), most)
    except Exception as error:
        # A broken file can raise nearly anything in a decoder; it is always the file's fault.
        raise Unreadable("it is damaged or cut short") from error
    raise Unreadable(trick)


def _trick(opened: Image.Image, size: tuple[int, int]) -> str | None:
    if opened.size != size:
        return "its sizes contradict each other"
    if opened.format == "PNG" and getattr(opened, "n_frames", 1) > 1:
        return "it moves; send one picture of it"
    return None


def _bare(image: Image.Image) -> Image.Image:
    """Return the points alone as RGB, what is see-through over white."""
    if image.mode in {"RGBA", "LA", "PA"} or "transparency" in image.info:
        above = image.convert("RGBA")
        image = Image.alpha_composite(Image.new("RGBA", above.size, "white"), above)
    image = image.convert("RGB")
    return Image.frombytes("RGB", image.size, image.tobytes())


def _encoded(image: Image.Image, most: int) -> tuple[bytes, tuple[int, int]]:
    while True:
        for quality in _QUALITIES:
            out = BytesIO()
            image.save(out, "JPEG", quality=quality, optimize=True, progressive=False)
            if out.tell() <= most:
                return out.getvalue(), image.size
        width, height = (max(1, round(side * _SMALLER)) for side in image.size)
        image = image.resize((width, height), Image.Resampling.LANCZOS)
