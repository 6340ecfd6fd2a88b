"""A stretch of the feed read elsewhere: the index it makes is that of its lines one by one."""

import itertools
from collections.abc import Iterator, Sequence

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from mendpool.index.finder import Finder
from mendpool.index.sheaf import Gatherer

from tests.factories import make_id

Line = tuple[str, int, tuple[str, ...]]
"""What it is, which report, its words; of a follow-up the month and what was seen."""

WORDS = tuple(f"w:{letter}" for letter in "abcdefghijkl")
MONTHS = ("2026-01", "2026-02", "2026-03")


@st.composite
def feeds(draw: st.DrawFn) -> list[Line]:
    """Draw a feed as the store keeps one: an id is filed once, and spoken of afterwards."""
    feed: list[Line] = []
    for number in range(draw(st.integers(0, 25))):
        kind = draw(st.sampled_from(["report", "report", "followup", "withdrawal"]))
        there = _held(feed)
        if kind == "report" or not there:
            words = tuple(draw(st.lists(st.sampled_from(WORDS), max_size=6)))
            feed.append(("report", number, words))
        elif kind == "followup":
            seen = (
                draw(st.sampled_from(MONTHS)),
                draw(st.sampled_from(["holding", "returned"])),
            )
            feed.append(("followup", draw(st.sampled_from(there)), seen))
        else:
            feed.append(("withdrawal", draw(st.sampled_from(there)), ()))
    return feed


def _held(feed: Sequence[Line]) -> list[int]:
    gone = {report for kind, report, _ in feed if kind == "withdrawal"}
    return [report for kind, report, _ in feed if kind == "report" and report not in gone]


def take(one: Finder | Gatherer, feed: Sequence[Line], first: int) -> None:
    for seq, (kind, report, said) in enumerate(feed, first):
        if kind == "report":
            one.add(seq, make_id(report), said, report << 2, [f"={word}" for word in said])
        elif kind == "followup":
            one.follow_up(seq, make_id(report), *said)
        else:
            one.remove(make_id(report))
        one.reached(seq)


def stretches(
    feed: Sequence[Line], cuts: Sequence[int]
) -> Iterator[tuple[int, Sequence[Line]]]:
    edges = sorted({0, *[cut % (len(feed) + 1) for cut in cuts], len(feed)})
    for start, end in itertools.pairwise(edges):
        yield start, feed[start:end]


def held(finder: Finder) -> list[object]:
    closed = finder.tidy(whole=True)
    arrays = [a for part in closed.parts for a in (*part.segment.forward, part.held)]
    numbers = [closed.seq, closed.last, len(finder)]
    return [closed.names, closed.later.tolist(), *numbers, *[a.tolist() for a in arrays]]


@given(feeds(), st.lists(st.integers(0, 30), max_size=4), st.integers(0, 25))
def test_stretch_by_stretch_is_line_by_line(
    feed: list[Line], cuts: list[int], tidied: int
) -> None:
    by_line, by_sheaf = Finder(), Finder()
    for start, lines in stretches(feed, cuts):
        gatherer = Gatherer()
        take(gatherer, lines, start + 1)
        by_sheaf.take_in(gatherer.sheaf())
        take(by_line, lines, start + 1)
        if start <= tidied < start + len(lines):
            by_line.tidy()
            by_sheaf.tidy()
    assert held(by_sheaf) == held(by_line)


def test_lines_that_were_taken_before_change_nothing() -> None:
    feed: list[Line] = [("report", n, (WORDS[n], "w:pump")) for n in range(6)]
    feed[3:3] = [("followup", 1, ("2026-02", "holding"))]
    once, twice = Finder(), Finder()
    whole, first = Gatherer(), Gatherer()
    take(whole, feed, 1)
    take(first, feed[:5], 1)
    once.take_in(whole.sheaf())
    for sheaf in (first.sheaf(), whole.sheaf(), first.sheaf()):
        twice.take_in(sheaf)
    assert held(twice) == held(once)


def test_more_than_the_room_at_hand_is_taken_in_at_once() -> None:
    # The arrays begin with room for 256 reports and 4,096 terms.
    feed: list[Line] = [("report", n, WORDS) for n in range(1500)]
    gatherer, finder = Gatherer(), Finder()
    take(gatherer, feed, 1)
    finder.take_in(gatherer.sheaf())
    hits = finder.search({"w:c": 2}, limit=2000)
    assert [hit.seq for hit in hits] == list(range(1, 1501))
    assert np.unique([hit.score for hit in hits]).tolist() == [2]
