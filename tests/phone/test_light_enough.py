"""A poor signal: bytes and requests of the first view, taps and seconds to an answer."""

import sys
import time
from collections.abc import Callable
from typing import Any

import pytest

from tests.phone.hand import Hand
from tests.phone.test_the_whole_job import COMPLAINT, fixed_by_brushes

pytestmark = pytest.mark.phone
FIRST_VIEW_MOST = 60_000
REQUESTS_MOST = 30
SLOW = {
    "offline": False,
    "latency": 150,
    "downloadThroughput": 50_000,
    "uploadThroughput": 50_000,
}
"""400 kbit/s each way."""


def tell(text: str) -> None:
    """Print a figure, to be seen with `-s` and in what CI keeps."""
    sys.stdout.write(f"{text}\n")


def listening(hand: Hand) -> tuple[Any, list[tuple[str, int]]]:
    """Return the browser's own account of what came over the line, as it comes."""
    told = hand.context.new_cdp_session(hand.page)
    told.send("Network.enable")
    names: dict[str, str] = {}
    came: list[tuple[str, int]] = []
    told.on(
        "Network.responseReceived",
        lambda e: names.update({e["requestId"]: e["response"]["url"]}),
    )
    told.on(
        "Network.loadingFinished",
        lambda e: came.append((names.get(e["requestId"], ""), e["encodedDataLength"])),
    )
    return told, came


def test_the_first_view_is_small(new_hand: Callable[..., Hand]) -> None:
    # The page's keeper fetches the rest for later, so it is kept out of this count.
    hand = new_hand(service_workers="block")
    _, came = listening(hand)
    hand.page.goto(f"{hand.url}/")
    hand.see("Sign in")
    hand.page.wait_for_load_state("networkidle")
    total = sum(size for _, size in came)
    tell(f"\nfirst view: {total} bytes in {len(came)} requests")
    for name, size in sorted(came, key=lambda c: -c[1])[:8]:
        tell(f"  {size:6d} {name.rsplit('/', 1)[-1]}")
    assert total < FIRST_VIEW_MOST
    assert len(came) <= REQUESTS_MOST


def test_the_very_first_time_it_opens_within_seconds(new_hand: Callable[..., Hand]) -> None:
    hand = new_hand(service_workers="block")
    told, _ = listening(hand)
    told.send("Network.emulateNetworkConditions", SLOW)
    began = time.monotonic()
    hand.page.goto(f"{hand.url}/")
    hand.see("A pool is open to its members")
    tell(f"\nat 400 kbit/s with nothing kept: opened in {time.monotonic() - began:.1f} s")


def test_taps_and_seconds_to_an_answer_and_a_report(
    new_hand: Callable[..., Hand], new_code: Callable[[], str]
) -> None:
    hand = new_hand()
    hand.sign_in(new_code())
    hand.page.goto("about:blank")
    told, _ = listening(hand)
    told.send("Network.emulateNetworkConditions", SLOW)
    hand.taps = hand.typed = 0
    began = time.monotonic()
    hand.page.goto(f"{hand.url}/")
    hand.see("It does not run right")
    opened = time.monotonic() - began
    hand.tap("It does not run right")
    hand.type("What does it do", COMPLAINT)
    asked = time.monotonic()
    hand.tap("What should I do?")
    hand.see("Do this next")
    answered = time.monotonic() - asked
    taps, typed = hand.taps, hand.typed
    tell(f"\nat 400 kbit/s: opened in {opened:.1f} s, answer {answered:.1f} s after the tap")
    tell(f"cold start to an answer: {taps} taps, {typed} characters")
    assert taps <= 2

    fixed_by_brushes(hand)
    hand.unfold("From your steps") if hand.page.locator(
        "summary", has_text="From your steps"
    ).count() else None
    fuel = hand.page.get_by_label("What does it burn?")
    if fuel.count():
        fuel.first.select_option("diesel")
        hand.taps += 2
    hand.tap("running, repair meant to last", "radio")
    hand.tap("Look at what will be sent")
    hand.see("What will be sent")
    hand.tap("Send it")
    hand.see("The pool has it")
    tell(f"and to a sent report: {hand.taps} taps, {hand.typed} characters in all")
