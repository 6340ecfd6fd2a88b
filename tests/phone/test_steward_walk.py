"""A steward's work on a phone: ask in, give a new phone, shut out, look over, take out."""

from collections.abc import Callable
from itertools import count
from typing import Any

import pytest

from tests.phone.conftest import Pool
from tests.phone.hand import Hand
from tests.phone.test_the_whole_job import own_reports
from tests.phone.test_who_holds_it import name_of

pytestmark = pytest.mark.phone
WITHDRAW_SURE = "Erase this report from the pool? It cannot be undone."
# A petrol set has no glow plugs; a bridged oil switch is what a steward must see.
MISFIT = {
    "machine": {"fuel": "petrol"},
    "complaint": "would not start in the cold",
    "outcome": "repaired",
    "attempts": [{"component": "glow-plug", "action": "replace", "result": "fixed"}],
}
DANGEROUS = {
    "machine": {"fuel": "petrol"},
    "complaint": "stopped by itself after ten minutes",
    "outcome": "repaired",
    "note": "A bit of wire across the oil switch and it runs all day now.",
    "attempts": [{"component": "oil", "action": "refill", "result": "fixed"}],
}
FILE = """async (body) => {
  const { send } = await import('/page/lib/api.js');
  const { uuid7 } = await import('/page/lib/ids.js');
  const id = uuid7();
  await send('PUT', `/v1/reports/${id}`, body);
  return id;
}"""

_names = count(1)


@pytest.fixture
def steward(new_hand: Callable[..., Hand], pool: Pool) -> Hand:
    """Give a steward's phone."""
    made = new_hand()
    name = f"invented-steward-{next(_names)}"
    pool.say("member", "add", name, "--steward")
    said = pool.say("member", "code", name)
    made.sign_in(next(w for w in said.split() if w.startswith("in") and "_" in w))
    return made


def go_to_work(steward: Hand) -> None:
    """Open the steward's place by its tab."""
    steward.open("/")
    steward.tap("Steward", "link")
    steward.see("Ask somebody in")


def link_shown(steward: Hand) -> str:
    """Return the link that brings a code along, shown once."""
    steward.see("It works once, until")
    link: str = steward.page.locator("p.code").first.inner_text()
    return link


def answers(hand: Hand, *, yes: bool) -> list[str]:
    """Answer the next question the page asks; the list holds what it asked."""
    asked: list[str] = []

    def answer(dialog: Any) -> None:
        asked.append(dialog.message)
        dialog.accept() if yes else dialog.dismiss()

    hand.page.once("dialog", answer)
    return asked


def card(steward: Hand, name: str) -> Any:
    """Return the open card of a member."""
    found = steward.page.locator("details.card", has=steward.page.get_by_text(name)).first
    if not found.evaluate("(card) => card.open"):
        found.locator("summary").first.click()
    return found


def to_review(steward: Hand, name: str) -> Any:
    """Return the card of a member's report that is to be looked at."""
    return steward.page.locator("div.card", has=steward.page.get_by_text(name, exact=True))


def file(member: Hand, body: dict[str, Any]) -> str:
    """Let a member report; return the id."""
    made: str = member.page.evaluate(FILE, body)
    return made


def test_an_invitation_lets_one_in_and_is_then_a_member(
    steward: Hand, new_hand: Callable[..., Hand]
) -> None:
    go_to_work(steward)
    steward.tap("Make an invitation")
    steward.see("Say what the new member is to be called here.")
    assert steward.page.evaluate("document.activeElement.tagName") == "INPUT"

    steward.type("What the new member is called here", "invented-asked-in")
    steward.tap("I know this person's work", "checkbox")
    steward.tap("Make an invitation")
    link = link_shown(steward)
    steward.picture("steward-invited")
    steward.unfold("Invitations not used yet")
    steward.see("good until")
    assert link.startswith(f"{steward.url}/#join=in")

    steward.type("What the new member is called here", "invented-asked-in")
    steward.tap("Make an invitation")
    steward.see("an open invitation has this name already; choose another")

    guest = new_hand()
    guest.page.goto(link)
    guest.tap("Sign in on this phone")
    guest.see("What is wrong?")
    assert name_of(guest) == "invented-asked-in"
    go_to_work(steward)
    open_ones = steward.page.locator("details", has_text="Invitations not used yet")
    assert "invented-asked-in" not in "".join(open_ones.all_text_contents())
    assert card(steward, "invented-asked-in").get_by_role("button").count() == 2


