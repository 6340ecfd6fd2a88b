"""The forms alone: ask, report and follow up where no script runs."""

from collections.abc import Callable

import pytest

from tests.phone.hand import Hand
from tests.phone.test_the_whole_job import COMPLAINT

pytestmark = pytest.mark.phone


@pytest.fixture
def plain(new_hand: Callable[..., Hand], new_code: Callable[[], str]) -> Hand:
    """Give a phone without scripts that is signed in."""
    hand = new_hand(java_script_enabled=False, has_touch=False, is_mobile=False)
    hand.page.goto(f"{hand.url}/")
    hand.press("Ask what to do", "link")
    hand.page.get_by_label("Code or token").fill(new_code())
    hand.press("Sign in on this phone")
    hand.see("Signed in here as")
    return hand


def test_the_whole_job_by_forms(plain: Hand) -> None:
    page = plain.page
    plain.press("It does not run right", "link")
    page.get_by_label("What does it do").fill(COMPLAINT)
    page.get_by_label("What does it burn").select_option("diesel")
    page.get_by_label("What was measured").fill("outlet 3 volts no load\nbattery 12,6 V")
    plain.press("What should I do?")
    first = plain.next_step()
    assert "12.6 V" in page.inner_text("main")
    plain.picture("forms-answer")
    plain.press("Everything is as it should be")
    second = plain.next_step()
    plain.press("I can't do this now")
    assert len({first, second, plain.next_step()}) == 3

    plain.press("It is over")
    page.get_by_label("How it ended").select_option("repaired")
    page.get_by_label("Part").first.select_option("brushes")
    page.get_by_label("What was done").first.select_option("replace")
    page.get_by_label("What came of it").first.select_option("fixed")
    page.get_by_label("Anything else").fill("rang Bob Miller, part 6203-2RS")
    plain.press("See what would be kept")
    assert page.locator("del").all_inner_texts() == ["Bob Miller"]
    assert "6203-2RS" in page.inner_text("main")
    plain.picture("forms-check")
    plain.press("Send it")
    plain.see("Kept. Thank you.")

    plain.press("Follow up", "link")
    plain.press("nothing at the outlets", "link")
    page.get_by_label("still good").check()
    plain.press("Send it")
    plain.see("What held and what did not")


def test_what_is_wrong_is_said_and_what_was_typed_stays(plain: Hand) -> None:
    page = plain.page
    page.goto(f"{plain.url}/plain/ask")
    page.get_by_label("What does it burn").select_option("diesel")
    page.get_by_label("Size").fill("about six")
    page.get_by_label("What does it do").fill("hunting")
    plain.press("What should I do?")
    plain.see("a figure such as 12.5 is needed")
    assert page.get_by_label("What does it do").input_value() == "hunting"


def test_it_leaves_by_a_form_too(plain: Hand) -> None:
    plain.page.goto(f"{plain.url}/plain/")
    plain.press("Sign out here")
    plain.see("A steward gives you a link or a code")
    plain.page.goto(f"{plain.url}/plain/ask")
    plain.see("A steward gives you a link or a code")
