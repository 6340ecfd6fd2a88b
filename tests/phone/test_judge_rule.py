"""A reading judged on the phone is judged as the service judges it, to the letter.

Every band of the catalogue is read at, just beside and far past each of its edges, by sets
whose plate tells all, some or nothing: what `judge` says here is what judge.js must say in a
browser.
"""

import json
import random
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.handheld import limit_without_blanks
from mendpool.core.catalogue.limits import Limit
from mendpool.core.readings.basis import rounded
from mendpool.core.readings.judge import judge
from mendpool.core.readings.said import edge_text, figure_text
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Reading

from tests.phone.modules import empty_page
from tests.phone.vectors.make import FILE

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.phone
PLATES: tuple[dict[str, Any], ...] = (
    {},
    {"fuel": "diesel", "excitation": "not-known", "rated_kva": 6.5},
    {
        "fuel": "diesel", "excitation": "brushless-avr", "cooling": "liquid", "phases": 3,
        "starting": "electric", "duty": "standby", "governor": "mechanical", "rated_kva": 12,
        "rated_kw": 9.6, "rated_volts": 400, "rated_hz": 50, "rated_rpm": 1500,
        "start_volts": 24, "altitude_m": 1850, "class": "G2",
    },
    {
        "fuel": "petrol", "excitation": "capacitor", "cooling": "air", "phases": 1,
        "duty": "portable", "rated_kva": 2.2, "rated_volts": 120, "rated_hz": 60,
        "rated_rpm": 3600, "start_volts": 12,
    },
    {
        "fuel": "lpg", "excitation": "inverter", "phases": 1, "governor": "electronic",
        "rated_kw": 3, "rated_volts": 230, "rated_hz": 50, "rated_rpm": 3000,
    },
    {"fuel": "natural-gas", "excitation": "brushed-avr", "duty": "prime", "rated_volts": 240},
)  # fmt: skip
JUDGE = """async ([given, limits]) => {
  const { judge } = await import('/page/lib/judge.js');
  return given.map(([reading, machine]) => judge(reading, machine, limits));
}"""
SHARES = (0, 0.5, 0.999999, 1, 1.000001, 1.07, 2.5)


def bare(value: Any) -> Any:
    """Return JSON as the phone gets it: without what is empty."""
    if isinstance(value, dict):
        kept = {key: bare(part) for key, part in value.items()}
        return {key: part for key, part in kept.items() if part not in (None, {}, [])}
    return [bare(part) for part in value] if isinstance(value, list) else value


def edges(limit: Limit) -> list[float]:
    """Return every figure of a limit at which what it says may turn."""
    found = [limit.low, limit.high, limit.dead.below if limit.dead else None]
    found += [edge for shade in limit.shades for edge in (shade.over, shade.under)]
    found += [limit.danger.above, limit.danger.below] if limit.danger else []
    found += [*(limit.value_in or ())]
    return [edge for edge in found if edge is not None] or [1.0]


def readings(catalogue: Catalogue) -> Iterator[tuple[dict[str, Any], dict[str, Any]]]:
    """Give readings about every edge of every limit; the same ones each time."""
    chance = random.Random(8)
    for limit in catalogue.limits:
        for plate in PLATES:
            whole = plate.get("rated_volts", 230) if "volts" in limit.basis else 1
            whole = plate.get("rated_hz", 50) if "hertz" in limit.basis else whole
            whole = plate.get("rated_rpm", 3000) if "speed" in limit.basis else whole
            size = whole / 100 if limit.basis.startswith("percent") else 1
            for edge in edges(limit):
                for share in SHARES:
                    value = edge * size * share
                    reading: dict[str, Any] = {
                        "quantity": limit.quantity,
                        "point": chance.choice(limit.points),
                        "unit": catalogue.vocabulary.readings[limit.quantity].unit,
                        "value": value,
                        "condition": chance.choice((*limit.conditions, None)),
                        "which": chance.choice((*limit.which, None)),
                        "sign": chance.choice(("over", "under", "about", None, None, None)),
                        "mark": chance.choice((20, 30.5, None)),
                        "at_degC": chance.choice((-12, 20, 83.5, None)),
                    }
                    if chance.random() < 0.3:
                        reading |= {"min": value * 0.88, "max": value * 1.06}
                    if value != 0 or limit.correct != "acid":
                        yield bare(reading), plate


@pytest.fixture(scope="module")
def page(chromium: "Browser") -> "Iterator[Page]":
    with empty_page(chromium) as opened:
        yield opened


def test_every_band_says_on_the_phone_what_it_says_on_the_service(
    page: "Page", catalogue: Catalogue
) -> None:
    given = list(readings(catalogue))
    limits = [limit_without_blanks(limit) for limit in catalogue.limits]
    told = page.evaluate(JUDGE, [given, limits])
    verdicts, dangers = set(), set()
    for (reading, plate), found in zip(given, told, strict=True):
        expected = judge(Reading(**reading), Machine(**plate), catalogue.limits)
        judged = expected.judged
        verdicts.add(judged.verdict)
        dangers.add(expected.danger)
        assert found == {
            "verdict": judged.verdict,
            "low": judged.low,
            "high": judged.high,
            "source": judged.source,
            "means": judged.means,
            **({"danger": expected.danger} if expected.danger else {}),
        }, json.dumps([reading, plate])
    assert verdicts == {"low", "within", "high", "unjudged"}
    assert dangers >= {limit.danger.topic for limit in catalogue.limits if limit.danger}


def test_the_frozen_readings_are_judged_as_the_file_says(
    page: "Page", catalogue: Catalogue
) -> None:
    """The file is held to the service by `tests/core/test_judge_vectors.py`."""
    cases = json.loads(FILE.read_text("utf-8"))
    limits = [limit_without_blanks(limit) for limit in catalogue.limits]
    told = page.evaluate(JUDGE, [[[c["reading"], c["machine"]] for c in cases], limits])
    for case, found in zip(cases, told, strict=True):
        for part in ("verdict", "low", "high", "means", "source"):
            assert found[part] == case.get(part), case


# Ties stand at every second figure of a half, where a browser's own rounding differs; small,
# large and negative ones, and what rounds up into one digit more.
NUMBERS = (
    0.0, -0.0, 0.5, 1.5, 2.5, 100000.5, 100001.5, 999999.5, 999999.4999, 1000005.0, 12345.5,
    0.00012345, 0.0000999995, 0.00001, 1e-7, 2.5e22, -3.25, -0.0625, 0.03125, 0.00390625,
    9999.5, 99995.0, 0.1 + 0.2, 1 / 3, 2 / 3 * 1e6, 138.56406460551017, 28.867513459481287,
)  # fmt: skip


def test_figures_are_written_and_rounded_alike(page: "Page") -> None:
    chance = random.Random(26)
    numbers = [
        *NUMBERS,
        *(chance.randint(1, 10**7) / 2 ** chance.randint(0, 9) for _ in range(3000)),
    ]
    told = page.evaluate(
        """async (numbers) => {
          const { edgeText, figureText, rounded } = await import('/page/lib/judge_numbers.js');
          return numbers.map((n) => [figureText(n), edgeText(n), rounded(n)]);
        }""",
        numbers,
    )
    assert told == [[figure_text(n), edge_text(n), rounded(n)] for n in numbers]
