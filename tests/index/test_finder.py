"""The index: exactly what trying every report gives, however the reports came and went."""

import time
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from uuid import UUID

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mendpool.index import segment
from mendpool.index.finder import Finder
from mendpool.index.view import Hit

from tests.factories import make_id

Held = tuple[UUID, tuple[str, ...]]

# Many terms of one report and large weights, so that sums need many digits.
TERMS = tuple(f"w:{letter}" for letter in "abcdefghij")


def reports_of(*terms: Sequence[str]) -> list[Held]:
    return [(make_id(900 + number), tuple(held)) for number, held in enumerate(terms)]


def by_hand(
    held: Mapping[int, Held], weights: Mapping[str, int], limit: int
) -> list[tuple[UUID, int]]:
    """Every report scored by plain addition."""
    scored = [
        (-sum(weights.get(term, 0) for term in terms), report)
        for report, terms in held.values()
    ]
    return [(report, -score) for score, report in sorted(scored) if score][:limit]


def found_by(
    finder: Finder, held: Mapping[int, Held], weights: Mapping[str, int], limit: int
) -> list[tuple[UUID, int]]:
    return [(held[hit.seq][0], hit.score) for hit in finder.search(weights, limit)]


def numbered(reports: Sequence[Held]) -> dict[int, Held]:
    return dict(enumerate(reports, start=1))


def filled(
    held: Mapping[int, Held], sliced_from: int, after: Callable[[int, Finder], object]
) -> Finder:
    """Return a finder with the reports; `after` is called when each has come."""
    finder = Finder(sliced_from=sliced_from)
    for seq, (report, terms) in held.items():
        finder.add(seq, report, terms)
        after(seq, finder)
    return finder


pools = st.lists(
    st.lists(st.sampled_from(TERMS), max_size=8, unique=True), min_size=1, max_size=150
)
questions = st.dictionaries(
    st.sampled_from([*TERMS, "w:never"]), st.integers(1, 127), max_size=len(TERMS)
)


@settings(deadline=None)
@given(pools, questions, st.integers(1, 160), st.sampled_from([1, 20, 1000]), st.data())
def test_it_is_exact_whatever_the_order_of_coming_closing_and_going(
    terms: list[list[str]],
    weights: dict[str, int],
    limit: int,
    sliced_from: int,
    data: st.DataObject,
) -> None:
    held = numbered(data.draw(st.permutations(reports_of(*terms))))
    closed = data.draw(st.sets(st.sampled_from(sorted(held)), max_size=4))
    gone = data.draw(st.sets(st.sampled_from(sorted(held)), max_size=6))
    left = {seq: report for seq, report in held.items() if seq not in gone}

    def after(seq: int, finder: Finder) -> None:
        if seq in gone:
            finder.remove(held[seq][0])
        if seq in closed:
            finder.tidy()

    finder = filled(held, sliced_from, after)
    wanted = by_hand(left, weights, limit)
    assert found_by(finder, held, weights, limit) == wanted
    assert len(finder) == len(left)
    finder.tidy()
    assert found_by(finder, held, weights, limit) == wanted
    assert len(finder) == len(left)


def large_pool(rows: int) -> dict[int, Held]:
    """Reports over common and rare terms, their ids in no order."""
    rng = np.random.default_rng(7)
    ids = rng.permutation(rows)
    held = {}
    for number in range(rows):
        common = [f"k:{t}" for t in range(12) if rng.random() < 0.9 / (t + 1)]
        rare = [f"w:{t}" for t in rng.integers(0, 3000, 6)]
        held[number + 1] = (make_id(int(ids[number])), tuple(dict.fromkeys(common + rare)))
    return held


@pytest.mark.parametrize("limit", [1, 10, 300, 5000])
def test_thousands_of_reports_with_many_ties(limit: int) -> None:
    held = large_pool(6000)
    finder = filled(held, 1024, lambda seq, f: f.tidy() if seq % 1500 == 0 else None)
    for report in [held[seq][0] for seq in range(5, 6000, 31)]:
        finder.remove(report)
    gone = set(range(5, 6000, 31))
    left = {seq: report for seq, report in held.items() if seq not in gone}
    rng = np.random.default_rng(3)
    for weights in (
        {"k:0": 1},
        {"k:0": 3, "k:11": 90},
        {"w:5": 7},
        {f"k:{t}": int(rng.integers(1, 101)) for t in range(12)},
        {f"k:{t}": 5 for t in range(12)} | {f"w:{t}": 60 for t in range(0, 400, 9)},
    ):
        assert found_by(finder, held, weights, limit) == by_hand(left, weights, limit)


