"""The page's pictures: inside their frame, told in words, the same in the table beside them.

They are drawn by a real browser, from the files and from nowhere else, in every language.
"""

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, Page, Route

pytestmark = pytest.mark.phone
PHONE = Path(__file__).parents[2] / "clients" / "phone"
NOWHERE = "http://phone.invalid"
KINDS = {".js": "text/javascript", ".css": "text/css", ".json": "application/json"}
NASTY = "<img src=x onerror=alert(1)>"
LONG = "voltage regulator and the wires it senses by, cleaned, dried out and set anew " * 3

VOLTS = {"unit": "V", "low": 228, "high": 252, "source": "common practice"}
READINGS: tuple[dict[str, Any], ...] = (
    {**VOLTS, "value": 238.25, "verdict": "within"},
    {**VOLTS, "value": 198, "min": 180, "max": 260, "verdict": "low"},
    {**VOLTS, "value": 0, "verdict": "low"},
    {**VOLTS, "value": 123456.789, "verdict": "high"},
    {"value": 0, "sign": "over", "unit": "ohm", "low": 20, "high": 60, "verdict": "high"},
    {"value": 200, "unit": "Mohm", "low": 1, "verdict": "within"},
    {"value": 0.0002, "unit": "Mohm", "low": 1, "verdict": "low"},
    {"value": 3, "unit": "mm", "high": 0.5, "verdict": "high"},
    {"value": -40, "unit": "degC", "low": -5, "high": 102, "verdict": "low"},
    {"value": 60, "unit": "Hz", "low": 60, "high": 60, "verdict": "within"},
    {"value": 0, "unit": "V", "low": 0, "high": 0, "verdict": "within"},
)
ROWS: tuple[dict[str, Any], ...] = (
    {"name": "brushes", "low": 0.5, "high": 0.92, "rate": 0.7, "of": 9, "hits": 7, "people": 6},
    {"name": LONG, "low": 0, "high": 1, "rate": 1, "of": 1, "hits": 1, "people": 1},
    {"name": NASTY, "low": None, "high": None, "of": 0, "hits": 0, "people": 0},
)  # fmt: skip


def at(months: int, share: float | None, at_risk: int) -> dict[str, Any]:
    """Return a point of a holding curve."""
    low, high = (None, None) if share is None else (share - 0.2, share + 0.1)
    return {"months": months, "share": share, "low": low, "high": high, "at_risk": at_risk}


# The shape of `GET /v1/durability`; twelve followed, one to two years.
HELD = {
    "says": "12 were followed.",
    "followed": 12,
    "failed": 2,
    "steps": [at(2, 0.9, 10), at(7, 0.78, 7), at(13, 0, 1)],
    "at": [at(3, 0.9, 9), at(6, 0.9, 7), at(12, 0.78, 5), at(24, None, 1)],
}
YEAR = [1, 0, 3, 5, 2, 0, 7, 1234, 1, 0, 0, 4]
PAST: tuple[dict[str, Any], ...] = (
    {**VOLTS, "when": "2026-09", "value": 219, "min": 200, "max": 239, "verdict": "low"},
    {**VOLTS, "when": "2026-01-03", "value": 238, "verdict": "within"},
    {**VOLTS, "when": "2026-01-04", "value": 123456.78, "verdict": "high"},
)

LOOK = """(figure) => {
  document.body.replaceChildren(figure);
  for (const part of figure.querySelectorAll('details')) part.open = true;
  const svg = figure.querySelector('svg');
  const frame = svg?.viewBox.baseVal;
  const all = (chosen) => [...svg?.querySelectorAll(chosen) ?? []];
  const out = all('text, rect, path, line, circle').filter((one) => {
    const box = one.getBBox();
    return box.x < -1 || box.y < -1 || box.x + box.width > frame.width + 1
      || box.y + box.height > frame.height + 1 || [box.x, box.y].some(Number.isNaN);
  });
  const named = svg?.getAttribute('aria-labelledby').split(' ');
  const text = (one) => one.textContent.replaceAll('\\u00a0', ' ');
  const cells = (row) => [...row.children].map(text);
  return {
    out: out.map((one) => one.outerHTML),
    role: svg?.getAttribute('role'),
    title: named && document.getElementById(named[0]).textContent,
    says: named && document.getElementById(named[1]).textContent,
    caption: figure.querySelector('figcaption').textContent,
    drawn: all('text').map((one) => one.textContent),
    table: [...figure.querySelectorAll('tbody tr')].map(cells),
    styled: figure.querySelectorAll('[style]').length,
    images: document.images.length,
    text: figure.textContent,
  };
}"""


