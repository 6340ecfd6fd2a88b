"""Whose phone it is: signed out, ended by a steward, given on, forgotten."""

from collections.abc import Callable

import pytest

from tests.phone.conftest import Pool
from tests.phone.hand import Hand
from tests.phone.test_no_signal import let_go, lose_the_answer, tell
from tests.phone.test_the_whole_job import own_reports, write_down_a_set

pytestmark = pytest.mark.phone


def name_of(hand: Hand) -> str:
    """Who is signed in, as the service says."""
    return str(
        hand.page.evaluate("fetch('/v1/session').then((r) => r.json()).then((s) => s.name)")
    )


def test_a_code_that_was_used_is_refused_and_says_what_to_do(
    new_hand: Callable[..., Hand], new_code: Callable[[], str]
) -> None:
    code = new_code()
    new_hand().sign_in(code)
    second = new_hand()
    second.page.goto(f"{second.url}/#join={code}")
    second.tap("Sign in on this phone")
    second.see("ask a steward for another")


@pytest.mark.parametrize("way", ["pressed again", "link opened again"])
def test_a_code_whose_answer_was_lost_signs_in_all_the_same(
    new_hand: Callable[..., Hand], new_code: Callable[[], str], way: str
) -> None:
    hand, code = new_hand(), new_code()
    hand.open("/look")
    lost = lose_the_answer(hand, "POST", "*/v1/session")
    hand.page.goto(f"{hand.url}/#join={code}")
    hand.tap("Sign in on this phone")
    hand.see("No signal")
    assert lost == [201], "the code is used up, and the phone does not know"
    hand.context.clear_cookies()  # or it was lost with the answer, or it was not
    if way == "link opened again":
        hand.page.goto("about:blank")
        hand.page.goto(f"{hand.url}/#join={code}")
    hand.tap("Sign in on this phone")
    hand.see("What is wrong?")
    assert hand.page.evaluate("localStorage.getItem('attempt')") is None
    other = new_hand()
    other.page.goto(f"{other.url}/#join={code}")
    other.tap("Sign in on this phone")
    other.see("ask a steward for another")


def test_no_script_reads_the_cookie_and_the_code_leaves_the_address(hand: Hand) -> None:
    assert hand.page.evaluate("document.cookie") == ""
    assert "join" not in hand.page.url
    [cookie] = [c for c in hand.context.cookies() if c["name"] == "__Host-mendpool"]
    assert (cookie["httpOnly"], cookie["secure"], cookie["sameSite"]) == (True, True, "Lax")


def test_an_access_that_was_ended_loses_nothing_that_waits(hand: Hand, pool: Pool) -> None:
    write_down_a_set(hand)
    tell(hand, "will not stop when told")
    name = name_of(hand)
    pool.say("member", "revoke", name)
    let_go(hand)
    hand.see("Sign in to send")
    hand.picture("signed-out")
    hand.open("/waiting")
    hand.see("will not stop when told")

    pool.say("member", "rotate", name, "--readmit")
    said = pool.say("member", "code", name)
    code = next(word for word in said.split() if word.startswith("in") and "_" in word)
    hand.sign_in(code)
    hand.open("/waiting")
    hand.see("Nothing waits")
    assert [one["complaint"] for one in own_reports(hand)] == ["will not stop when told"]


def test_signing_out_forgets_all_that_was_on_the_phone(hand: Hand) -> None:
    write_down_a_set(hand)
    hand.open("/phone")
    hand.picture("phone")
    hand.tap("Sign out")
    hand.tap("Yes, sign out")
    hand.see("Sign in")
    assert "barn" not in hand.page.inner_text("main")
    left = hand.page.evaluate(
        """async () => {
          const { all } = await import('/page/lib/keep.js');
          const left = {};
          const stores = ['sets', 'walks', 'answers', 'queue', 'mine', 'sheets'];
          for (const store of stores) left[store] = (await all(store)).length;
          return left;
        }"""
    )
    assert set(left.values()) == {0}
    assert not [c for c in hand.context.cookies() if c["name"] == "__Host-mendpool"]


def test_what_waits_in_the_browser_holds_no_number_that_was_removed(hand: Hand) -> None:
    # OWASP ASVS 14.3.1: the outbox holds what is left after scrubbing by pattern.
    write_down_a_set(hand)
    hand.context.set_offline(True)
    tell(hand, "hunting, write to someone@example.org or ring 0301 555 0142")
    let_go(hand)
    hand.see("kept on this phone")
    queue = hand.page.evaluate(
        "import('/page/lib/keep.js').then((k) => k.all('queue')).then((q) => JSON.stringify(q))"
    )
    assert "hunting" in queue
    assert "someone@example.org" not in queue
    assert "0142" not in queue


def test_a_steward_invites_reads_and_ends(new_hand: Callable[..., Hand], pool: Pool) -> None:
    said = pool.say("member", "add", "invented-steward", "--steward")
    token = next(word for word in said.split() if word.startswith("mp") and "_" in word)
    steward = new_hand()
    steward.sign_in(token)
    steward.open("/steward")
    steward.picture("steward")
    steward.see("Members")
