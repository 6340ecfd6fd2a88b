"""The candidates of a question: by weight, then by id, however the reports came in."""

from collections.abc import Mapping, Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.evidence.case import Case, Seen
from mendpool.index.postings import Postings

from tests.factories import make_case, make_id

TERMS = ("s:no-output", "s:noise", "w:dead", "w:hums", "w:rain", "c:avr")


def cases_with(*terms: Sequence[str]) -> list[Case]:
    return [
        make_case(id=str(make_id(500 + number)), terms=tuple(held))
        for number, held in enumerate(terms)
    ]


def holding(cases: Sequence[Case], gone: Sequence[str] = ()) -> Postings:
    postings = Postings()
    for case in cases:
        postings.add(case)
    for report in gone:
        postings.remove(report)
    return postings


def found(postings: Postings, weights: Mapping[str, int], limit: int = 300) -> list[str]:
    return [case.id for case in postings.search(weights, limit)]


def by_hand(cases: Sequence[Case], weights: Mapping[str, int], limit: int) -> list[str]:
    scored = [(sum(weights.get(term, 0) for term in case.terms), case.id) for case in cases]
    return [i for s, i in sorted(scored, key=lambda pair: (-pair[0], pair[1])) if s > 0][:limit]


@st.composite
def pools(draw: st.DrawFn) -> list[Case]:
    held = st.lists(st.sampled_from(TERMS), max_size=4, unique=True)
    return cases_with(*draw(st.lists(held, max_size=15)))


weights_of = st.dictionaries(
    st.sampled_from([*TERMS, "w:never"]), st.integers(1, 100), max_size=5
)


@given(pools(), weights_of, st.integers(1, 20))
def test_it_finds_what_trying_every_case_finds(
    cases: list[Case], weights: dict[str, int], limit: int
) -> None:
    assert found(holding(cases), weights, limit) == by_hand(cases, weights, limit)


@given(pools(), weights_of, st.data())
def test_the_order_of_coming_and_of_going_is_no_matter(
    cases: list[Case], weights: dict[str, int], data: st.DataObject
) -> None:
    gone = (
        data.draw(st.lists(st.sampled_from([c.id for c in cases]), unique=True))
        if cases
        else []
    )
    left = [case for case in cases if case.id not in gone]
    shuffled = data.draw(st.permutations(cases))
    at_once = found(holding(left), weights)
    assert found(holding(shuffled, gone), weights) == at_once
    # Each withdrawn as soon as it came, between the others.
    mixed = Postings()
    for case in shuffled:
        mixed.add(case)
        if case.id in gone:
            mixed.remove(case.id)
    assert found(mixed, weights) == at_once
    # Asked between the comings: what was looked up before must not go stale.
    asked = Postings()
    for case in reversed(cases):
        asked.search(weights)
        asked.add(case)
    for report in gone:
        asked.remove(report)
        asked.search(weights)
    assert found(asked, weights) == at_once
    assert len(asked) == len(left)


def test_ties_are_broken_by_id() -> None:
    cases = cases_with(*[["w:dead"]] * 5)
    assert found(holding(cases[::-1]), {"w:dead": 7}) == sorted(case.id for case in cases)


@pytest.mark.parametrize("limit", [1, 2, 3, 4])
def test_a_tie_at_the_limit_is_broken_by_id_too(limit: int) -> None:
    cases = cases_with(["w:dead"], ["w:dead"], ["w:dead", "w:hums"], ["w:dead"])
    best = [cases[2].id, cases[0].id, cases[1].id, cases[3].id]
    assert found(holding(cases[::-1]), {"w:dead": 1, "w:hums": 1}, limit) == best[:limit]


def test_a_withdrawn_case_is_never_found_and_can_come_again() -> None:
    cases = cases_with(["w:dead"], ["w:dead", "w:hums"])
    postings = holding(cases)
    assert found(postings, {"w:dead": 1, "w:hums": 1}) == [cases[1].id, cases[0].id]
    postings.remove(cases[1].id)
    assert found(postings, {"w:dead": 1, "w:hums": 1}) == [cases[0].id]
    assert postings.get(cases[1].id) is None
    assert [case.id for case in postings.cases()] == [cases[0].id]
    postings.remove(cases[1].id)
    assert len(postings) == 1
    postings.add(cases[1])
    assert found(postings, {"w:hums": 1}) == [cases[1].id]


def test_the_same_report_twice_counts_once() -> None:
    (case,) = cases_with(["w:dead"])
    postings = holding([case, case])
    assert len(postings) == 1
    assert found(postings, {"w:dead": 1}) == [case.id]


def test_what_shares_no_term_is_not_found() -> None:
    postings = holding(cases_with(["w:dead"]))
    assert found(postings, {"w:hums": 5}) == []
    assert found(postings, {}) == []
    assert found(Postings(), {"w:dead": 1}) == []


def test_words_that_nobody_used_leave_nothing_behind() -> None:
    postings = holding(cases_with(["w:dead"]))
    for number in range(50):
        postings.search({f"w:never{number}": 3})
    assert len(postings._finder._names) == 1


def test_follow_ups_are_kept_in_the_order_of_their_months() -> None:
    (case,) = cases_with(["w:dead"])
    postings = holding([case])
    postings.follow_up(case.id, Seen(9, "returned"))
    postings.follow_up(case.id, Seen(3, "holding"))
    postings.follow_up("unknown", Seen(1, "holding"))
    held = postings.get(case.id)
    assert held is not None
    assert held.followups == (Seen(3, "holding"), Seen(9, "returned"))