@pytest.fixture(scope="module", params=["en", "es"])
def page(request: pytest.FixtureRequest, chromium: "Browser") -> "Iterator[Page]":
    """Give an empty page that may load the phone's files, and nothing else."""

    def from_folder(route: "Route") -> None:
        name = route.request.url.removeprefix(NOWHERE).removeprefix("/page/")
        if name == "/":
            route.fulfill(
                body="<!doctype html><link rel=stylesheet href=/page/look.css>",
                content_type="text/html",
            )
        else:
            route.fulfill(path=PHONE / name, content_type=KINDS[Path(name).suffix])

    context = chromium.new_context(viewport={"width": 360, "height": 640})
    context.route("**/*", from_folder)
    opened = context.new_page()
    opened.goto(f"{NOWHERE}/")
    opened.evaluate(
        "async (code) => (await import('/page/lib/words.js')).useLanguage(code)", request.param
    )
    opened.wait_for_load_state("networkidle")
    yield opened
    context.close()


def drawn(page: "Page", module: str, name: str, *given: Any) -> dict[str, Any]:
    """Draw a picture and return what there is to see and to hear of it."""
    found: dict[str, Any] = page.evaluate(
        f"async ([m, n, g]) => ({LOOK})((await import(`/page/lib/${{m}}.js`))[n](...g))",
        [module, name, list(given)],
    )
    assert found["styled"] == found["images"] == 0, found
    assert found["out"] == [], found
    if found["role"] is not None:
        assert found["role"] == "img"
        assert found["title"] == found["caption"]
        assert len(found["says"]) > 3, found
        assert found["table"], found
    return found


class TestAReadingOnItsBand:
    @pytest.mark.parametrize("reading", READINGS, ids=lambda r: f"{r['value']} {r['unit']}")
    def test_it_stays_inside_however_far_off(
        self, page: "Page", reading: dict[str, Any]
    ) -> None:
        found = drawn(page, "figures", "bandFigure", reading, "volts, the output")
        edges = [reading[name] for name in ("low", "high") if name in reading]
        assert found["role"] == "img"
        assert len(found["table"]) == 1 + len(edges) + 2 * ("min" in reading)

    def test_its_limits_stand_at_their_places(self, page: "Page") -> None:
        found = drawn(page, "figures", "bandFigure", READINGS[0], "volts")
        assert {"228", "252"} <= set(found["drawn"])
        assert any("238" in text and "V" in text for text in found["drawn"])
        assert "common practice" in found["text"]

    def test_without_a_band_it_is_the_figure_alone(self, page: "Page") -> None:
        found = drawn(page, "figures", "bandFigure", {"value": 34, "unit": "degC"}, "head")
        assert found["role"] is None
        assert "34 °C" in found["text"]


def test_ranges_are_written_in_with_their_counts(page: "Page") -> None:
    found = drawn(page, "figures", "rangesFigure", list(ROWS), NASTY)
    assert [row[0] for row in found["table"]] == [row["name"] for row in ROWS]
    for row, told in zip(ROWS, found["table"], strict=True):
        counts = [row["hits"], row["of"], row["people"]]
        assert [int(n) for n in re.findall(r"\d+", told[1])] == (
            counts if row["people"] else counts[:2]
        )
    assert any("9" in text and "7" in text and "6" in text for text in found["drawn"])


class TestHowLongItHolds:
    def test_numbers_at_risk_stand_under_their_months(self, page: "Page") -> None:
        found = drawn(page, "figures_time", "holdingFigure", HELD, "brushes")
        assert [t for t in found["drawn"] if t in {"3", "6", "12", "24"}] == [
            "3",
            "6",
            "12",
            "24",
        ]
        assert [row[-1] for row in found["table"]] == ["9", "7", "5", "1"]
        assert [row[1] for row in found["table"]] == ["90 %", "90 %", "78 %", "–"]

    def test_the_line_ends_where_too_few_were_looked_at(self, page: "Page") -> None:
        ends = page.evaluate(
            """async (held) => {
              const { holdingFigure } = await import('/page/lib/figures_time.js');
              const path = holdingFigure(held, 'x').querySelector('path.thick');
              document.body.replaceChildren(path.ownerSVGElement);
              const at = (length) => path.getPointAtLength(length).x;
              return [at(path.getTotalLength()), at(0)];
            }""",
            HELD,
        )
        # From nought at 44 to two years at 308: a year is half of it.
        assert ends == [176, 44]


class TestOverTheYear:
    def test_months_without_any_are_left_out_of_the_table(self, page: "Page") -> None:
        found = drawn(page, "figures_time", "yearFigure", YEAR, "months")
        assert len(found["table"]) == sum(n > 0 for n in YEAR)

    def test_several_causes_stand_one_under_the_other(self, page: "Page") -> None:
        causes = [{"name": name, "counts": YEAR} for name in ("brushes", LONG, NASTY)]
        found = drawn(page, "figures_time", "yearFigure", causes, "causes")
        assert [row[0] for row in found["table"]] == ["brushes", LONG, NASTY]


class TestAReadingOverTime:
    def test_it_goes_by_time_whatever_the_order(self, page: "Page") -> None:
        found = drawn(page, "figures_time", "minmaxFigure", list(PAST), "volts", "V")
        assert [row[1].split(",")[0][:3] for row in found["table"]] == ["238", "123", "219"]

    def test_one_alone_is_drawn_too(self, page: "Page") -> None:
        found = drawn(page, "figures_time", "minmaxFigure", [PAST[1]], "volts", "V")
        assert len(found["table"]) == 1
