"""What the pool teaches: a function of which reports are held, and of nothing else."""

import itertools
import json

from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.evidence.case import (
    Case,
    case_from_text,
    case_to_text,
)
from mendpool.core.evidence.duplicates import group_sizes, near_duplicates
from mendpool.core.evidence.fit import EMPTY_FIT, Fit, due, fit

from tests.factories import make_attempt, make_case, make_id, make_seen

PARTS = ("brushes", "avr", "capacitor", "fuel-filter")

WORDS = ("dim", "dead", "hums", "smells", "outlet", "kettle", "hot", "rain")

RESULTS = ("fixed", "no-change", "improved", "found-good", "part-no-good")


@st.composite
def pools(draw: st.DrawFn, most: int = 12) -> list[Case]:
    """Some cases of some people, no two of one id."""
    cases = []
    for number in range(draw(st.integers(1, most))):
        part = draw(st.sampled_from(PARTS))
        words = draw(st.lists(st.sampled_from(WORDS), max_size=5, unique=True))
        cases.append(
            make_case(
                id=str(make_id(9000 + number)),
                group=draw(st.integers(1, 4)),
                vouched=draw(st.booleans()),
                causes=(f"{part}/failed",) if draw(st.booleans()) else (),
                attempts=(make_attempt(part, result=draw(st.sampled_from(RESULTS))),),
                terms=("s:no-output", *(f"w:{word}" for word in words)),
                words=tuple(words),
                found=("residual-volts=low",) if draw(st.booleans()) else (),
                defeated=draw(st.booleans()),
            )
        )
    return cases


# --- a function of the set of reports


@given(pools(), st.randoms(use_true_random=False))
def test_reports_in_any_order_teach_the_same_bytes(cases: list[Case], random: object) -> None:
    other = list(cases)
    random.shuffle(other)  # type: ignore[attr-defined]
    assert fit(other).to_bytes() == fit(cases).to_bytes()


def test_every_order_of_five_reports_teaches_the_same_bytes() -> None:
    cases = [
        make_case(group=i % 2, terms=(f"w:{WORDS[i]}", "w:dead"), causes=(f"{part}/failed",))
        for i, part in enumerate((*PARTS, "brushes"))
    ]
    assert len({fit(order).to_bytes() for order in itertools.permutations(cases)}) == 1


def test_a_chain_of_copies_is_grouped_the_same_in_every_order() -> None:
    """The second is like the first and the third, which are not alike: who comes first?"""
    said = ("abcdefgh", "abcdefgi", "abcdefij")
    chain = [
        make_case(terms=tuple(f"w:{letter}" for letter in letters), causes=(f"{part}/failed",))
        for letters, part in zip(said, PARTS, strict=False)
    ]
    assert len({fit(order).to_bytes() for order in itertools.permutations(chain)}) == 1
    assert (
        len({len(near_duplicates(list(order))) for order in itertools.permutations(chain)}) == 2
    )


@given(pools())
def test_a_fit_comes_back_from_its_bytes(cases: list[Case]) -> None:
    made = fit(cases)
    assert Fit.from_bytes(made.to_bytes()) == made
    assert Fit.from_bytes(made.to_bytes()).to_bytes() == made.to_bytes()


def test_no_reports_teach_nothing() -> None:
    assert fit([]) == EMPTY_FIT


@given(pools(), st.data())
def test_a_withdrawn_report_leaves_no_trace(cases: list[Case], data: st.DataObject) -> None:
    gone = data.draw(st.sampled_from(cases))
    kept = [case for case in cases if case is not gone]
    assert (
        fit([case for case in cases if case.id != gone.id]).to_bytes() == fit(kept).to_bytes()
    )
    body = fit(kept).to_bytes()
    secret = gone._replace(words=("zebra",), terms=("w:zebra",))
    assert b"zebra" not in body
    assert b"zebra" in fit([*kept, secret]).to_bytes()


def test_no_one_is_named_and_nothing_is_said_of_one_person_alone() -> None:
    """Words of fewer than three people, and terms of a single report, stay out."""
    cases = [make_case(group=i, words=("surname",), terms=("w:surname",)) for i in (1, 2)]
    made = fit(cases)
    assert made.words == {}
    third = make_case(group=3, words=("surname",), terms=("w:surname",))
    assert fit([*cases, third]).words == {"surname": 3}
    alone = fit(
        [make_case(terms=("w:lonely", "w:dead")), make_case(terms=("w:dead",), group=2)]
    )
    assert "lonely" not in alone.words_of_cause
    assert "lonely" not in alone.word_count
    assert "dead" in alone.words_of_cause


# --- copies and floods


def test_copies_share_one_voice() -> None:
    terms = ("w:dead", "w:dim", "w:hums", "w:rain")
    cases = [make_case(terms=terms, group=g) for g in (1, 2, 3)]
    other = make_case(terms=("w:kettle", "w:hot", "w:smells", "w:outlet"), group=4)
    assert sorted(group_sizes([*cases, other]).values()) == [1, 3, 3, 3]


