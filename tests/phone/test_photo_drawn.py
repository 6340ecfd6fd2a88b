"""A photograph is drawn anew by the browser before it is kept: only its points are left."""

import base64
from io import BytesIO
from typing import TYPE_CHECKING, Any

import pytest
from PIL import Image

from mendpool.core.privacy.photo import LONG_SIDE, SERVICES, made_again

from tests.phone.bare import page
from tests.pictures import CANARY, drawn, told_all

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.phone
__all__ = ["page"]
DRAWN = """async (file) => {
  const { redrawn } = await import('/page/lib/photo.js');
  const bytes = Uint8Array.from(atob(file), (c) => c.charCodeAt(0));
  try {
    const jpeg = await redrawn(new Blob([bytes]));
    const made = new Uint8Array(await jpeg.arrayBuffer());
    return [jpeg.type, Array.from(made, (b) => String.fromCharCode(b)).join('')];
  } catch (error) {
    return [error.name, ''];
  }
}"""


def redrawn(page: "Page", file: bytes) -> tuple[str, bytes]:
    """Return what the page keeps of a file: its kind, or the error's name, and its bytes."""
    kind, told = page.evaluate(DRAWN, base64.b64encode(file).decode())
    return kind, told.encode("latin-1")


@pytest.mark.parametrize(("orientation", "size"), [(1, (320, 240)), (6, (240, 320))])
def test_nothing_but_the_picture_is_left_and_it_stands_upright(
    page: "Page", orientation: int, size: tuple[int, int]
) -> None:
    file = told_all(orientation)
    assert CANARY in file
    kind, made = redrawn(page, file)
    assert kind == "image/jpeg"
    assert CANARY not in made
    assert b"Exif" not in made
    assert Image.open(BytesIO(made)).size == size


def noise(size: tuple[int, int]) -> bytes:
    """Return a picture that is as hard to pack as any."""
    out = BytesIO()
    Image.effect_noise(size, 120).convert("RGB").save(out, "JPEG", quality=90)
    return out.getvalue()


def test_a_large_one_becomes_what_the_service_takes(page: "Page") -> None:
    kind, made = redrawn(page, noise((4000, 3000)))
    assert kind == "image/jpeg"
    assert len(made) <= SERVICES.file_bytes
    assert max(Image.open(BytesIO(made)).size) <= LONG_SIDE
    assert made_again(made, SERVICES).jpeg


def test_a_picture_one_can_see_through_is_on_white(page: "Page") -> None:
    out = BytesIO()
    Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(out, "PNG")
    _, made = redrawn(page, out.getvalue())
    point: Any = Image.open(BytesIO(made)).getpixel((10, 10))
    assert min(point) > 250


@pytest.mark.parametrize("file", [b"", b"no picture", drawn().tobytes()[:500]])
def test_what_is_no_picture_is_told_so(page: "Page", file: bytes) -> None:
    assert redrawn(page, file)[0] == "NoPicture"
