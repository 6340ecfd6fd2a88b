"""A word of the trade that was taken for somebody's name is told to the steward."""

import json

import pytest

from tests.phone.conftest import Pool
from tests.phone.hand import Hand
from tests.phone.test_the_whole_job import write_down_a_set

pytestmark = pytest.mark.phone


def test_the_steward_hears_of_it_and_not_of_who(hand: Hand, pool: Pool) -> None:
    write_down_a_set(hand)
    hand.open("/report")
    hand.see("A thin report beats none")
    hand.type("What was wrong, in your words?", "no output, rang Tovrin about it")
    hand.tap("came right, reason not found", "radio")
    hand.tap("Look at what will be sent")
    hand.see("struck through")
    assert hand.page.locator("del").all_inner_texts() == ["Tovrin"]
    hand.unfold("Something was taken out that names nobody")
    hand.tap("“Tovrin” is a word of the trade")
    hand.see("Told to the steward")
    listed = json.loads(pool.say("review", "--words", "--json"))
    assert "tovrin" in json.dumps(listed).lower()
    assert "invented-" not in json.dumps(listed)
