"""How much each report counts: likeness, and that one person is not many."""

from collections.abc import Mapping, Sequence
from math import fsum

from mendpool.core.evidence.case import Case

SAME_PERSON = 0.3
"""Correlation of reports by one person: nobody's weight passes 1 / 0.3 (decision D2 of the
methods: exchangeable reports, generalised least squares)."""

NEW_ACCOUNT = 0.3
"""Factor for an account nobody vouched for yet."""


def contributor_factor(mass: float) -> float:
    """Return the factor for each report of someone whose reports weigh `mass` in all."""
    return 1.0 / (1.0 + max(0.0, mass - 1.0) * SAME_PERSON)


def weigh(cases: Sequence[Case], likeness: Mapping[str, float]) -> dict[str, float]:
    """Return each case's weight: likeness × contributor factor × account factor.

    Args:
        cases: the candidates, one slot for each group of near-duplicates already.
        likeness: by case id, 0 to 1.
    """
    masses: dict[int, list[float]] = {}
    for case in cases:
        masses.setdefault(case.group, []).append(likeness[case.id])
    factors = {group: contributor_factor(fsum(values)) for group, values in masses.items()}
    return {
        case.id: likeness[case.id]
        * factors[case.group]
        * (1.0 if case.vouched else NEW_ACCOUNT)
        for case in cases
    }
