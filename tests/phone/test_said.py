"""What the service says, told in the phone's language where the text is the catalogue's own."""

from hashlib import sha256
from typing import TYPE_CHECKING, Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.caution_texts import caution_shown
from mendpool.core.catalogue.handheld import limit_without_blanks
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.record.machine import Machine
from mendpool.core.sheet import words
from mendpool.core.sheet.made import sheet_of

from tests.phone.modules import empty_page

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.phone
SPANISH = """async () => {
  const words = await import('/page/lib/words.js');
  await words.useLanguage('es');
  await words.tradeWords();
}"""
SAID = """async ([text, part]) => {
  const { said } = await import('/page/lib/words.js');
  return said(text, part ?? undefined);
}"""
DRAWN = """async (list) => {
  const { cautions } = await import('/page/lib/parts.js');
  document.body.replaceChildren(cautions(list));
}"""


@pytest.fixture
def page(chromium: "Browser") -> "Iterator[Page]":
    with empty_page(chromium) as opened:
        yield opened


@pytest.fixture
def spanish(page: "Page") -> "Page":
    page.evaluate(SPANISH)
    return page


def said(page: "Page", text: str, part: dict[str, str] | None = None) -> str:
    """Return what the page makes of a text."""
    found: str = page.evaluate(SAID, [text, part])
    return found


def test_a_text_is_known_by_its_digest(page: "Page", catalogue: Catalogue) -> None:
    """FIPS 180-4, by the standard library; blocks begin anew at 56 and 64 bytes."""
    texts = ["", "abc", *("é" * n + "x" for n in range(24, 36))]
    texts += [caution.says for caution in catalogue.cautions]
    told: list[str] = page.evaluate(
        """async (texts) => {
          const { digest } = await import('/page/lib/digest.js');
          return texts.map(digest);
        }""",
        texts,
    )
    assert told == [sha256(text.encode()).hexdigest()[:12] for text in texts]


def test_a_caution_is_told_in_spanish(spanish: "Page", catalogue: Catalogue) -> None:
    shown = caution_shown(next(c for c in catalogue.cautions if c.when.always))
    spanish.evaluate(DRAWN, [shown.model_dump()])
    text = spanish.inner_text("li")
    assert "al aire libre" in text
    assert "outdoors" not in text


def test_a_changed_caution_stays_english_and_is_marked_so(
    spanish: "Page", catalogue: Catalogue
) -> None:
    """Better a warning in another language than one that says what no longer holds."""
    shown: dict[str, Any] = caution_shown(catalogue.cautions[0]).model_dump()
    spanish.evaluate(DRAWN, [shown | {"says": f"{shown['says']} And wait."}])
    assert spanish.inner_text("li [lang=en]") == f"{shown['says']} And wait."


def test_english_stays_as_it_is(page: "Page", catalogue: Catalogue) -> None:
    page.evaluate("import('/page/lib/words.js').then((words) => words.useLanguage('en'))")
    caution = catalogue.cautions[0].says
    assert said(page, caution) == caution
    page.evaluate(DRAWN, [caution_shown(catalogue.cautions[0]).model_dump()])
    assert page.locator("[lang=en] [lang=en]").count() == 0


def test_two_texts_in_one_and_a_part_in_a_text_are_told(
    spanish: "Page", catalogue: Catalogue
) -> None:
    words = next(entry for entry in catalogue.get_bys if "oil-switch" in entry.components)
    label = catalogue.components["oil-switch"].label
    restore = words.restore.format(part=label)
    text = f"Undo it as soon as the real fault is mended. {restore}"
    told = said(spanish, text, {"english": label, "own": "presostato"})
    assert "presostato" in told
    assert label not in told
    assert "Undo" not in told


def test_a_count_a_code_and_a_figure_are_in_spanish(spanish: "Page") -> None:
    told = spanish.evaluate(
        """async () => {
          const { codeWord, number, t, tn } = await import('/page/lib/words.js');
          return [codeWord('components', 'brushes'), tn('state.waits', 1), tn('state.waits', 2),
            number(12345.5), t('place.sets')];
        }"""
    )
    assert told == [
        "escobillas y portaescobillas",
        "1 cosa espera para enviarse.",
        "2 cosas esperan para enviarse.",
        "12,345.5",
        "Mis plantas",
    ]


JUDGED = """async ([reading, machine, limits]) => {
  const { judgeHere } = await import('/page/lib/means.js');
  return judgeHere(reading, machine, limits).means;
}"""


def test_what_a_reading_means_is_told_in_spanish_with_its_figures(
    spanish: "Page", catalogue: Catalogue
) -> None:
    limits = [limit_without_blanks(limit) for limit in catalogue.limits]
    reading = {"quantity": "voltage-ac", "point": "output", "condition": "no-load", "unit": "V"}
    told = spanish.evaluate(JUDGED, [reading | {"value": 180}, {"rated_volts": 230}, limits])
    assert "180 V está debajo de los 207 a 253 V" in told
    assert "should" not in told
    lost = spanish.evaluate(JUDGED, [reading | {"value": 1}, {}, limits])
    assert "Se usa la banda más ancha, porque falta: sus voltios nominales" in lost


def test_what_a_sheet_holds_of_the_catalogue_is_told_in_spanish(
    spanish: "Page", engine: Engine
) -> None:
    plates: list[dict[str, Any]] = [{"fuel": "diesel", "cooling": "liquid", "phases": 3}]
    plates += [{"fuel": "petrol"}, {"fuel": "lpg", "control": "auto-start"}]
    sheets = [sheet_of(Machine(**plate), engine) for plate in plates]
    texts = [words.CALL, *(sheet.walk_round for sheet in sheets)]
    for sheet in sheets:
        texts += [*sheet.cautions, *(good.says for good in sheet.good)]
        texts += [text for complaint in sheet.complaints for text in complaint.safe]
    told = spanish.evaluate(
        """async (texts) => {
          const { said } = await import('/page/lib/words.js');
          return texts.map((text) => said(text));
        }""",
        texts,
    )
    assert [text for text, own in zip(texts, told, strict=True) if text == own] == []
