"""Reports that are copies of each other share one voice."""

from collections.abc import Iterable, Sequence

from mendpool.core.evidence.case import Case

ALIKE = 0.6
"""Jaccard share of terms above which two reports of one person count as copies."""


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
    by_words: dict[tuple[str, ...], list[Case]] = {}
    by_person: dict[int, list[list[Case]]] = {}
    for case in cases:
        telling = _telling(case)
        same = by_words.get(telling) if len(telling) >= 4 else None
        if same is None:
            same = next(
                (g for g in by_person.get(case.group, ()) if _alike(_telling(g[0]), telling)),
                None,
            )
        if same is None:
            same = []
            groups.append(same)
            by_person.setdefault(case.group, []).append(same)
            by_words.setdefault(telling, same)
        same.append(case)
    return groups


def _telling(case: Case) -> tuple[str, ...]:
    return tuple(t for t in case.terms if t.startswith(("w:", "c:", "r:")))


def _alike(ours: tuple[str, ...], theirs: tuple[str, ...]) -> bool:
    if len(ours) < 3 or len(theirs) < 3:
        return False
    a, b = set(ours), set(theirs)
    return len(a & b) > ALIKE * len(a | b)
