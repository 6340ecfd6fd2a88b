"""Late and half answers: of an old report over a mended one, and of a line that breaks."""

from typing import Any

import pytest

from tests.phone.hand import Hand
from tests.phone.test_no_signal import let_go, tell
from tests.phone.test_the_whole_job import own_reports, write_down_a_set

pytestmark = pytest.mark.phone
OLD = {
    "machine": {"fuel": "diesel"},
    "complaint": "hunting, the old form",
    "outcome": "retired",
}
MENDED = {**OLD, "complaint": "hunting, mended"}
REFUSED = {**OLD, "outcome": "mended"}  # no such outcome
MEND_MEANWHILE = """async ([old, mended]) => {
  const { add, flush, waiting } = await import('/page/lib/queue.js');
  const { uuid7 } = await import('/page/lib/ids.js');
  const id = uuid7();
  const thing = { id, kind: 'report', path: `/v1/reports/${id}`, title: 'x' };
  const real = window.fetch;
  let arrived;
  const there = new Promise((done) => { arrived = done; });
  let release;
  const meanwhile = new Promise((done) => { release = done; });
  const statuses = [];
  window.fetch = async (path, options) => {
    const answer = await real(path, options);
    if (options?.method === 'PUT') {
      statuses.push(answer.status);
      if (statuses.length === 1) { arrived(); await meanwhile; }
    }
    return answer;
  };
  await add({ ...thing, body: old });
  await there;
  const made = (await waiting())[0].made;
  while (Date.now() <= made) await new Promise((done) => setTimeout(done, 2));
  await add({ ...thing, body: mended });
  release();
  // Whoever sends holds the lock until all has been looked at.
  await navigator.locks.request('mendpool-queue', () => {});
  const after = await waiting();
  await flush();
  window.fetch = real;
  return { id, statuses, after, end: await waiting() };
}"""
CUT = """(how) => {
  const real = window.fetch;
  window.cut = [];
  window.fetch = async (path, options) => {
    const answer = await real(path, options);
    if (options?.method !== 'PUT' || window.cut.length) return answer;
    const whole = new Uint8Array(await answer.arrayBuffer());
    window.cut.push(answer.status, options.body);
    const half = whole.slice(0, whole.length / 2);
    const line = new ReadableStream({ start(end) {
      end.enqueue(half);
      if (how === 'broken') setTimeout(() => end.error(new TypeError('network error')), 50);
      else end.close();
    } });
    return new Response(line, { status: answer.status, headers: answer.headers });
  };
}"""


def complaints(hand: Hand) -> list[str]:
    """What this member's reports complain of, as the pool has them."""
    return [one["complaint"] for one in own_reports(hand)]


def test_the_refusal_of_the_old_form_does_not_fall_on_the_mended_one(hand: Hand) -> None:
    told: dict[str, Any] = hand.page.evaluate(MEND_MEANWHILE, [REFUSED, MENDED])
    [after] = told["after"]
    assert (after["state"], after["why"]) == ("waiting", None)
    assert told["statuses"] == [422, 201]
    assert told["end"] == []
    assert complaints(hand) == [MENDED["complaint"]]


def test_that_the_old_form_arrived_does_not_take_the_mended_one_away(hand: Hand) -> None:
    told: dict[str, Any] = hand.page.evaluate(MEND_MEANWHILE, [OLD, MENDED])
    [after] = told["after"]
    assert "hunting, mended" in after["body"]
    # The pool has the old form under this name, and says so: nothing of the mended one is lost.
    assert told["statuses"] == [201, 409]
    [end] = told["end"]
    assert (end["state"], end["why"]["kind"]) == ("set-aside", "conflict")
    assert complaints(hand) == [OLD["complaint"]]
    hand.open("/waiting")
    hand.see("set aside")
    hand.page.get_by_role("button", name="Take it back").wait_for()


@pytest.mark.parametrize("how", ["broken", "ended early"])
def test_a_report_whose_answer_was_cut_in_half_is_sent_again(hand: Hand, how: str) -> None:
    write_down_a_set(hand)
    tell(hand, "hunting, cut in the middle")
    hand.page.evaluate(CUT, how)
    let_go(hand)
    hand.see("kept on this phone")
    hand.until("window.cut.length === 2")
    hand.open("/waiting")
    hand.see("No signal")
    [waits] = hand.page.evaluate("import('/page/lib/queue.js').then((q) => q.waiting())")
    status, body = hand.page.evaluate("window.cut")
    assert (status, waits["state"], waits["attempted"]) == (201, "waiting", True)
    assert waits["body"] == body, "the very same bytes go again"
    hand.tap("Send now")
    hand.see("Nothing waits")
    assert complaints(hand) == ["hunting, cut in the middle"]
