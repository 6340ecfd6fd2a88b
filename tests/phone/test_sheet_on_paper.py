"""The fault sheet printed by a real browser: front and back, no more."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest

from mendpool.core.diagnosis.engine import Engine
from mendpool.core.record.machine import Machine
from mendpool.core.sheet.made import sheet_of
from mendpool.core.sheet.page import Paper, sheet_page

from tests.phone.browser import printed
from tests.phone.conftest import Pool
from tests.phone.hand import Hand

pytestmark = pytest.mark.phone
SETS = {
    "a plate known in full": Machine(
        fuel="diesel", rated_kva=6.5, rated_volts=240, rated_hz=60, rated_rpm=1800, phases=1,
        cooling="liquid",
    ),
    "three phases on gas": Machine(
        fuel="natural-gas", rated_kva=20, rated_volts=400, rated_hz=50, phases=3
    ),
    "nothing but the fuel": Machine(fuel="petrol"),
}  # fmt: skip


@pytest.mark.parametrize("paper", ["A4", "letter"])
@pytest.mark.parametrize("kind", SETS)
def test_it_is_two_sides_of_one_sheet(
    engine: Engine, tmp_path: Path, kind: str, paper: Paper
) -> None:
    page = tmp_path / "sheet.html"
    page.write_text(sheet_page(sheet_of(SETS[kind], engine), "barn", paper), "utf-8")
    document = printed(page, tmp_path / "sheet.pdf")
    assert len(re.findall(rb"/Type\s*/Page[^s]", document)) == 2


ID = "0193a000-0000-7000-8000-00000000000"


@pytest.mark.parametrize("language", ["en-GB", "es-MX"])
def test_from_the_page_it_is_the_same_two_sides(
    new_hand: Callable[..., Hand], new_code: Callable[[], str], pool: Pool, language: str
) -> None:
    hand = new_hand(locale=language)
    hand.page.goto(f"{hand.url}/#join={new_code()}")
    hand.page.locator("button.main").click()
    hand.page.locator("a.main").first.wait_for()
    for number, machine in enumerate(SETS.values()):
        plate = machine.model_dump(mode="json", exclude_none=True)
        hand.page.evaluate(
            "async (set) => (await import('/page/lib/keep.js')).keep('sets', set)",
            {"id": f"{ID}{number}", "name": "barn", "machine": plate},
        )
        hand.page.goto("about:blank")
        hand.page.goto(f"{hand.url}/#/sheet/{ID}{number}")
        hand.page.locator(".sheet .good-values").first.wait_for()
        for paper in ("A4", "Letter"):
            document = hand.page.pdf(format=paper)
            assert len(re.findall(rb"/Type\s*/Page[^s]", document)) == 2, (paper, plate)
        if language == "en-GB":
            said = hand.page.locator(".sheet").text_content() or ""
            for text in _words_of(_told(pool, plate)):
                assert text in said, text


def _told(pool: Pool, plate: dict[str, Any]) -> dict[str, Any]:
    """Return the sheet as the service tells it, the same that the command prints."""
    bearer = {"Authorization": f"Bearer {next(iter(pool.tokens.values()))}"}
    told = httpx.post(f"{pool.url}/v1/sheet", json={"machine": plate}, headers=bearer)
    found: dict[str, Any] = told.raise_for_status().json()
    return found


def _words_of(sheet: dict[str, Any]) -> list[str]:
    """Return all that a sheet says of its set, of safety, of what to do and of its letters."""
    words = sheet["words"]
    said = [
        sheet["plate"],
        *sheet["cautions"],
        sheet["walk_round"],
        words["call"],
        words["from"],
    ]
    for one in sheet["complaints"]:
        said += [one["says"], *one["safe"], *one["steps"], *one["often"]]
    said += [good[name] for good in sheet["good"] for name in ("says", "band")]
    return [
        *said,
        words["key_in"],
        *(c["says"] for part in sheet["form"].values() for c in part),
    ]