def test_a_new_phone_gets_in_by_a_code_and_is_the_same_member(
    steward: Hand, hand: Hand, new_hand: Callable[..., Hand]
) -> None:
    name = name_of(hand)
    go_to_work(steward)
    of_member = card(steward, name)
    of_member.get_by_role("button", name="Make a code for a new phone").click()
    of_member.get_by_text("It works once, until").wait_for()
    second = new_hand()
    second.page.goto(of_member.locator("p.code").inner_text())
    second.tap("Sign in on this phone")
    second.see("What is wrong?")
    assert name_of(second) == name == name_of(hand), "both phones are theirs"


def test_shutting_out_asks_first_and_ends_every_phone(steward: Hand, hand: Hand) -> None:
    name = name_of(hand)
    left = file(hand, MISFIT)
    go_to_work(steward)
    asked = answers(steward, yes=False)
    card(steward, name).get_by_role("button", name="End this access").click()
    steward.until("document.querySelector('[aria-busy]') === null")
    assert name in asked[0]
    assert "Their reports stay" in asked[0]
    assert name_of(hand) == name, "a no changes nothing"

    answers(steward, yes=True)
    card(steward, name).get_by_role("button", name="End this access").click()
    steward.see(f"{name} has no access any more.")
    steward.unfold("Access ended")
    steward.picture("steward-shut-out")
    assert steward.page.locator("details.card", has_text=name).count() == 0

    hand.open("/look")
    hand.see("Sign in")
    steward.open(f"/look/{left}")
    steward.see("would not start in the cold")


def test_a_steward_ends_neither_another_nor_the_own_access(steward: Hand, pool: Pool) -> None:
    pool.say("member", "add", "invented-other-steward", "--steward")
    go_to_work(steward)
    other = card(steward, "invented-other-steward")
    other.get_by_text("the concern of whoever runs the pool").wait_for()
    assert other.get_by_role("button").count() == 0
    own = card(steward, name_of(steward))
    assert own.get_by_role("button").all_inner_texts() == ["Make a code for a new phone"]


def test_what_is_odd_is_let_stand_or_taken_out_with_a_reason(steward: Hand, hand: Hand) -> None:
    name = name_of(hand)
    stands, goes = file(hand, MISFIT), file(hand, DANGEROUS)
    go_to_work(steward)
    steward.see("to look at.")
    dangerous = to_review(steward, name).filter(has_text="a protection was worked round")
    misfit = to_review(steward, name).filter(has_text="such a set has none: glow-plug")
    assert (dangerous.count(), misfit.count()) == (1, 1)
    steward.picture("steward-review")

    dangerous.get_by_role("link", name="Read it").click()
    steward.see("A bit of wire across the oil switch")
    assert goes in steward.page.url
    go_to_work(steward)

    dangerous.locator("summary", has_text="Decide").click()
    dangerous.get_by_role("button", name="Take it out").click()
    dangerous.get_by_text("Give a reason first").wait_for()
    dangerous.get_by_label("Your reason").fill("tells how to leave the oil switch out")
    asked = answers(steward, yes=False)
    dangerous.get_by_role("button", name="Take it out").click()
    steward.until("document.querySelector('[aria-busy]') === null")
    assert asked == [WITHDRAW_SURE]
    assert dangerous.count() == 1, "a no changes nothing"
    answers(steward, yes=True)
    dangerous.get_by_role("button", name="Take it out").click()
    steward.see("It is erased.")

    misfit.locator("summary", has_text="Decide").click()
    misfit.get_by_label("Your reason").fill("the plate was mistyped, the rest is sound")
    misfit.get_by_role("button", name="Let it stand").click()
    steward.see("It stands.")

    go_to_work(steward)
    assert to_review(steward, name).count() == 0, "what was decided is not asked again"
    assert [one["id"] for one in own_reports(hand)] == [stands]
    hand.open(f"/look/{goes}")
    hand.see("taken back")
    assert not hand.is_seen("oil switch")


def test_a_member_has_no_steward_s_place_and_the_service_agrees(hand: Hand) -> None:
    hand.open("/")
    assert hand.page.get_by_role("link", name="Steward").count() == 0
    hand.open("/steward")
    hand.see("This is for stewards.")
    refused = hand.page.evaluate(
        """async () => {
          const { get, send } = await import('/page/lib/api.js');
          const kind = (asked) => asked.then(() => 'done', (trouble) => trouble.kind);
          return Promise.all([get('/v1/members'), get('/v1/review'), get('/v1/invitations'),
            send('POST', '/v1/invitations', { name: 'x', vouched: true })].map(kind));
        }"""
    )
    assert refused == ["not-allowed"] * 4
