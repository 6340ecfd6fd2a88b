"""A lent phone: what one member wrote goes out under no other's name, nor is it shown."""

from collections.abc import Callable
from typing import Any

import pytest

from tests.phone.hand import Hand
from tests.phone.test_no_signal import (
    let_go,
    lose_the_answer,
    tell,
    wait_for_page_kept,
    wait_until_lost,
)
from tests.phone.test_the_whole_job import own_reports, write_down_a_set

pytestmark = pytest.mark.phone
LEFT = """async () => {
  const { all } = await import('/page/lib/keep.js');
  const left = {};
  for (const store of ['sets', 'walks', 'answers', 'mine', 'queue']) {
    left[store] = (await all(store)).length;
  }
  return left;
}"""
SIGN_IN = """(code) => fetch('/v1/session', {
  method: 'POST', body: JSON.stringify({ code }),
  headers: { 'Content-Type': 'application/json' },
}).then((answer) => answer.status)"""


def keep_without_signal(hand: Hand, what: str) -> None:
    """Tell a report where there is no signal."""
    write_down_a_set(hand)
    wait_for_page_kept(hand)
    hand.context.set_offline(True)
    tell(hand, what)
    let_go(hand)
    hand.see("kept on this phone")


def test_another_member_neither_sends_nor_sees_what_the_first_one_wrote(
    hand: Hand, new_code: Callable[[], str]
) -> None:
    keep_without_signal(hand, "hunting, told by the first")
    # As /plain does: the cookie is another member's, and this tab has yet to hear of it.
    hand.page.goto("about:blank")  # or it would send, as its writer, when the signal is back
    hand.context.set_offline(False)
    other = hand.new_tab()
    other.route("**/app.js", lambda route: route.abort())
    other.goto(f"{hand.url}/plain/")
    assert other.evaluate(SIGN_IN, new_code()) == 201
    other.close()

    hand.open("/")
    hand.see("Another member had this phone")
    assert own_reports(hand) == []
    left = hand.page.evaluate(LEFT)
    assert left.pop("queue") == 1, "it waits for the one who wrote it"
    assert set(left.values()) == {0}
    hand.open("/waiting")
    hand.see("written by another member")
    hand.page.wait_for_timeout(500)
    assert not hand.page.get_by_role("link", name="Mend it").count()
    assert not hand.page.get_by_role("button", name="Take it back").count()
    assert own_reports(hand) == []


def test_a_tab_of_the_first_member_sends_nothing_under_the_seconds_cookie(
    hand: Hand, new_code: Callable[[], str]
) -> None:
    write_down_a_set(hand)
    tell(hand, "hunting, told in the old tab")
    assert hand.page.evaluate(SIGN_IN, new_code()) == 201
    let_go(hand)
    hand.see("Another member had this phone")
    assert hand.page.evaluate(LEFT)["queue"] == 1
    assert own_reports(hand) == []


def test_a_mended_report_is_not_overtaken_by_its_follow_up(hand: Hand) -> None:
    keep_without_signal(hand, "hunting, to be mended")
    hand.page.evaluate(
        """async () => {
          const { add, waiting } = await import('/page/lib/queue.js');
          const { uuid7 } = await import('/page/lib/ids.js');
          const [report] = await waiting();
          const id = uuid7();
          const path = `${report.path}/followups/${id}`;
          const body = { happened: JSON.parse(report.body).happened, state: 'holding' };
          const of = report.id;
          await add({ id, kind: 'followup', path, body, title: 'x', report: of, of });
          await add({ ...report, body: { ...JSON.parse(report.body), note: 'mended' } });
        }"""
    )
    hand.context.set_offline(False)
    hand.open("/waiting")
    hand.see("Nothing waits")
    [found] = own_reports(hand)
    assert found["note"] == "mended"
    assert [one["state"] for one in found["followups"]] == ["holding"]


def test_what_is_taken_back_is_erased_where_the_answer_was_lost(hand: Hand) -> None:
    write_down_a_set(hand)
    tell(hand, "cuts out, taken back")
    lost = lose_the_answer(hand)
    let_go(hand)
    hand.see("kept on this phone")
    wait_until_lost(hand, lost)
    assert lost == [201], "the pool has it, and the phone does not know"
    said: list[str] = []

    def yes(dialog: Any) -> None:
        said.append(dialog.message)
        dialog.accept()

    hand.page.on("dialog", yes)
    hand.open("/waiting")
    hand.tap("Take it back")
    hand.see("Nothing waits")
    assert "erased there" in said[0]
    assert own_reports(hand) == []


@pytest.mark.parametrize("place", ["?mend=1", "", "?step=check"])
def test_another_members_report_is_not_opened_by_its_address(hand: Hand, place: str) -> None:
    keep_without_signal(hand, "hunting, told by another")
    walk = hand.page.evaluate(
        """async () => {
          const { keep } = await import('/page/lib/keep.js');
          const { waiting } = await import('/page/lib/queue.js');
          const [report] = await waiting();
          await keep('queue', { ...report, who: 'somebody-else' });
          return report.walk;
        }"""
    )
    hand.open("/waiting")
    hand.open(f"/report/{walk}{place}")
    hand.page.get_by_role("heading", name="Report").wait_for()
    hand.see("written by another member")
    assert "hunting" not in hand.page.inner_text("main")
    [kept] = hand.page.evaluate("import('/page/lib/queue.js').then((q) => q.waiting())")
    assert (kept["state"], kept["why"]) == ("waiting", None), "it waits as it was"


def test_a_view_that_cannot_be_loaded_says_so(new_hand: Callable[..., Hand]) -> None:
    hand = new_hand(service_workers="block")
    hand.open("/")
    hand.page.route("**/views/look.js", lambda route: route.abort())
    hand.open("/look")
    hand.see("This did not open")
    hand.page.get_by_role("button", name="Load it").wait_for()
