"""A member's whole job on a phone of 360 by 640: from the link to the follow-up."""

from typing import Any

import pytest

from tests.phone.hand import Hand

pytestmark = pytest.mark.phone
COMPLAINT = "engine runs sweet but nothing at the outlets"


def write_down_a_set(hand: Hand, name: str = "barn") -> None:
    """Write down a diesel set of an invented make."""
    hand.open("/sets/new")
    hand.tap("diesel", "radio")
    hand.type("What you call it", name)
    hand.type("Size", "6,5")
    hand.type("Volts", "240")
    hand.type("Hertz", "60")
    hand.tap("Save")
    hand.see("6.5 kVA, 240 V, 60 Hz")


def ask(hand: Hand, complaint: str = COMPLAINT) -> None:
    """Ask about the only set there is."""
    hand.open("/ask")
    hand.type("What does it do", complaint)
    hand.tap("What should I do?")
    hand.see("Do this next")


def fixed_by_brushes(hand: Hand) -> None:
    """Tell in the report that the brushes were it."""
    hand.tap("It is over")
    hand.tap("Add something that was tried")
    hand.type("Which part?", "brushes")
    hand.tap("brushes and holder", "button")
    hand.page.get_by_label("What was done?").select_option("replace")
    hand.tap("the fault was gone", "radio")
    hand.tap("Keep this")


def test_from_the_link_to_the_follow_up(hand: Hand) -> None:
    write_down_a_set(hand)
    hand.picture("set")

    hand.open("/ask")
    hand.type("What does it do", COMPLAINT)
    hand.tap("engine runs, no voltage at the outlets", "button")
    hand.picture("ask")
    hand.tap("What should I do?")
    hand.see("Take care")
    first = hand.next_step()
    hand.picture("answer")
    hand.tap("Everything is as it should be")
    hand.until("(was) => document.querySelector('.next strong').textContent !== was", first)
    assert hand.next_step() != first, "a result is a new plan"

    hand.tap("Add a reading")
    hand.tap("Volts with the regulator unplugged")
    hand.type("Figure", "3,1")
    hand.see("= as it should be.")
    hand.picture("reading")
    hand.tap("Keep it and ask again")
    hand.see("Your readings")
    assert "3.1 V" in hand.page.inner_text("main")

    fixed_by_brushes(hand)
    hand.tap("running, repair meant to last", "radio")
    hand.tap("No, all was and is in place", "radio")
    hand.type("Anything else worth knowing?", "rang Bob Miller, brush 6203-2RS fits too")
    hand.picture("report")
    hand.tap("Look at what will be sent")
    hand.see("struck through")
    assert hand.page.locator("del").all_inner_texts() == ["Bob Miller"]
    assert "6203-2RS" in hand.page.inner_text("main")
    hand.picture("check")
    hand.tap("Send it")
    hand.see("The pool has it")
    hand.picture("sent")

    mine = own_reports(hand)
    assert [one["complaint"] for one in mine] == [COMPLAINT]
    assert mine[0]["note"] == "rang [name], brush 6203-2RS fits too"
    assert mine[0]["outcome"] == "repaired"
    assert mine[0]["attempts"][-1]["component"] == "brushes"

    hand.open("/follow")
    hand.unfold("One other repair of yours")
    hand.tap("Tell how it went")
    hand.see("Does the repair hold?")
    hand.picture("follow")
    hand.tap("still good", "radio")
    hand.tap("Tell it")
    hand.see("How long a fix holds is known only")
    assert [f["state"] for f in own_reports(hand)[0]["followups"]] == ["holding"]


def own_reports(hand: Hand) -> list[dict[str, Any]]:
    """What the pool holds of this phone's member, asked as the page asks."""
    found: list[dict[str, Any]] = hand.page.evaluate(
        """async () => {
          const { get } = await import('/page/lib/api.js');
          return (await get('/v1/reports?mine=true')).items;
        }"""
    )
    return found
