"""Reports that are copies of each other share one voice."""

from array import array
from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Sequence
from functools import partial
from typing import Generic, NamedTuple, TypeVar

import numpy as np

from mendpool.core.evidence.case import Case

ALIKE = 0.6
"""Jaccard share of terms above which two reports of one person count as copies."""

EXACT_LEAST, NEAR_LEAST = 4, 3
"""Terms a report must have to be taken for a copy of one in the same words, or in nearly."""

_FEW = 12
"""Groups of one person that are compared one by one: quicker than to look up which to."""

_MANY = 500
"""Groups of one person that are a crowd: to count all at once is quicker from here on."""

Term = TypeVar("Term", bound=Hashable)


class Said(NamedTuple, Generic[Term]):
    """What tells reports apart: in order, as a set, and the first few that sets alike share.

    The last is worked out when it is asked for: mostly nobody does.
    """

    telling: tuple[Term, ...]
    terms: frozenset[Term]
    first: Callable[[], tuple[Term, ...]]


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


def grouped(told: Iterable[tuple[int, Said[Term]]]) -> list[int]:
    """Return the group of each report, numbered as they are begun.

    Args:
        told: the person and what was said, in the order that decides who stands for a group.
    """
    places: list[int] = []
    begun = 0
    by_words: dict[tuple[Term, ...], int] = {}
    by_person: dict[int, _Person[Term]] = defaultdict(_Person)
    for person, said in told:
        same = by_words.get(said.telling) if len(said.telling) >= EXACT_LEAST else None
        if same is None:
            same = by_person[person].like(said)
        if same is None:
            same, begun = begun, begun + 1
            by_person[person].begin(same, said)
            by_words.setdefault(said.telling, same)
        places.append(same)
    return places


class _Person(Generic[Term]):
    """One person's groups, by the terms of the first report of each.

    A few are compared one by one. Of many only those can be alike that share a term among a
    report's first ones: of two sets with so large a share in common, each holds one of the
    other's first ones in any fixed order (prefix filtering: Bayardo, Ma and Srikant 2007).
    Of a crowd, as one member's import makes, the terms in common are counted in columns.
    """

    def __init__(self) -> None:
        self._crowd = _Crowd[Term]()
        self._groups: list[tuple[int, Said[Term]]] = []
        self._by_term: dict[Term, list[int]] = defaultdict(list)
        self._placed = 0  # how many groups `_by_term` knows

    def like(self, said: Said[Term]) -> int | None:
        """Return the earliest group that a report is nearly alike to."""
        if len(said.telling) < NEAR_LEAST:
            return None
        if len(self._groups) > _MANY:
            place = self._crowd.like(said.terms, self._groups)
            return None if place is None else self._groups[place][0]
        ours = said.terms
        size = len(ours)
        least, most = ALIKE * size, size / ALIKE + 1
        for group, theirs in self._near(said) if len(self._groups) > _FEW else self._groups:
            # So much longer or shorter can't be alike, whatever it says.
            if not least < len(theirs.terms) < most:
                continue
            shared = len(ours & theirs.terms)
            if shared > ALIKE * (size + len(theirs.terms) - shared):
                return group
        return None

    def begin(self, group: int, said: Said[Term]) -> None:
        """Add a group whose first report says this."""
        if len(said.telling) >= NEAR_LEAST:
            self._groups.append((group, said))

    def _near(self, said: Said[Term]) -> list[tuple[int, Said[Term]]]:
        for place in range(self._placed, len(self._groups)):
            for term in self._groups[place][1].first():
                self._by_term[term].append(place)
        self._placed = len(self._groups)
        near = {place for term in said.first() for place in self._by_term.get(term, ())}
        return [self._groups[place] for place in sorted(near)]


TELLING = ("w:", "c:", "r:")
"""Kinds of terms by which copies are known."""


def first_most(count: int) -> int:
    """Return how many first terms of so many must be looked at to miss no set alike."""
    # One more than the terms that may be missing; rounded up, which is only slower.
    return count - int(ALIKE * count) + 1


def _said(terms: tuple[str, ...]) -> Said[str]:
    """Work out what a report says."""
    telling = tuple([t for t in terms if t.startswith(TELLING)])
    held = frozenset(telling)
    return Said(telling, held, partial(_first, held))


def _first(terms: frozenset[str]) -> tuple[str, ...]:
    """Return enough of the terms that sets alike must share one of these.

    Long words first: they are the rarer ones, so that fewer groups are looked at.
    """
    ordered = sorted(terms, key=lambda term: (-len(term), term))
    return tuple(ordered[: first_most(len(terms))])


class _Crowd(Generic[Term]):
    """Many groups of one person: for each term those whose first report holds it."""

    def __init__(self) -> None:
        self._with: dict[Term, array[int]] = {}
        self._sizes = array("i")

    def like(
        self, terms: frozenset[Term], groups: Sequence[tuple[int, Said[Term]]]
    ) -> int | None:
        """Return the place of the earliest group that some terms are nearly alike to."""
        for _, said in groups[len(self._sizes) :]:
            for term in said.terms:
                self._with.setdefault(term, array("i")).append(len(self._sizes))
            self._sizes.append(len(said.terms))
        held = [np.frombuffer(self._with[t], np.intc) for t in terms if t in self._with]
        if not held:
            return None
        shared = np.bincount(np.concatenate(held), minlength=len(self._sizes))
        sizes = np.frombuffer(self._sizes, np.intc)
        alike = shared > ALIKE * (len(terms) + sizes - shared)
        first = int(alike.argmax())
        return first if alike[first] else None
