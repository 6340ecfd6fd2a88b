"""How often a fix works on sets of one family, the rest of the pool counting for some cases.

Most cells of fix by family hold one to five reports. Each is shrunk towards its class, and
that towards the pool, as strongly as the groups are alike: beta-binomial, the strength by
moments (methods, section 2).
"""

from collections.abc import Iterable, Mapping, Sequence
from math import fsum
from typing import Any, NamedTuple

from mendpool.core.evidence.attempts import proof_of
from mendpool.core.evidence.case import Case
from mendpool.core.evidence.intervals import shrunk_mean

Counts = tuple[float, float]
"""Weighted (worked, tried)."""

LEVELS: tuple[tuple[str, ...], ...] = (("excitation",), ("fuel", "excitation"))
"""Fields that make a class of sets, and a family in it: coarse to fine."""

STRENGTH_LEAST, STRENGTH_MOST = 2.0, 20.0
STRENGTH_UNKNOWN = 10.0
"""Pseudo-tries where the groups do not tell how alike they are (methods, section 2)."""

MEAN_UNKNOWN, MEAN_STRENGTH = 0.5, 2.0
"""What is expected of a fix that nobody has tried, and for how many tries that counts."""

_STEPS = 20


class Level(NamedTuple):
    """One way of grouping the sets: how alike the groups are, in tries, and their counts."""

    strength: float
    groups: Mapping[str, Counts]


class FixRates(NamedTuple):
    """What is known of one fix: over the pool, and by group, coarse to fine."""

    pool: Counts
    levels: tuple[Level, ...]

    @classmethod
    def from_lists(cls, raw: Sequence[Any]) -> "FixRates":
        """Read back what JSON has made lists of."""
        pool, levels = raw
        return cls(
            (pool[0], pool[1]),
            tuple(
                Level(strength, {name: (pair[0], pair[1]) for name, pair in groups.items()})
                for strength, groups in levels
            ),
        )


def rates_of_fixes(
    cases: Iterable[Case],
    weights: Mapping[str, float],
    protections: frozenset[str] = frozenset(),
    levels: Sequence[Sequence[str]] = LEVELS,
) -> dict[str, FixRates]:
    """Return what is known of each ``component action``; the same in any order of the cases.

    Things done together share the try and the credit. A set whose kind is not known counts
    for the pool, and for the levels that its known fields make up.

    Args:
        cases: any.
        weights: by case id.
        protections: codes of components whose removal is a get-by.
        levels: fields of each level, coarse to fine.
    """
    pool: dict[str, list[Counts]] = {}
    groups: dict[str, list[dict[str, list[Counts]]]] = {}
    for case in sorted(cases, key=lambda c: c.id):
        names = [group_of(case.kind, fields) for fields in levels]
        for done in proof_of(case, protections).done:
            credit = weights[case.id] / len(done.fixes)
            counts = (credit if done.worked else 0.0, credit)
            for component, action in done.fixes:
                key = f"{component} {action}"
                pool.setdefault(key, []).append(counts)
                by_level = groups.setdefault(key, [{} for _ in levels])
                for name, level in zip(names, by_level, strict=True):
                    if name is not None:
                        level.setdefault(name, []).append(counts)
    return {
        key: FixRates(
            _sum(pool[key]),
            tuple(_level({n: _sum(c) for n, c in sorted(lv.items())}) for lv in groups[key]),
        )
        for key in sorted(pool)
    }


def group_of(kind: Mapping[str, str | int], fields: Sequence[str]) -> str | None:
    """Return the name of the group a set is in, None where one of the fields is not known."""
    values = [kind.get(field) for field in fields]
    return None if None in values else " ".join(map(str, values))


def expected_rate(
    rates: FixRates | None,
    kind: Mapping[str, str | int],
    levels: Sequence[Sequence[str]] = LEVELS,
) -> tuple[float, float]:
    """Return the mean to shrink a set's own counts towards, and for how many tries it counts.

    Each group is held to the rest of what it is part of, itself left out, so that nothing is
    counted twice on the way down.

    Args:
        rates: of the fix; None where nobody tried it.
        kind: the asker's set.
        levels: as the rates were made with.
    """
    if rates is None:
        return MEAN_UNKNOWN, STRENGTH_UNKNOWN
    chain = [(MEAN_STRENGTH, rates.pool)]
    for level, fields in zip(rates.levels, levels, strict=True):
        name = group_of(kind, fields)
        if name is None:
            break
        chain.append((level.strength, level.groups.get(name, (0.0, 0.0))))
    mean = MEAN_UNKNOWN
    for place, (strength, (worked, tried)) in enumerate(chain):
        inner = chain[place + 1][1] if place + 1 < len(chain) else (0.0, 0.0)
        rest = max(0.0, tried - inner[1])
        mean = shrunk_mean(min(max(0.0, worked - inner[0]), rest), rest, mean, strength)
    last = chain[-1][0] if len(chain) > 1 else STRENGTH_UNKNOWN
    return mean, last


def strength_by_moments(groups: Iterable[Counts]) -> float:
    """Return how many tries the mean of the groups counts for in each of them.

    The moments of the beta-binomial with weights n ÷ (1 + (n - 1) rho), found again until
    they rest; 2 to 20 tries, and 10 where one group or single tries tell no spread.

    Args:
        groups: (worked, tried) of each; counts may be weighted sums.

    Source:
        Kleinman, J. Am. Stat. Assoc. 68:46 (1973).
    """
    held = [(worked / tried, tried) for worked, tried in groups if tried > 0]
    if len(held) < 2 or all(tried <= 1 for _, tried in held):
        return STRENGTH_UNKNOWN
    rho = 0.0
    for _ in range(_STEPS):
        found = _alike(held, [n / (1 + max(0.0, n - 1) * rho) for _, n in held])
        if found is None:
            return STRENGTH_UNKNOWN
        if abs(found - rho) < 1e-9:
            break
        rho = found
    strength = 1 / rho - 1 if rho > 0 else STRENGTH_MOST
    return min(max(strength, STRENGTH_LEAST), STRENGTH_MOST)


def _alike(held: Sequence[tuple[float, float]], weights: Sequence[float]) -> float | None:
    """Kleinman's correlation of two tries in one group; None where nothing varies."""
    total = fsum(weights)
    mean = fsum(w * p for w, (p, _) in zip(weights, held, strict=True)) / total
    spread = fsum(w * (p - mean) ** 2 for w, (p, _) in zip(weights, held, strict=True))
    by_luck = fsum(w / n * (1 - w / total) for w, (_, n) in zip(weights, held, strict=True))
    most = fsum(w * (1 - w / total) for w in weights)
    single = mean * (1 - mean)
    room = single * (most - by_luck)
    if single <= 0 or room <= 1e-12:
        return None
    return min(max((spread - single * by_luck) / room, 0.0), 1.0)


def _level(groups: Mapping[str, Counts]) -> Level:
    return Level(round(strength_by_moments(groups.values()), 6), groups)


def _sum(counts: Sequence[Counts]) -> Counts:
    return round(fsum(c[0] for c in counts), 6), round(fsum(c[1] for c in counts), 6)
