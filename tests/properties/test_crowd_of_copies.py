"""One person's many reports are grouped as if each were compared with each (Jaccard 1912)."""

from unittest.mock import patch

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.evidence import duplicates
from mendpool.core.evidence.duplicates import ALIKE, EXACT_LEAST, NEAR_LEAST, Said, grouped

REPORTS = st.lists(
    st.tuples(
        st.integers(0, 1), st.lists(st.integers(0, 9), max_size=9, unique=True).map(tuple)
    ),
    max_size=40,
)


def said(terms: tuple[int, ...]) -> Said[int]:
    return Said(terms, frozenset(terms), lambda: tuple(sorted(terms)))


def one_by_one(told: list[tuple[int, tuple[int, ...]]]) -> list[int]:
    """The rule as it is written down, with nothing looked up."""
    begun: list[tuple[int, tuple[int, ...]]] = []
    places = []
    for person, terms in told:
        place = next(
            (n for n, (_, t) in enumerate(begun) if t == terms and len(t) >= EXACT_LEAST), None
        )
        if place is None and len(terms) >= NEAR_LEAST:
            for n, (who, others) in enumerate(begun):
                shared = len({*terms} & {*others})
                whole = len({*terms} | {*others})
                if who == person and len(others) >= NEAR_LEAST and shared > ALIKE * whole:
                    place = n
                    break
        if place is None:
            place = len(begun)
            begun.append((person, terms))
        places.append(place)
    return places


@pytest.mark.parametrize(("few", "many"), [(12, 500), (0, 500), (0, 0), (2, 5)])
@given(told=REPORTS)
def test_few_many_and_a_crowd_are_grouped_alike(
    few: int, many: int, told: list[tuple[int, tuple[int, ...]]]
) -> None:
    with patch.object(duplicates, "_FEW", few), patch.object(duplicates, "_MANY", many):
        found = grouped([(person, said(terms)) for person, terms in told])
    assert found == one_by_one(told)
