"""Two fixes compared within kinds of set: pooled counts can turn their order round.

Simpson's paradox: the better of two looks worse when it is mostly tried on the hard cases.
"""

from collections.abc import Mapping
from math import fsum

Strata = Mapping[str, tuple[float, float]]
"""(worked, tried) by kind of set."""


def crude_rate(strata: Strata) -> float | None:
    """Return worked over tried, kinds thrown together; None if it was never tried."""
    tried = fsum(n for _, n in strata.values())
    return fsum(k for k, _ in strata.values()) / tried if tried > 0 else None


def standardised_rate(strata: Strata, mix: Mapping[str, float]) -> float | None:
    """Return the rate that a fix would have on sets of a given mix of kinds.

    Args:
        strata: counts of the fix.
        mix: how common each kind is among the asker's sets, any scale; one kind alone where
            it is known.

    Returns:
        None unless it was tried on every kind of the mix: nothing is made up for a kind.

    Source:
        Direct standardisation; Charig et al., BMJ 292:879 (1986), reworked.
    """
    wanted = {kind: share for kind, share in mix.items() if share > 0}
    total = fsum(wanted.values())
    if total <= 0 or any(strata.get(kind, (0.0, 0.0))[1] <= 0 for kind in wanted):
        return None
    return (
        fsum(share * strata[kind][0] / strata[kind][1] for kind, share in wanted.items())
        / total
    )


def orders_disagree(a: Strata, b: Strata, mix: Mapping[str, float]) -> bool:
    """Tell whether one fix is the better within the mix and the other one in the heap.

    Where it holds, the crude rates must not be shown side by side as if they compared.
    """
    crude, fair = (
        (crude_rate(a), crude_rate(b)),
        (
            standardised_rate(a, mix),
            standardised_rate(b, mix),
        ),
    )
    if crude[0] is None or crude[1] is None or fair[0] is None or fair[1] is None:
        return False
    return (crude[0] - crude[1]) * (fair[0] - fair[1]) < 0


def mix_of(*fixes: Strata) -> dict[str, float]:
    """Return how common each kind is among all the tries of these fixes."""
    kinds = sorted({kind for strata in fixes for kind in strata})
    return {kind: fsum(s.get(kind, (0.0, 0.0))[1] for s in fixes) for kind in kinds}
