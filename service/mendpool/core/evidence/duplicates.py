"""Reports that are copies of each other share one voice."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

from mendpool.core.evidence.case import Case

ALIKE = 0.6
"""Jaccard share of terms above which two reports of one person count as copies."""

Telling = tuple[str, ...]


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
    by_words: dict[Telling, list[Case]] = {}
    by_person: dict[int, _Person] = defaultdict(_Person)
    for case in cases:
        said = _said(case.terms)
        same = by_words.get(said.telling) if len(said.telling) >= 4 else None
        if same is None:
            same = by_person[case.group].like(said)
        if same is None:
            same = []
            groups.append(same)
            by_person[case.group].begin(same, said)
            by_words.setdefault(said.telling, same)
        same.append(case)
    return groups


class _Person:
    """One person's groups, by the terms of the first report of each.

    Only groups that share a term among a report's first few can be alike: of two sets with
    so large a share in common, each holds one of the other's first ones in any fixed order
    (prefix filtering: Bayardo, Ma and Srikant 2007). So a person's reports are not all
    compared with each other.
    """

    def __init__(self) -> None:
        self._groups: list[tuple[list[Case], frozenset[str]]] = []
        self._by_term: dict[str, list[int]] = defaultdict(list)

    def like(self, said: "_Said") -> list[Case] | None:
        """Return the earliest group that a report is nearly alike to."""
        if len(said.telling) < 3:
            return None
        near = {place for term in said.first for place in self._by_term.get(term, ())}
        for place in sorted(near):
            group, theirs = self._groups[place]
            shared = len(said.terms & theirs)
            if shared > ALIKE * (len(said.terms) + len(theirs) - shared):
                return group
        return None

    def begin(self, group: list[Case], said: "_Said") -> None:
        """Add a group whose first report says this."""
        if len(said.telling) < 3:
            return
        for term in said.first:
            self._by_term[term].append(len(self._groups))
        self._groups.append((group, said.terms))


class _Said(NamedTuple):
    """What tells reports apart: in order, as a set, and the first few that sets alike share."""

    telling: Telling
    terms: frozenset[str]
    first: tuple[str, ...]


@lru_cache(maxsize=50_000)
def _said(terms: Telling) -> _Said:
    """Work out what a report says; it never changes, and comes up in many questions."""
    telling = tuple(t for t in terms if t.startswith(("w:", "c:", "r:")))
    held = frozenset(telling)
    return _Said(telling, held, _first(held))


def _first(terms: frozenset[str]) -> tuple[str, ...]:
    """Return enough of the terms that sets alike must share one of these.

    Long words first: they are the rarer ones, so that fewer groups are looked at.
    """
    ordered = sorted(terms, key=lambda term: (-len(term), term))
    # One more than the terms that may be missing; rounded up, which is only slower.
    return tuple(ordered[: len(terms) - int(ALIKE * len(terms)) + 1])