def test_one_persons_reports_that_are_nearly_alike_are_copies() -> None:
    first = make_case(terms=("w:a", "w:b", "w:c", "w:d"), group=1)
    nearly = make_case(terms=("w:a", "w:b", "w:c", "w:e"), group=1)
    apart = make_case(terms=("w:a", "w:x", "w:y", "w:z"), group=1)
    elses = make_case(terms=("w:a", "w:b", "w:c", "w:f"), group=2)
    groups = near_duplicates([first, nearly, apart, elses])
    # Three of five words are not above the bound of 0.6; four of five are.
    assert [len(g) for g in groups] == [1, 1, 1, 1]
    alike = nearly._replace(terms=("w:a", "w:b", "w:c", "w:d", "w:e"))
    assert [len(g) for g in near_duplicates([first, alike, apart, elses])] == [2, 1, 1]


def test_reports_that_hardly_say_anything_are_not_taken_for_copies() -> None:
    cases = [make_case(terms=("s:no-output", "w:dead"), group=g) for g in (1, 1, 2)]
    assert set(group_sizes(cases).values()) == {1}


def honest_pool() -> list[Case]:
    """Thirty repairs of ten people: brushes cured half of them, regulators the rest."""
    return [
        make_case(
            group=i % 10,
            terms=("s:no-output", f"w:{WORDS[i % 8]}", f"w:x{i}", f"w:y{i}", "w:dead"),
            causes=(f"{('brushes', 'avr')[i % 2]}/failed",),
            attempts=(make_attempt(("brushes", "avr")[i % 2]),),
        )
        for i in range(30)
    ]


def test_a_hundred_copies_of_one_account_move_little() -> None:
    honest = honest_pool()
    copies = [
        make_case(
            group=99,
            terms=("s:no-output", "w:miracle", "w:fluid", "w:rings", "w:dead"),
            causes=("capacitor/failed",),
            attempts=(make_attempt("capacitor"),),
        )
        for _ in range(100)
    ]
    before, after = fit(honest), fit([*honest, *copies])
    flood = after.cause_total["capacitor/failed"]
    assert flood <= 1.0
    assert flood <= 0.05 * sum(after.cause_total.values())
    assert after.fixes["capacitor replace"].pool[1] <= 1.0
    assert after.cause_total["brushes/failed"] == before.cause_total["brushes/failed"]
    # The words of the flood are rare to none; the others keep most of their weight.
    for term, weight in before.weights.items():
        assert after.weights[term] >= 0.5 * weight


def test_one_account_with_many_different_reports_counts_less_than_as_many_people() -> None:
    def pool(groups: list[int]) -> float:
        cases = [
            make_case(group=g, terms=tuple(f"w:{letter}{i}" for letter in "abcd"))
            for i, g in enumerate(groups)
        ]
        return fit(cases).cause_total["brushes/worn"]

    assert pool([1] * 40) < 0.6 * pool(list(range(40)))


def test_an_account_nobody_vouched_for_counts_less() -> None:
    known = fit([make_case(vouched=True)]).cause_total["brushes/worn"]
    assert fit([make_case(vouched=False)]).cause_total["brushes/worn"] < 0.5 * known


def test_a_cause_that_is_mostly_one_members_is_known_for_it() -> None:
    of_many = [make_case(group=i, causes=("avr/failed",)) for i in range(20)]
    of_one = [make_case(group=99, causes=("brushes/worn",)) for _ in range(12)]
    of_new = [make_case(group=i, vouched=False, causes=("rcd/failed",)) for i in range(11)]
    few = [make_case(group=99, causes=("rcd/tripped",)) for _ in range(9)]
    assert fit([*of_many, *of_one, *of_new, *few]).crowded == {
        "brushes/worn": "one",
        "rcd/failed": "new",
    }
    shared = [make_case(group=i, causes=("brushes/worn",)) for i in range(12)]
    assert fit([*of_one, *shared]).crowded == {}


# --- when another fit is due, and what a case is stored as


def test_the_first_report_calls_for_a_fit_and_then_every_twentieth_part() -> None:
    assert due(1, 0)
    assert not due(0, 0)
    assert not due(64, 1)
    assert due(65, 1)
    assert not due(10_499, 10_000)
    assert due(10_500, 10_000)


def test_a_case_comes_back_from_its_text() -> None:
    case = make_case(
        group=7, vouched=False, followups=(make_seen(),), found=("residual-volts=low",),
        attempts=(make_attempt(failure="worn", shared=2, cost=3.5),),
    )  # fmt: skip
    text = case_to_text(case)
    assert case_from_text(text, group=7, vouched=False, followups=(make_seen(),)) == case
    assert not {"group", "vouched", "followups"} & set(json.loads(text))
