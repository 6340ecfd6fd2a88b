"""WCAG 2.2 AA: axe-core on every view, light and dark, narrow, large text, keyboard alone."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.phone.conftest import Pool
from tests.phone.hand import HIGH, WIDE, Hand
from tests.phone.test_the_whole_job import COMPLAINT, ask, own_reports, write_down_a_set

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.phone
NARROW = 320
# A link within a sentence is as high as its line (WCAG 2.5.8, inline).
_SMALL = """() => {
  const tapped = 'main button, main a, main input, main select, main summary, nav a';
  const inline = (e) => e.tagName === 'A' && e.closest('p, li, dd') && !e.className;
  return [...document.querySelectorAll(tapped)]
    .filter((e) => e.checkVisibility() && !inline(e))
    .map((e) => [(e.closest('label') ?? e).getBoundingClientRect().height, e.outerHTML])
    .filter(([height]) => height < 40 && height > 0)
    .map(([height, html]) => `${Math.round(height)} px: ${html.slice(0, 90)}`);
}"""
# What has the focus may not lie under the bar (WCAG 2.4.11).
_COVERED = """() => {
  const bar = document.querySelector('nav');
  const at = document.activeElement;
  if (bar.contains(at) || getComputedStyle(bar).position !== 'sticky') return false;
  return at.getBoundingClientRect().top >= bar.getBoundingClientRect().top;
}"""
_FOCUS = "(document.activeElement.labels?.[0] ?? document.activeElement).innerText ?? ''"
READING = "quantity=voltage-ac&point=output&condition=no-load"


@pytest.fixture(scope="module")
def seen(chromium: "Browser", pool: Pool, album: Path) -> Iterator[Hand]:
    """Give a steward's phone with a set and a walk on it, whose views are looked at."""
    hand = Hand(chromium, pool.url, album)
    said = pool.say("member", "add", "invented-looker", "--steward")
    hand.sign_in(next(word for word in said.split() if word.startswith("mp") and "_" in word))
    write_down_a_set(hand)
    ask(hand)
    yield hand
    hand.close()


def places(hand: Hand) -> dict[str, str]:
    """Every view by its address, with something in it."""
    known = hand.page.evaluate(
        """async () => {
          const { all } = await import('/page/lib/keep.js');
          const { get } = await import('/page/lib/api.js');
          const listed = await get('/v1/reports?limit=1');
          const [sets, walks] = [await all('sets'), await all('walks')];
          return [sets[0].id, walks.at(-1).id, listed.items[0].id];
        }"""
    )
    set_id, walk, report = known
    return {
        "home": "/", "sign-in": "/sign-in", "sets": "/sets", "set": f"/sets/{set_id}",
        "set-edit": f"/sets/{set_id}/edit", "ask": f"/ask/{walk}",
        "readings": f"/ask/{walk}/reading",
        "reading": f"/ask/{walk}/reading?{READING}",
        "answer": f"/answer/{walk}", "report": f"/report/{walk}", "follow": "/follow",
        "follow-one": f"/follow/{report}", "look": "/look", "shown": f"/look/{report}",
        "failing": "/look/failing", "holding": "/look/holding", "waiting": "/waiting",
        "sheet": f"/sheet/{set_id}", "steward": "/steward", "phone": "/phone",
    }  # fmt: skip


VIEWS = (
    "home", "sign-in", "sets", "set", "set-edit", "ask", "readings", "reading", "answer",
    "report", "follow", "follow-one", "look", "shown", "failing", "holding", "waiting",
    "sheet", "steward", "phone",
)  # fmt: skip


def look_at(hand: Hand, view: str) -> None:
    """Open a view and everything that is folded up in it."""
    hand.page.set_viewport_size({"width": WIDE, "height": HIGH})
    hand.open(places(hand)[view])
    hand.page.wait_for_selector("main h1")
    hand.page.evaluate(
        "document.querySelectorAll('details').forEach((d) => { d.open = true; })"
    )


