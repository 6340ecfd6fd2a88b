"""Sentences the service puts together of parts, in another language: whole or not at all."""

import ast
import re
from collections.abc import Iterator
from itertools import pairwise, product
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from pydantic_core import PydanticKnownError

from mendpool.api import problems
from mendpool.api.pages.texts import Texts
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.record.answer import Answer
from mendpool.core.record.report import Question

from tests.phone.modules import empty_page
from tests.phone.test_words import FIGURE, digest, languages, words

if TYPE_CHECKING:
    from playwright.sync_api import Browser

HOLE = re.compile(r"\{\w*(?::[^}]*)?\}")
SERVICE = Path(problems.__file__).parents[1]
MOST = 0.6
"""Of the pairs of words of a pattern; where code joins two pieces, one is in neither."""
OF_TYPES: tuple[tuple[Any, dict[str, Any]], ...] = (
    ("string_too_long", {"max_length": 60}),
    ("string_type", {}),
    ("float_type", {}),
    ("greater_than", {"gt": 0.5}),
    ("greater_than_equal", {"ge": 0.5}),
    ("less_than", {"lt": 0.5}),
    ("less_than_equal", {"le": 0.5}),
)
"""What the types of a body's fields complain of: pydantic's own words."""
PLATES: tuple[dict[str, Any], ...] = (
    {"fuel": "diesel", "excitation": "brushless-avr", "rated_kva": 10, "rated_volts": 230},
    {"fuel": "petrol", "excitation": "brushed-avr", "rated_kva": 3, "rated_volts": 240},
    {"fuel": "lpg"},
)
TOLD = (
    "no output", "engine hunts", "will not start", "trips the breaker", "drops under load",
    "overheats",
)  # fmt: skip
MORE: tuple[dict[str, Any], ...] = (
    {},
    {"must_run": "1.5 hp pump"},
    {"must_run": "fridge"},
    {"must_run": "9 kW welder"},
    {"at_hand": ["multimeter", "zorp"]},
    {"tried": [{"component": "brushes", "action": "replace", "result": "improved"}]},
    {
        "tried": [
            {"component": "brushes", "action": "test", "result": "found-bad"},
            {"component": "avr", "action": "test", "result": "found-bad"},
        ]
    },
    {
        "readings": [
            {"quantity": "voltage-ac", "point": "leg-1", "value": 80, "unit": "V"},
            {"quantity": "voltage-ac", "point": "leg-2", "value": 160, "unit": "V"},
        ]
    },
)


def says_of(answer: Answer) -> Iterator[str]:
    """Give what an answer says in sentences of its own."""
    for step in answer.plan:
        yield step.says
        yield from filter(None, (step.how, step.or_else))
    yield from (flag.says for flag in answer.flags)
    yield from (pattern.says for pattern in answer.together)
    for fix in answer.fixes:
        yield fix.says
        if fix.holding_12_months is not None:
            yield fix.holding_12_months.says


@pytest.fixture(scope="module")
def said(engine: Engine) -> list[str]:
    """Return what the service says to many questions, each sentence once."""
    found: dict[str, None] = {}
    for plate, complaint_, more in product(PLATES, TOLD, MORE):
        question = Question.model_validate({"machine": plate, "complaint": complaint_, **more})
        answer = engine.answer(question, engine.understand(question), (), 0)
        found |= dict.fromkeys(says_of(answer))
    return list(found)


def parts_of(catalogue: Catalogue) -> dict[str, str]:
    """Return the code of each component by its English name."""
    return {part.label: code for code, part in catalogue.components.items()}


def in_code() -> Iterator[str]:
    """Give every text that stands in the service's code."""
    for path in sorted(SERVICE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.JoinedStr):
                parts = (p.value if isinstance(p, ast.Constant) else "{}" for p in node.values)
                yield "".join(map(str, parts))
            elif isinstance(node, ast.Constant) and isinstance(node.value, str):
                yield node.value


def spelled(text: str) -> list[str]:
    """Return the words of a text, without what stands in its holes."""
    return re.findall(r"[a-z']+", HOLE.sub(" 0 ", text).lower())


def share(pairs: list[tuple[str, str]], known: set[tuple[str, str]]) -> float:
    """Return what share of pairs is known; all of none."""
    return sum(pair in known for pair in pairs) / len(pairs) if pairs else 1.0


