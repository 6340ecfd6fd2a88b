"""Groups of near-duplicates, case by case as `duplicates.grouped` defines them.

What the code does for a question and for a whole pool at once is compared with this.
"""

from collections.abc import Iterable, Sequence
from functools import partial

from mendpool.core.evidence.case import Case
from mendpool.core.evidence.duplicates import TELLING, Said, first_most, grouped


def group_sizes(cases: Iterable[Case]) -> dict[str, int]:
    """Return for each case how many near-duplicates its group holds, itself included."""
    sizes: dict[str, int] = {}
    for group in near_duplicates(list(cases)):
        for case in group:
            sizes[case.id] = len(group)
    return sizes


def near_duplicates(cases: Sequence[Case]) -> list[list[Case]]:
    """Group the copies: exactly alike in words by anyone, nearly alike by one person.

    Cases are taken in the order given; the first of a group stands for it.
    """
    groups: list[list[Case]] = []
    for case, place in zip(
        cases, grouped((case.group, _said(case.terms)) for case in cases), strict=True
    ):
        if place == len(groups):
            groups.append([])
        groups[place].append(case)
    return groups


def _said(terms: tuple[str, ...]) -> Said[str]:
    """Work out what a report says; it never changes, and comes up in many questions."""
    telling = tuple([t for t in terms if t.startswith(TELLING)])
    held = frozenset(telling)
    return Said(telling, held, partial(_first, held))


def _first(terms: frozenset[str]) -> tuple[str, ...]:
    """Return enough of the terms that sets alike must share one of these.

    Long words first: they are the rarer ones, so that fewer groups are looked at.
    """
    ordered = sorted(terms, key=lambda term: (-len(term), term))
    return tuple(ordered[: first_most(len(terms))])
