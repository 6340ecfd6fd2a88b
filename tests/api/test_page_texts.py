"""What the service says on the pages without scripts, in the language of who reads them."""

import html
import re

from mendpool.api.pages.answering import answer_words
from mendpool.api.pages.texts import Texts
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.record.machine import Machine
from mendpool.core.record.report import Question

from tests.api.pools import Pool
from tests.api.test_plain_forms import Plain

SPANISH, ENGLISH = Texts("es"), Texts("en")


def test_a_caution_is_told_to_the_letter_or_not_at_all(catalogue: Catalogue) -> None:
    outdoors = next(c.says for c in catalogue.cautions if c.when.always)
    assert "al aire libre" in SPANISH.said(outdoors)
    assert SPANISH.said(f"{outdoors} And wait.") == f"{outdoors} And wait."
    assert ENGLISH.said(outdoors) == outdoors


def test_several_texts_in_one_are_told_apart(catalogue: Catalogue) -> None:
    first, second = (caution.says for caution in catalogue.cautions[:2])
    told = SPANISH.said(f"{first} {second}")
    assert told == f"{SPANISH.said(first)} {SPANISH.said(second)}"
    assert told != f"{first} {second}"


def test_the_next_step_and_its_buttons_are_told(catalogue: Catalogue, engine: Engine) -> None:
    question = Question(machine=Machine(fuel="diesel"), symptoms=("no-output",))
    answer = engine.answer(question, engine.understand(question), (), 0)
    words = answer_words(SPANISH, catalogue, answer, ())
    assert words["step"].do == "test"
    check = catalogue.checks[words["step"].check]
    assert words["heading"] == SPANISH.said(check.label) != check.label
    assert [code for code, _ in words["found"]] == [code for code, _ in words["step"].results]
    assert not {says for _, says in words["found"]} & {f.says for f in check.found.values()}
    plain = answer_words(ENGLISH, catalogue, answer, ())
    assert plain["heading"] == words["step"].says
    assert plain["found"] == list(words["step"].results)


OF_ENGLISH = re.compile(
    r"\b(the|and|with|is|of|it|from|than|was|to|first|about)\b", re.IGNORECASE
)


def test_an_answer_by_forms_is_in_spanish_or_marked_as_english(pool: Pool) -> None:
    plain = Plain(pool)
    answer = plain.post(
        "/plain/ask", {"Accept-Language": "es"},
        token=plain.token, fuel="diesel", symptoms="no-output", complaint="no da corriente",
    )  # fmt: skip
    page = html.unescape(answer.text)
    assert "Qué hacer" in page
    unmarked = re.sub(
        r"<span lang=\"en\">.*?</span>|<style.*?</style>", "", page, flags=re.DOTALL
    )
    told = re.sub(r"<[^>]+>", "\n", unmarked[unmarked.index("<main") :]).splitlines()
    assert [line for line in told if OF_ENGLISH.search(line)] == []
    assert re.search(r"\d de cada 10", page), "the steps that come later"