@pytest.mark.parametrize("language", languages())
class TestPatterns:
    def test_each_is_of_the_code_or_the_catalogue(
        self, language: str, catalogue: Catalogue
    ) -> None:
        """A changed sentence leaves its pattern behind.

        Code joins sentences of pieces, so words are looked for, and most pairs of words.
        """
        written = [*in_code(), *(pattern.says for pattern in catalogue.patterns)]
        written += [load.says for load in catalogue.planning.must_run.loads.values()]
        written += [catalogue.planning.must_run.how, catalogue.planning.must_run.stagger]
        needs = {need for check in catalogue.checks.values() for need in check.needs}
        written += [need.replace("-", " ") for need in needs]
        means = catalogue.tables.healthy.means.values()
        written += [text for by in means for text in by.values()]
        written += [advice.label for advice in catalogue.advice]
        written += [PydanticKnownError(*of_types).message() for of_types in OF_TYPES]
        singles = {word for text in written for word in spelled(text)}
        pairs = {pair for text in written for pair in pairwise(spelled(text))}
        left = [
            english
            for english in words(f"{language}-made")
            if not singles.issuperset(spelled(english))
            or share(list(pairwise(spelled(english))), pairs) < MOST
        ]
        assert left == []

    def test_figures_and_holes_are_the_same(self, language: str) -> None:
        for english, own in words(f"{language}-made").items():
            assert sorted(HOLE.findall(own)) == sorted(HOLE.findall(english)), english
            assert sorted(FIGURE.findall(own)) == sorted(FIGURE.findall(english)), english

    def test_they_stand_in_order_and_are_in_no_other_file(self, language: str) -> None:
        made = list(words(f"{language}-made"))
        assert made == sorted(made)
        assert not {digest(text) for text in made} & set(words(f"{language}-trade"))


@pytest.mark.parametrize("language", languages())
class TestAnswers:
    def test_every_sentence_of_many_answers_is_told(
        self, language: str, said: list[str], catalogue: Catalogue
    ) -> None:
        texts = Texts(language, parts_of(catalogue))
        assert len(said) > 300
        assert [text for text in said if texts.said(text) == text] == []

    def test_what_readings_say_together_is_told(
        self, language: str, catalogue: Catalogue
    ) -> None:
        texts = Texts(language, parts_of(catalogue))
        english = [HOLE.sub("3.5", pattern.says) for pattern in catalogue.patterns]
        assert [text for text in english if texts.said(text) == text] == []

    def test_every_problem_is_told(self, language: str) -> None:
        texts = Texts(language)
        every = [text for kind in problems.KINDS.values() for text in (kind.title, kind.detail)]
        assert [text for text in every if texts.said(text) == text] == []


SPANISH = Texts("es", {"voltage regulator": "avr", "brushes and holder": "brushes"})


REGULATOR = "voltage regulator: replace. If it comes to this, about 5 in 10 that it cures."
TWO_BAD = (
    "More than one part was found bad (brushes and holder and voltage regulator): there are "
    "two faults, or one did both."
)
TOLD_WITH_PARTS = {
    REGULATOR: "regulador de voltaje: cambiar la pieza. Si se llega a esto, unas 5 de cada 10 "
    "que lo cure.",
    TWO_BAD: "Más de una pieza se encontró mala (escobillas y portaescobillas; regulador de "
    "voltaje): hay dos fallas, o una causó las dos.",
    "By its plate of 10 kVA this set carries the sluice.": "Por su placa de 10 kVA esta planta "
    "aguanta «sluice».",
    "/name: this is needed.": "/name: esto hace falta.",
    "/rated_kva: input should be less than or equal to 5000. And 2 more.": "/rated_kva: debe "
    "ser 5000 o menos. Y 2 más.",
}


@pytest.mark.parametrize("english", TOLD_WITH_PARTS)
def test_a_sentence_is_told_with_its_parts(english: str) -> None:
    assert SPANISH.said(english) == TOLD_WITH_PARTS[english]


@pytest.mark.parametrize(
    "text",
    [
        "sprocket: replace. If it comes to this, about 5 in 10 that it cures.",
        "voltage regulator: swap. If it comes to this, about 5 in 10 that it cures.",
        "By its plate of many kVA this set carries the pump.",
        "the sluice",
    ],
)
def test_with_a_part_that_is_not_known_it_stays_english(text: str) -> None:
    """Half a sentence in each language is worse than one in English that is marked so."""
    assert SPANISH.said(text) == text


def test_english_is_left_alone() -> None:
    assert Texts("en").said("the pump") == "the pump"


@pytest.mark.phone
def test_the_phone_tells_them_as_the_forms_do(
    chromium: "Browser", said: list[str], catalogue: Catalogue
) -> None:
    texts = Texts("es", parts_of(catalogue))
    components = {code: {"label": one.label} for code, one in catalogue.components.items()}
    with empty_page(chromium) as page:
        told: list[str] = page.evaluate(
            """async ([said, components]) => {
              const words = await import('/page/lib/words.js');
              const { keep } = await import('/page/lib/keep.js');
              const { kept } = await import('/page/lib/vocabulary.js');
              await keep('vocabulary', { key: 'it', value: { components } });
              await words.useLanguage('es');
              await Promise.all([kept(), words.tradeWords()]);
              return said.map((text) => words.said(text));
            }""",
            [said, components],
        )
    assert told == [texts.said(text) for text in said]
