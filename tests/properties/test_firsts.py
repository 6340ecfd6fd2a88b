"""Copies are told apart the same way for one question as for a whole pool."""

from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.evidence.candidates import Candidates
from mendpool.core.evidence.case import Case
from mendpool.core.evidence.duplicates import near_duplicates
from mendpool.core.evidence.firsts import firsts

WORDS = [f"{kind}:{letter}" for kind in ("w", "c", "r", "s", "k") for letter in "abcdefg"]


def case(number: int, person: int, terms: list[str]) -> Case:
    return Case(
        f"{number:04d}", person, True, {}, tuple(terms), (), (), (), (), (), "fixed", False, ()
    )


CASES = st.lists(
    st.tuples(st.integers(0, 3), st.lists(st.sampled_from(WORDS), unique=True, max_size=12)),
    max_size=30,
)


@given(CASES, st.randoms(use_true_random=False))
def test_those_that_stand_for_themselves_are_the_first_of_each_group(
    told: list[tuple[int, list[str]]], random: object
) -> None:
    cases = [case(number, *one) for number, one in enumerate(told)]
    held = Candidates.of(cases)
    order = list(range(len(cases)))
    random.shuffle(order)  # type: ignore[attr-defined]
    order = order[: len(order) * 2 // 3 + 1]
    wanted = [group[0].id for group in near_duplicates([cases[place] for place in order])]
    assert [cases[place].id for place in firsts(held, order)] == wanted


def test_what_was_said_in_the_same_words_stands_once_whoever_said_it() -> None:
    terms = ["w:a", "w:b", "w:c", "w:d"]
    cases = [case(0, 1, terms), case(1, 2, terms), case(2, 2, [*terms[:3], "w:e", "w:f"])]
    assert firsts(Candidates.of(cases), [0, 1, 2]) == [0, 2]
    assert firsts(Candidates.of(cases), [1, 0, 2]) == [1, 2]


def test_one_person_in_nearly_the_same_words_stands_once() -> None:
    terms = ["w:a", "w:b", "w:c", "w:d", "w:e"]
    cases = [
        case(0, 1, terms),
        case(1, 1, [*terms[:4], "w:f"]),
        case(2, 2, [*terms[:4], "w:g"]),
    ]
    assert firsts(Candidates.of(cases), [0, 1, 2]) == [0, 2]
