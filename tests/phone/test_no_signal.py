"""The signal goes in the middle of the job: nothing is lost, nothing is sent twice."""

import re
from collections.abc import Callable
from typing import Any

import pytest

from tests.phone.hand import Hand
from tests.phone.test_the_whole_job import ask, own_reports, write_down_a_set

pytestmark = pytest.mark.phone


def tell(hand: Hand, what: str) -> None:
    """Report a set that came right by itself, from nothing."""
    hand.open("/report")
    hand.see("A thin report beats none")
    if not hand.page.get_by_label("Which set?").count():
        hand.page.get_by_label("What does it burn?").first.select_option("petrol")
    hand.type("What was wrong, in your words?", what)
    hand.tap("came right, reason not found", "radio")
    hand.tap("Look at what will be sent")
    hand.see("What will be sent")


def let_go(hand: Hand) -> None:
    """Send a report that was looked over; where the signal is poor, it is kept to be sent."""
    hand.page.locator(
        "button", has_text=re.compile("^(Send it|Keep it, to be sent)")
    ).first.click()


def fill_up(hand: Hand) -> None:
    """Let the phone be full: nothing more is kept."""
    hand.page.evaluate(
        """() => {
          const full = () => { throw new DOMException('full', 'QuotaExceededError'); };
          IDBObjectStore.prototype.put = full;
        }"""
    )


def wait_for_page_kept(hand: Hand) -> None:
    """Wait until the page's own keeper has all of its files."""
    hand.page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    hand.until("navigator.serviceWorker.controller !== null")


def test_the_page_opens_and_goes_on_without_signal(hand: Hand) -> None:
    write_down_a_set(hand)
    ask(hand)
    step = hand.next_step()
    wait_for_page_kept(hand)
    hand.context.set_offline(True)
    hand.page.reload()
    hand.see(step)
    hand.open("/")
    hand.see("No signal")
    hand.see("barn")
    hand.picture("no-signal")

    hand.open("/ask")
    hand.type("What does it do", "surges up and down")
    hand.tap("What should I do?")
    hand.see("With no signal this phone cannot weigh the reports")
    hand.picture("no-signal-ask")
    hand.tap("The fault sheet of this set")
    hand.see("Good values")
    hand.picture("no-signal-sheet")


def test_a_reading_is_judged_without_signal(hand: Hand) -> None:
    write_down_a_set(hand)
    ask(hand)
    wait_for_page_kept(hand)
    hand.context.set_offline(True)
    hand.tap("Add a reading")
    hand.tap("Hertz, nothing plugged in")
    hand.type("Figure", "71")
    hand.see("↑ high.")
    assert "source" in hand.page.inner_text("main")


def test_what_is_told_without_signal_is_sent_once_when_it_comes_back(hand: Hand) -> None:
    write_down_a_set(hand)
    wait_for_page_kept(hand)
    hand.context.set_offline(True)
    tell(hand, "hunting, ring 0301 555 0142")
    hand.see("Names are removed when it is sent")
    assert "0301 555 0142" in hand.page.locator("del").all_inner_texts()
    let_go(hand)
    hand.see("kept on this phone")
    hand.page.reload()
    hand.see("1 thing waits to be sent")
    hand.open("/waiting")
    hand.see("hunting")
    hand.picture("waiting")

    hand.context.set_offline(False)
    hand.see("Nothing waits")
    found = own_reports(hand)
    assert len(found) == 1
    assert "0142" not in found[0]["complaint"]


def test_two_tabs_send_what_waits_once(hand: Hand) -> None:
    write_down_a_set(hand)
    wait_for_page_kept(hand)
    other = hand.new_tab()
    other.goto(f"{hand.url}/")
    hand.context.set_offline(True)
    for what in ("hunting one", "hunting two"):
        tell(hand, what)
        let_go(hand)
        hand.see("kept on this phone")
    hand.context.set_offline(False)
    other.bring_to_front()
    other.reload()
    hand.page.bring_to_front()
    hand.open("/waiting")
    hand.see("Nothing waits")
    assert sorted(one["complaint"] for one in own_reports(hand)) == [
        "hunting one",
        "hunting two",
    ]


def lose_the_answer(
    hand: Hand, method: str = "PUT", where: str = "*/v1/reports/*"
) -> list[int]:
    """Cut the line once, when a request was done; return what the service had answered."""
    told = hand.context.new_cdp_session(hand.page)
    lost: list[int] = []

    def cut(event: dict[str, Any]) -> None:
        stored = event["request"]["method"] == method and not lost
        if stored:
            lost.append(event["responseStatusCode"])
            cutting = {"requestId": event["requestId"], "errorReason": "ConnectionReset"}
            told.send("Fetch.failRequest", cutting)
        else:
            told.send("Fetch.continueRequest", {"requestId": event["requestId"]})

    told.on("Fetch.requestPaused", cut)
    answers = {"urlPattern": where, "requestStage": "Response"}
    told.send("Fetch.enable", {"patterns": [answers]})
    return lost


def wait_until_lost(hand: Hand, lost: list[int]) -> None:
    """Wait until the line was cut: what is kept is told before it is sent."""
    for _ in range(80):
        if lost:
            break
        hand.page.wait_for_timeout(100)


def test_a_service_that_stops_in_mid_sending_gets_it_in_the_end(hand: Hand) -> None:
    write_down_a_set(hand)
    tell(hand, "cuts out on bumps")
    lost = lose_the_answer(hand)
    let_go(hand)
    hand.see("kept on this phone")
    wait_until_lost(hand, lost)
    assert lost == [201], "the service stored it, and the answer never arrived"
    hand.open("/waiting")
    hand.tap("Send now")
    hand.see("Nothing waits")
    assert len(own_reports(hand)) == 1


def test_what_the_pool_refuses_is_set_aside_with_its_reason(hand: Hand) -> None:
    write_down_a_set(hand)
    hand.page.evaluate(
        """async () => {
          const { add } = await import('/page/lib/queue.js');
          const { uuid7 } = await import('/page/lib/ids.js');
          const id = uuid7();
          const body = { machine: { fuel: 'diesel' }, complaint: 'x', outcome: 'mended' };
          await add({ id, kind: 'report', path: `/v1/reports/${id}`, body, title: 'x' });
        }"""
    )
    hand.open("/waiting")
    hand.see("set aside")
    assert "outcome" in hand.page.inner_text("main").lower()
    hand.picture("set-aside")


def test_the_words_stay_where_no_room_is_left(
    new_hand: Callable[..., Hand], new_code: Callable[[], str]
) -> None:
    hand = new_hand()
    hand.sign_in(new_code())
    write_down_a_set(hand)
    tell(hand, "smokes black at load")
    fill_up(hand)
    let_go(hand)
    hand.see("no room left")
    hand.picture("no-room")
    assert "smokes black at load" in hand.page.inner_text("main")


def test_a_phone_without_room_is_answered_and_told(
    new_hand: Callable[..., Hand], new_code: Callable[[], str]
) -> None:
    hand = new_hand()
    hand.sign_in(new_code())
    write_down_a_set(hand)
    ask(hand)
    fill_up(hand)
    step = hand.next_step()
    hand.tap("I can't do this now")
    hand.see("only while this page stays open")
    assert hand.next_step() != step
