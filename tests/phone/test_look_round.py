"""Looking around: search, one report whole, what fails on such sets, how long fixes hold."""

from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest

from tests.phone.hand import Hand
from tests.phone.test_no_signal import wait_for_page_kept
from tests.phone.test_steward_walk import DANGEROUS, MISFIT, answers, file
from tests.phone.test_the_whole_job import own_reports, write_down_a_set

pytestmark = pytest.mark.phone
ASK = """async (path) => {
  const { get } = await import('/page/lib/api.js');
  return get(path);
}"""
TITLES = "main li.card h3"


def told(hand: Hand, path: str) -> dict[str, Any]:
    """What the service says to the page."""
    found: dict[str, Any] = hand.page.evaluate(ASK, path)
    return found


def ids(hand: Hand) -> list[str]:
    """Return the reports listed, in their order."""
    links = hand.page.locator(f"{TITLES} a").evaluate_all("(links) => links.map((a) => a.hash)")
    return [link.removeprefix("#/look/") for link in links]


def asked(hand: Hand) -> dict[str, list[str]]:
    """Return what the address asks for."""
    return parse_qs(urlsplit(urlsplit(hand.page.url).fragment).query)


def look_for(hand: Hand, words: str) -> None:
    """Look for some words and wait for what comes."""
    hand.type("Look for", words)
    hand.tap("Look", "button")
    hand.until("document.querySelector('[aria-busy]') === null")


class TestSearch:
    def test_the_newest_come_first_and_more_at_a_tap(self, hand: Hand) -> None:
        hand.open("/")
        hand.tap("Look around", "link")
        hand.see("The newest first")
        first = ids(hand)
        assert first == [r["id"] for r in told(hand, "/v1/reports?limit=15")["items"]]
        hand.tap("More", "button")
        hand.until("() => document.querySelectorAll('main li.card').length === 30")
        assert ids(hand)[:15] == first
        assert len(set(ids(hand))) == 30
        assert hand.page.evaluate("document.activeElement.hash").endswith(ids(hand)[15])

    def test_words_find_the_likest_and_the_address_keeps_them(self, hand: Hand) -> None:
        hand.open("/look")
        look_for(hand, "no output at the sockets")
        hand.see("The likest first")
        assert hand.page.evaluate("document.activeElement.textContent") == "The likest first"
        found = ids(hand)
        service = told(hand, "/v1/reports?q=no+output+at+the+sockets&limit=15")
        assert found == [r["id"] for r in service["items"]]
        assert asked(hand) == {"q": ["no output at the sockets"]}
        hand.picture("look-found")

        hand.page.locator(f"{TITLES} a").first.click()
        hand.see("What it did")
        hand.page.go_back()
        hand.see("The likest first")
        assert ids(hand) == found, "going back finds it again"
        assert hand.page.get_by_label("Look for").input_value() == "no output at the sockets"

    def test_they_are_narrowed_by_kind(self, hand: Hand) -> None:
        hand.open("/look")
        hand.unfold("Only some of them")
        hand.page.get_by_label("Fuel", exact=True).select_option("lpg")
        hand.tap("Look", "button")
        hand.until("() => document.querySelector('[aria-busy]') === null")
        listed = [told(hand, f"/v1/reports/{one}") for one in ids(hand)]
        assert listed
        assert {report["machine"]["fuel"] for report in listed} == {"lpg"}
        assert asked(hand) == {"fuel": ["lpg"]}

    def test_where_nothing_is_like_it_that_is_said(self, hand: Hand) -> None:
        hand.open("/look?fuel=lpg&component=glow-plug")
        hand.see("Nothing like it here.")
        assert ids(hand) == []

    def test_without_signal_the_own_ones_are_there(self, hand: Hand) -> None:
        mine = file(hand, MISFIT)
        hand.open("/follow")
        hand.see("other repair of yours")
        wait_for_page_kept(hand)
        hand.context.set_offline(True)
        hand.open("/look")
        hand.see("Looking around needs a signal")
        hand.see("Your own, as kept on this phone")
        assert ids(hand) == [mine]
        hand.page.locator(f"{TITLES} a").click()
        hand.see("your report as kept on this phone")
        hand.see("would not start in the cold")
        hand.context.set_offline(False)