@pytest.mark.parametrize("view", VIEWS)
def test_axe_finds_nothing(seen: Hand, view: str) -> None:
    found: list[str] = []
    for light in ("light", "dark"):
        seen.page.emulate_media(color_scheme=light)
        look_at(seen, view)
        seen.picture(f"{view}-{light}")
        seen.whole()  # what is half under the bar at this moment is no smaller for it
        found += [f"{light}: {one}" for one in seen.axe()]
    assert found == []


@pytest.mark.parametrize("view", VIEWS)
def test_nothing_hangs_over_the_edge_of_a_narrow_phone_or_with_large_text(
    seen: Hand, view: str
) -> None:
    # WCAG 1.4.10 (320 px) and 1.4.4 (200 %).
    over = []
    look_at(seen, view)
    for width, size in ((NARROW, "100%"), (WIDE, "200%")):
        seen.page.set_viewport_size({"width": width, "height": HIGH})
        seen.page.evaluate(
            "(size) => { document.documentElement.style.fontSize = size; }", size
        )
        wide = seen.page.evaluate("document.documentElement.scrollWidth")
        if wide > width:
            over.append((width, size, wide))
    seen.page.evaluate("document.documentElement.style.fontSize = ''")
    seen.page.set_viewport_size({"width": WIDE, "height": HIGH})
    assert over == []


@pytest.mark.parametrize("view", VIEWS)
def test_what_is_tapped_is_large_enough(seen: Hand, view: str) -> None:
    # WCAG 2.5.8 asks for 24 px; a thumb in a glove for more, so 40 (common practice).
    look_at(seen, view)
    small = seen.page.evaluate(_SMALL)
    assert small == []


def test_the_job_is_done_by_keyboard_alone(
    new_hand: Callable[..., Hand], new_code: Callable[[], str]
) -> None:
    hand = new_hand(has_touch=False, is_mobile=False)
    page = hand.page
    page.goto(f"{hand.url}/#join={new_code()}")
    page.wait_for_selector("button.main")

    def to(words: str) -> None:
        for _ in range(80):
            page.keyboard.press("Tab")
            if words in page.evaluate(_FOCUS):
                page.wait_for_timeout(100)
                assert not page.evaluate(_COVERED), f"{words} has the focus under the bar"
                return
        raise AssertionError(f"{words} can't be reached by Tab")

    to("Sign in on this phone")
    page.keyboard.press("Enter")
    hand.see("It does not run right")
    to("It does not run right")
    page.keyboard.press("Enter")
    hand.see("What does it do, in your words?")
    to("What does it do")
    page.keyboard.type(COMPLAINT)
    to("What should I do?")
    page.keyboard.press("Enter")
    hand.see("Do this next")
    to("Everything is as it should be")
    page.keyboard.press("Enter")
    hand.see("Done so far (1)")


def test_a_view_gone_to_takes_the_focus_and_names_the_page(seen: Hand) -> None:
    seen.open("/")
    seen.tap("My sets", "link")
    seen.until("document.activeElement.tagName === 'H1'")
    assert seen.page.title() == "My sets · mendpool"


def test_nothing_moves_for_who_wants_no_motion(seen: Hand) -> None:
    seen.page.emulate_media(reduced_motion="reduce")
    seen.open("/look")
    assert seen.page.evaluate("document.getAnimations().length") == 0
    assert (
        seen.page.evaluate("getComputedStyle(document.documentElement).scrollBehavior")
        == "auto"
    )


def test_it_speaks_spanish_with_spanish_figures(
    new_hand: Callable[..., Hand], new_code: Callable[[], str]
) -> None:
    hand = new_hand(locale="es-ES")
    hand.page.goto(f"{hand.url}/#join={new_code()}")
    hand.page.locator("button.main").click()
    hand.page.wait_for_selector("main a.main")
    assert hand.page.evaluate("document.documentElement.lang") == "es"
    hand.open("/sets/new")
    hand.page.get_by_role("radio").first.check()
    hand.page.locator("input[inputmode=decimal]").first.fill("6,5")
    hand.page.locator("button.main").click()
    hand.page.wait_for_selector("main h1")
    hand.see("6,5 kVA")
    hand.picture("spanish")
    assert own_reports(hand) == []
