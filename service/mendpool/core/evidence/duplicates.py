"""Reports that are copies of each other share one voice."""

from collections import defaultdict
from collections.abc import Iterable, Sequence

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
        telling = _telling(case)
        same = by_words.get(telling) if len(telling) >= 4 else None
        if same is None:
            same = by_person[case.group].like(telling)
        if same is None:
            same = []
            groups.append(same)
            by_person[case.group].begin(same, telling)
            by_words.setdefault(telling, same)
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

    def like(self, telling: Telling) -> list[Case] | None:
        """Return the earliest group that a report is nearly alike to."""
        if len(telling) < 3:
            return None
        ours = frozenset(telling)
        near = {place for term in _first(ours) for place in self._by_term.get(term, ())}
        for place in sorted(near):
            group, theirs = self._groups[place]
            shared = len(ours & theirs)
            if shared > ALIKE * (len(ours) + len(theirs) - shared):
                return group
        return None

    def begin(self, group: list[Case], telling: Telling) -> None:
        """Add a group whose first report says this."""
        if len(telling) < 3:
            return
        terms = frozenset(telling)
        for term in _first(terms):
            self._by_term[term].append(len(self._groups))
        self._groups.append((group, terms))


def _first(terms: frozenset[str]) -> list[str]:
    """Return enough of the terms that sets alike must share one of these.

    Long words first: they are the rarer ones, so that fewer groups are looked at.
    """
    ordered = sorted(terms, key=lambda term: (-len(term), term))
    # One more than the terms that may be missing; rounded up, which is only slower.
    return ordered[: len(terms) - int(ALIKE * len(terms)) + 1]


def _telling(case: Case) -> Telling:
    return tuple(t for t in case.terms if t.startswith(("w:", "c:", "r:")))
