"""What the attempts of a case prove: what was done, whether it then ran, what was found."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from mendpool.core.evidence.case import Case, Tried
from mendpool.core.evidence.getting_by import only_gets_by

Fix = tuple[str, str]
"""A component and an action."""


_TRIED = frozenset({"fixed", "improved", "no-change", "worse"})


class Done(NamedTuple):
    """Things done before the set was run again, and what it then did.

    Args:
        fixes: what was done together, mostly one thing.
        worked: whether it then ran.
        better: whether it ran better, though it was not cured.
    """

    fixes: tuple[Fix, ...]
    worked: bool
    better: bool


class Proof(NamedTuple):
    """What a case's attempts prove of its cause.

    Args:
        done: the tries of repairs, in order.
        good: components that were found good.
        bad: components that were found bad.
    """

    done: tuple[Done, ...]
    good: tuple[str, ...]
    bad: tuple[str, ...]


def proof_of(case: Case, protections: frozenset[str]) -> Proof:
    """Return what a case's attempts prove.

    A part found good is no failed repair, and a new part that was no good proves nothing. A
    get-by is never a fix, and neither is anything done to a set that was left with a
    protection defeated; what was found by looking holds all the same.

    Args:
        case: any case.
        protections: codes of components whose removal is a get-by.
    """
    done: list[Done] = []
    for together in _together(case.attempts):
        tries = [a for a in together if is_try(a) and not gets_by(case, a, protections)]
        if tries:
            results = {a.result for a in tries}
            fixes = dict.fromkeys((a.component, a.action) for a in tries)
            done.append(Done(tuple(fixes), "fixed" in results, "improved" in results))
    found = {
        result: tuple(dict.fromkeys(a.component for a in case.attempts if a.result == result))
        for result in ("found-good", "found-bad")
    }
    return Proof(tuple(done), found["found-good"], found["found-bad"])


def is_try(attempt: Tried) -> bool:
    """Tell whether an attempt counts as a try of a repair.

    A test changes nothing, whatever came of it; a part that was found good is no failed
    repair, and a dead new part does not count against its cause.
    """
    return attempt.result in _TRIED and attempt.action != "test"


class Try(NamedTuple):
    """A try of a repair: the case, its attempt, what the case weighs, and whether it cured."""

    case: Case
    attempt: Tried
    weight: float
    cured: bool


def tries_of(cases: Iterable[tuple[Case, float]], protections: frozenset[str]) -> list[Try]:
    """Return every try over the cases, in order; what only gets a set by is none.

    Args:
        cases: with their weights.
        protections: codes of components whose removal is a get-by.
    """
    return [
        Try(case, attempt, weight, attempt.result == "fixed")
        for case, weight in cases
        if not case.defeated  # all of it is a get-by
        for attempt in case.attempts
        if is_try(attempt) and not only_gets_by(attempt.component, attempt.action, protections)
    ]


def gets_by(case: Case, attempt: Tried, protections: frozenset[str]) -> bool:
    """Tell whether an attempt may be shown under get-bys only, whatever came of it."""
    return case.defeated or only_gets_by(attempt.component, attempt.action, protections)


def _together(attempts: Sequence[Tried]) -> list[tuple[Tried, ...]]:
    """Split the attempts where the set was run; `shared` of each tells how many went before."""
    groups: list[tuple[Tried, ...]] = []
    at = 0
    while at < len(attempts):
        size = max(1, attempts[at].shared)
        groups.append(tuple(attempts[at : at + size]))
        at += size
    return groups
