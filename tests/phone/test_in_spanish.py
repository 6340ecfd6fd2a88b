"""The page in Spanish: what stays English is a person's own words or is marked as English."""

import re
from collections.abc import Callable
from itertools import count

import pytest

from tests.phone.conftest import Pool
from tests.phone.hand import Hand
from tests.phone.test_for_everybody import places
from tests.phone.test_steward_walk import DANGEROUS, MISFIT, file

pytestmark = pytest.mark.phone
# Words that no Spanish sentence has and hardly an English one is without.
ENGLISH = re.compile(
    r"\b(the|and|with|is|of|it|from|than|at|for|was|to|by|first|about)\b", re.IGNORECASE
)
# What the page wrote, without what it marks as English.
_OWN = """() => {
  const main = document.querySelector('main').cloneNode(true);
  main.querySelectorAll('[lang=en], svg').forEach((e) => e.remove());
  main.querySelectorAll('p, li, td, th, h1, h2, h3, button, a, summary, label, dt, dd, option')
    .forEach((e) => e.append('\\n'));
  return main.textContent.split('\\n').map((line) => line.trim()).filter(Boolean)
    // A sheet's letters are codes; a command is a command.
    .map((line) => line.replace(/^[A-Z]{2} |--from-sheet/g, ''));
}"""

_names = count(1)


@pytest.fixture
def steward(new_hand: Callable[..., Hand], pool: Pool) -> Hand:
    """Give a steward's phone that speaks Spanish."""
    made = new_hand(locale="es-MX")
    said = pool.say("member", "add", f"invented-spanish-{next(_names)}", "--steward")
    code = next(w for w in said.split() if w.startswith("mp") and "_" in w)
    made.page.goto(f"{made.url}/#join={code}")
    made.page.locator("button.main").click()
    made.page.wait_for_selector("main a.main")
    return made


def english_left(hand: Hand) -> list[str]:
    """Return the lines that are English and not marked so."""
    hand.page.evaluate(
        "document.querySelectorAll('details').forEach((d) => { d.open = true; })"
    )
    lines: list[str] = hand.page.evaluate(_OWN)
    assert lines
    return [line for line in lines if ENGLISH.search(line)]


def ask_here(steward: Hand) -> None:
    """Ask with words that find a sign."""
    steward.open("/ask")
    steward.page.locator("textarea").first.fill("no da corriente")
    steward.page.locator("main button[aria-pressed]").first.click()
    steward.page.locator("main button.main").click()
    steward.page.wait_for_selector(".next")


def test_an_answer_is_spanish(steward: Hand) -> None:
    ask_here(steward)
    assert english_left(steward) == []
    steward.picture("spanish-answer")
    plan = steward.page.locator("details ol[start='2'] li")
    assert plan.count() > 1
    assert plan.locator("[lang=en]").count() == 0, "the steps behind the next one"


def test_what_was_refused_is_told_in_spanish(steward: Hand) -> None:
    steward.open("/steward")
    name = steward.page.locator("form input[maxlength='60']")
    for _ in range(2):
        name.fill("invented-twice-asked")
        steward.page.locator("form button.main").click()
        steward.until("() => document.querySelector('[aria-busy]') === null")
    steward.see("ya tiene este nombre")
    assert english_left(steward) == []


@pytest.mark.parametrize(
    "place", ["/look", "/look/failing", "/look/holding", "/steward", "/phone", "/follow"]
)
def test_looking_around_is_spanish(steward: Hand, place: str) -> None:
    if place == "/steward":
        file(steward, MISFIT), file(steward, DANGEROUS)
    steward.open(place)
    steward.page.wait_for_selector("main h1")
    assert english_left(steward) == []
    if place == "/steward":
        steward.see("una planta así no tiene: bujías de precalentamiento")
        steward.see("peligroso: se burló una protección")


def test_every_other_view_is_spanish(steward: Hand) -> None:
    steward.open("/sets/new")
    steward.page.get_by_role("radio").first.check()
    steward.page.locator("input[inputmode=decimal]").first.fill("6,5")
    steward.page.locator("button.main").click()
    steward.see("kVA")
    ask_here(steward)
    left = {}
    for view, place in places(steward).items():
        steward.page.goto("about:blank")  # or the view before is looked at once more
        steward.open(place)
        steward.page.wait_for_selector("main h1")
        if lines := english_left(steward):
            left[view] = lines
    assert left == {}


def test_a_report_is_spanish_but_for_its_own_words(steward: Hand) -> None:
    steward.open("/look")
    steward.page.locator("main li.card h3 a").first.click()
    steward.page.wait_for_selector("main dl")
    assert english_left(steward) == []
    assert steward.page.locator("main p [lang=en]").count() > 0, "what somebody wrote"
    sources = steward.page.locator(".careful small [lang=en]")
    assert sources.count() == steward.page.locator(".careful small").count() > 0


def test_one_s_own_words_are_in_the_language_of_the_phone(steward: Hand) -> None:
    mine = file(steward, MISFIT | {"note": "le puse otra y ya"})
    steward.open(f"/look/{mine}")
    steward.see("le puse otra y ya")
    assert (
        steward.page.locator("p", has_text="le puse otra y ya").locator("[lang]").count() == 0
    )


FACTORS = """async (all) => {
  const { factorWords } = await import('/page/lib/factors.js');
  const { vocabulary } = await import('/page/lib/vocabulary.js');
  await vocabulary();
  return all.map((of) => {
    const box = document.createElement('p');
    box.append(...[factorWords(of)].flat());
    return box.innerHTML;
  });
}"""


def test_what_speaks_for_a_cause_is_told_by_its_codes(steward: Hand) -> None:
    told = steward.page.evaluate(
        FACTORS,
        ["no no-output", "avr test: found-bad", "said of main-breaker/tripped", "odd thing"],
    )
    assert told == [
        "no: el motor anda, no hay voltaje en los tomacorrientes",
        "regulador de voltaje, se midió o revisó, sin cambiar nada: medida y mala.",
        "lo dicho señala interruptor de salida: disparado o trabado, hay que rearmarlo",
        '<span lang="en">odd thing</span>',
    ]