class TestOneReport:
    def test_it_is_told_whole_with_its_dangers_first(self, hand: Hand) -> None:
        every = told(hand, "/v1/reports?limit=60")["items"]
        one = next(r for r in every if r.get("followups") and r.get("readings"))
        hand.open(f"/look/{one['id']}")
        hand.see("What it was and how it ended")
        text = hand.page.inner_text("main")
        assert one["complaint"] in text
        assert one["note"] in text
        heads = hand.page.locator("main h2").all_inner_texts()
        assert heads == [
            "Take care", "What it did", "What was measured and looked at",
            "What was tried, in order", "What it was and how it ended", "Since then",
        ]  # fmt: skip
        assert hand.page.locator(".careful li").count() == len(one["cautions"])
        assert hand.page.locator("main ol > li").count() == len(one["attempts"])
        bands = hand.page.locator("main figure svg")
        assert bands.count() == len(one["readings"])
        assert all(svg.locator("title").count() == 1 for svg in bands.all())
        hand.picture("report-whole")

    def test_one_s_own_is_taken_back_after_a_question(self, hand: Hand) -> None:
        mine = file(hand, DANGEROUS)
        hand.open(f"/look/{mine}")
        hand.see("This is your report")
        said_no = answers(hand, yes=False)
        hand.tap("Take it back")
        hand.until("() => document.querySelector('[aria-busy]') === null")
        assert said_no == ["Erase this report from the pool? It cannot be undone."]
        assert [r["id"] for r in own_reports(hand)] == [mine], "a no changes nothing"
        answers(hand, yes=True)
        hand.tap("Take it back")
        hand.see("Taken back. It is erased.")
        assert own_reports(hand) == []
        hand.open("/")
        hand.open(f"/look/{mine}")
        hand.see("It was taken back.")
        assert not hand.is_seen("oil switch")

    def test_another_s_cannot_be_taken_back(self, hand: Hand) -> None:
        [one] = told(hand, "/v1/reports?limit=1&component=brushes")["items"]
        hand.open(f"/look/{one['id']}")
        hand.see("What it was and how it ended")
        assert not hand.is_seen("This is your report")
        assert hand.page.get_by_role("button", name="Take it back").count() == 0

    def test_one_that_is_not_there_says_so(self, hand: Hand) -> None:
        hand.open("/look/01890000-0000-7000-8000-000000000000")
        hand.see("That is not here.")
        assert hand.page.get_by_role("button", name="Try again").count() == 0


class TestWhatFails:
    def test_it_counts_for_my_set_and_leads_to_the_reports(self, hand: Hand) -> None:
        write_down_a_set(hand)
        hand.open("/look")
        hand.tap("What fails on sets like mine", "link")
        hand.see("Counted are sets of every kind.")
        every = told(hand, "/v1/failing")
        hand.see(f"{every['reports']} reports of trouble with sets like it,")
        hand.see(f"In {every['known']} of them the fault is known.")

        hand.page.get_by_label("Which of my sets?").select_option(label="barn")
        hand.see("Counted are sets that are, or may be: diesel.")
        diesel = told(hand, "/v1/failing?fuel=diesel")
        assert diesel["reports"] < every["reports"]
        hand.see(f"{diesel['reports']} reports of trouble with sets like it,")
        first = diesel["items"][0]
        figure = hand.page.locator("figure").first
        assert figure.locator("svg title").count() == 1
        row = figure.locator("table tbody tr").first.text_content() or ""
        assert f"{first['reports']}" in row
        hand.picture("failing")

        hand.unfold("Read the reports")
        hand.page.locator("details[open] a").first.click()
        hand.see("The newest first")
        assert asked(hand) == {"fuel": ["diesel"], "component": [first["component"]]}
        assert ids(hand)

    def test_a_kind_is_chosen_where_no_set_is_written_down(self, hand: Hand) -> None:
        hand.open("/look/failing")
        assert hand.page.get_by_label("Which of my sets?").count() == 0
        hand.unfold("Or choose a kind of set")
        hand.page.get_by_label("Fuel", exact=True).select_option("petrol")
        hand.see("Counted are sets that are, or may be: petrol")
        petrol = told(hand, "/v1/failing?fuel=petrol")
        hand.see(f"{petrol['reports']} reports of trouble with sets like it,")
        hand.unfold("What the trade expects")
        hand.see("common practice, whatever was reported")

    def test_without_signal_it_says_so_and_names_the_sheet(self, hand: Hand) -> None:
        hand.open("/look/failing")
        hand.see("Counted are sets of every kind.")
        wait_for_page_kept(hand)
        hand.context.set_offline(True)
        hand.open("/look")
        hand.open("/look/failing")
        hand.see("The fault sheet of your set tells what fails most, without one.")
        hand.context.set_offline(False)


class TestHowLongFixesHold:
    def test_the_best_followed_stand_first_and_one_is_opened(self, hand: Hand) -> None:
        hand.open("/look")
        hand.tap("How long fixes hold", "link")
        hand.see("The best followed")
        items = told(hand, "/v1/durability")["items"]
        cards = hand.page.locator("main li.card")
        assert cards.count() == len(items)
        best = items[0]
        assert f"{best['followed']} repairs were followed" in cards.first.inner_text()
        if best["share"] is None:
            assert "%" not in cards.first.inner_text(), "of so few no share is told"
        hand.picture("holding")

        one = told(
            hand,
            f"/v1/durability?component={best['component']}&action={best['action']}",
        )
        cards.first.get_by_role("link").click()
        cards.first.wait_for(state="detached")
        # How many are silent goes by what other tests have told this pool.
        if silent := one["silent"]:
            hand.see(f"Of {silent} other{'s' if silent > 1 else ''} nobody has said.")
        curve = any(at["share"] is not None for at in one["at"])
        assert hand.page.locator("main figure svg").count() == (1 if curve else 0)
        hand.tap("How long fixes hold", "link")
        hand.see("The best followed")

    def test_what_nobody_followed_asks_for_a_follow_up(self, hand: Hand) -> None:
        hand.open("/look/holding?component=block-heater&action=clean")
        hand.see("Every follow-up helps the next one")
        hand.page.locator("main").get_by_role("link", name="Follow up").click()
        hand.until("() => location.hash === '#/follow'")

    def test_what_only_gets_by_has_no_curve_and_says_why(self, hand: Hand) -> None:
        hand.open("/look/holding?component=oil-switch&action=bypass")
        hand.see("This only gets a set by")
        assert hand.page.locator("main figure").count() == 0
