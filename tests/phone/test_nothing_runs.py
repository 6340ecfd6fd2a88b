"""OWASP ASVS 1.2.1 and 3.4.3: markup in any field is text, in every view that shows it."""

from uuid import UUID

import httpx
import pytest
from uuid_utils.compat import uuid7

from tests.phone.conftest import Pool
from tests.phone.hand import Hand

pytestmark = pytest.mark.phone
PAYLOADS = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(2)>',
    "<svg onload=alert(3)>",
    "javascript:alert(4)",
    "{{7*7}}${alert(5)}",
    "</textarea><iframe srcdoc='<script>alert(6)</script>'>",
    "' onfocus=alert(7) autofocus='",
)
ALL = " ".join(PAYLOADS)


@pytest.fixture(scope="module")
def spoiled(pool: Pool) -> UUID:
    """A report with markup wherever text may stand, of somebody else."""
    name = uuid7()
    short = PAYLOADS[1][:60]
    body = {
        "machine": {"fuel": "diesel", "make": short, "model": PAYLOADS[2]},
        "complaint": f"no output {ALL}",
        "readings": [{"text": "outlet 3 volts no load"}],
        "attempts": [
            {
                "component": "brushes", "action": "replace", "result": "fixed",
                "part": short, "fits": short,
            },
        ],
        "outcome": "repaired", "region": short, "note": ALL, "happened": "2026-01",
    }  # fmt: skip
    headers = {"Authorization": f"Bearer {next(iter(pool.tokens.values()))}"}
    answer = httpx.put(f"{pool.url}/v1/reports/{name}", json=body, headers=headers)
    assert answer.status_code == 201, answer.text
    return UUID(str(name))


def test_what_others_wrote_is_shown_as_text(hand: Hand, spoiled: UUID) -> None:
    for place in (f"/look/{spoiled}", "/look", f"/follow/{spoiled}"):
        hand.open(place)
        hand.page.evaluate(
            "document.querySelectorAll('details').forEach((d) => { d.open = true; })"
        )
        hand.page.wait_for_timeout(200)
        assert hand.breaches() == []
        assert hand.page.locator("main script, main iframe, main img[src=x]").count() == 0
    hand.open(f"/look/{spoiled}")
    hand.see("<svg onload=alert(3)>")


def test_what_one_types_oneself_is_shown_as_text(hand: Hand) -> None:
    hand.open("/sets/new")
    hand.tap("diesel", "radio")
    hand.type("What you call it", PAYLOADS[1])
    hand.tap("Save")
    hand.see("Ask about it")
    hand.open("/ask")
    hand.type("What does it do", f"no output {ALL}")
    hand.tap("What should I do?")
    hand.see("Do this next")
    hand.tap("It is over")
    hand.type("Anything else worth knowing?", ALL)
    hand.tap("running, repair meant to last", "radio")
    hand.tap("Look at what will be sent")
    # The button before it has words like the heading: wait for the place itself.
    hand.see("The rest of it")
    hand.open("/")
    hand.see("not finished")
    assert hand.breaches() == []
    assert hand.page.locator("main script, main iframe, main img[src=x]").count() == 0


def test_a_code_in_the_link_is_no_markup(hand: Hand) -> None:
    hand.page.goto(f"{hand.url}/#join=%22%3E%3Cimg%20src=x%20onerror=alert(1)%3E")
    hand.see("Sign in on this phone")
    assert hand.breaches() == []


def test_forms_escape_what_was_typed(hand: Hand) -> None:
    hand.page.goto(f"{hand.url}/plain/ask")
    hand.page.get_by_label("What does it do").fill(ALL)
    hand.page.get_by_label("What does it burn").select_option("diesel")
    hand.press("What should I do?")
    hand.see("Do this next")
    assert hand.breaches() == []
    assert hand.page.locator("main script, main iframe, main img").count() == 0
