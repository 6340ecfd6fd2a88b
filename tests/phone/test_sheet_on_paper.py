"""The fault sheet printed by a real browser: front and back, no more."""

import re
from pathlib import Path

import pytest

from mendpool.core.diagnosis.engine import Engine
from mendpool.core.record.machine import Machine
from mendpool.core.sheet.made import sheet_of
from mendpool.core.sheet.page import Paper, sheet_page

from tests.phone.browser import printed

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
