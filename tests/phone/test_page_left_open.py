"""A page that stays open for days: the vocabulary is renewed under it, once a day."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pytest

from tests.phone.hand import Hand

if TYPE_CHECKING:
    from playwright.sync_api import Route

pytestmark = pytest.mark.phone
WORD = "flubbergasting"  # nobody says so until it was put right
LOOKED_AT = "document.dispatchEvent(new Event('visibilitychange'))"
AGE = """async (days) => {
  const { setPref } = await import('/page/lib/keep.js');
  await setPref('renewed', Date.now() - days * 86400000);
}"""


def put_right(hand: Hand, made: list[str]) -> None:
    """Have the service know a new word for a symptom; note each time it is asked."""

    def changed(route: "Route") -> None:
        headers = {**route.request.all_headers(), "sec-fetch-site": "same-origin"}
        answer = route.fetch(headers=headers)
        told: dict[str, Any] = answer.json()
        told["symptoms"]["hunting"].setdefault("aliases", []).append(WORD)
        made.append(route.request.url)
        route.fulfill(response=answer, json=told)

    hand.context.route("**/v1/vocabulary", changed)


def chips(hand: Hand) -> str:
    """The signs offered for what is typed, after it was typed anew."""
    hand.type("What does it do", "")
    hand.type("What does it do", WORD)
    return str(hand.page.locator("ul.chips").first.inner_text())


@pytest.fixture(name="asking")
def _asking(new_hand: Callable[..., Hand], new_code: Callable[[], str]) -> Hand:
    """Give a hand at a question, whose page keeps no files, so that its requests are seen."""
    hand = new_hand(service_workers="block")
    hand.sign_in(new_code())
    hand.open("/ask")
    hand.see("What does it do")
    assert chips(hand) == ""
    return hand


def test_what_was_put_right_arrives_in_a_page_left_open(asking: Hand) -> None:
    made: list[str] = []
    put_right(asking, made)
    asking.page.evaluate(LOOKED_AT)
    asking.page.wait_for_timeout(300)
    assert made == [], "it was fetched today"
    asking.page.evaluate(AGE, 2)
    asking.page.evaluate(LOOKED_AT)
    asking.until(
        """async () => (await import('/page/lib/vocabulary.js'))
          .findSymptoms('flubbergasting', {}).includes('hunting')"""
    )
    assert asking.page.get_by_label("What does it do").input_value() == WORD, "typed, it stays"
    assert chips(asking) == "speed surges up and down"
    asking.page.evaluate(LOOKED_AT)
    asking.page.wait_for_timeout(300)
    assert len(made) == 1, "once a day"


def test_what_another_tab_fetched_is_taken_from_the_phone(asking: Hand) -> None:
    asking.page.evaluate(LOOKED_AT)
    made: list[str] = []
    other = asking.new_tab()
    other.goto(f"{asking.url}/")
    put_right(asking, made)
    other.evaluate(AGE, 2)
    other.reload()
    asking.page.wait_for_timeout(1000)
    assert len(made) == 1
    asking.page.bring_to_front()
    asking.page.evaluate(LOOKED_AT)
    asking.until(
        """async () => (await import('/page/lib/vocabulary.js'))
          .findSymptoms('flubbergasting', {}).includes('hunting')"""
    )
    assert len(made) == 1


def test_without_signal_the_old_one_stays(asking: Hand) -> None:
    asking.page.evaluate(AGE, 2)
    asking.context.set_offline(True)
    asking.page.evaluate(LOOKED_AT)
    asking.page.wait_for_timeout(300)
    asking.type("What does it do", "surges up and down")
    asking.page.locator("ul.chips button").first.wait_for()