def test_three_patterns_of_commits_give_the_same_bytes() -> None:
    held = large_pool(3000)
    gone = range(10, 3000, 17)
    weights = {f"k:{t}": 5 + t for t in range(12)} | {f"w:{t}": 60 for t in range(300)}

    def one_by_one(seq: int, finder: Finder) -> None:
        if seq % 97 == 0:
            finder.tidy()
        if seq in gone:
            finder.remove(held[seq][0])

    patterns: list[Callable[[int, Finder], object]] = [
        one_by_one,
        lambda _seq, _finder: None,  # everything stays in the tail
        lambda seq, finder: finder.tidy() if seq in {40, 2900} else None,
    ]
    answers = []
    for after in patterns:
        finder = filled(held, 512, after)
        for seq in gone:
            finder.remove(held[seq][0])
        answers.append(repr(finder.search(weights)).encode())
        assert len(finder) == 3000 - len(gone)
    assert answers[0] == answers[1] == answers[2]


def test_a_view_stays_what_it_was() -> None:
    held = numbered(reports_of(["w:a"], ["w:a", "w:b"], ["w:a"]))
    finder = filled(held, 1, lambda seq, f: f.tidy() if seq == 2 else None)
    view = finder.view()
    finder.remove(held[2][0])
    finder.remove(held[3][0])
    finder.add(4, make_id(3), ["w:a"])
    finder.tidy()
    assert view.search({"w:a": 1}, 9) == [Hit(1, 1), Hit(2, 1), Hit(3, 1)]
    assert finder.search({"w:a": 1}, 9) == [Hit(4, 1), Hit(1, 1)]


def test_what_goes_or_comes_while_it_is_tidied_is_not_lost(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    held = numbered(reports_of(["w:a"], ["w:a"], ["w:a"]))
    finder = filled(held, 1, lambda seq, f: f.tidy() if seq == 1 else None)
    merge = finder._merged

    def merge_while_others_write(*given: object, **named: object) -> object:
        finder.remove(held[1][0])
        finder.remove(held[2][0])
        finder.add(4, make_id(3), ["w:a"])
        finder.add(5, held[2][0], ["w:a", "w:b"])  # the same id, come again
        return merge(*given, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(finder, "_merged", merge_while_others_write)
    finder.tidy()
    assert finder.search({"w:a": 1, "w:b": 1}) == [Hit(5, 2), Hit(4, 1), Hit(3, 1)]
    assert len(finder) == 3


def test_a_number_that_was_read_already_changes_nothing() -> None:
    held = numbered(reports_of(["w:a"], ["w:b"]))
    finder = filled(held, 1, lambda _seq, _finder: None)
    finder.add(2, make_id(77), ["w:a"])
    assert finder.search({"w:a": 1}) == [Hit(1, 1)]
    assert len(finder) == 2


def test_pools_of_many_pieces_are_put_together_rightly(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(segment, "_PIECE", 7)
    held = large_pool(400)
    finder = filled(held, 100, lambda seq, f: f.tidy() if seq % 150 == 0 else None)
    finder.tidy()
    weights = {f"k:{t}": 5 + t for t in range(12)} | {f"w:{t}": 60 for t in range(300)}
    assert found_by(finder, held, weights, 500) == by_hand(held, weights, 500)


def faults_of(finder: Finder, least: int) -> list[object]:
    """What is wrong with a search: all hold `w:a`, every seventh was taken back or will be."""
    view = finder.view()
    seqs = [hit.seq for hit in view.search({"w:a": 3}, 5000)]
    whole = set(range(1, max(seqs, default=0) + 1)) - set(range(7, 5001, 7))
    right = (
        len(seqs) >= least - least // 7,  # all that was acknowledged before
        len(set(seqs)) == len(seqs) == len(view),
        whole <= set(seqs),
    )
    return [] if all(right) else [(least, len(seqs), right)]


def come_and_go(finder: Finder, held: Mapping[int, Held], told: list[int]) -> None:
    """Add the reports and take back every seventh; `told` is how far it came."""
    for seq, (report, terms) in held.items():
        finder.add(seq, report, terms)
        if seq % 7 == 0:
            finder.remove(report)
        told[0] = seq
        if seq % 100 == 0:
            time.sleep(0.005)  # the others' turn


def test_searches_beside_additions_removals_and_tidying() -> None:
    held = numbered([(make_id(20_000 - n), ("w:a", f"w:{n % 50}")) for n in range(3000)])
    finder, told = Finder(sliced_from=500), [0]
    faults: list[object] = []
    looks: list[int] = []

    def look() -> None:
        while told[0] < len(held):
            looks.append(told[0])
            faults.extend(faults_of(finder, told[0]))

    def tidy() -> None:
        while told[0] < len(held):
            finder.tidy()

    with ThreadPoolExecutor(3) as threads:
        done = [threads.submit(work) for work in (look, look, tidy)]
        come_and_go(finder, held, told)
        for each in done:
            each.result(60)
    assert faults == []
    assert len(set(looks)) > 5
    assert len(finder) == 3000 - 3000 // 7
