"""How often a fix works on sets of one family, the rest of the pool counting for some cases.

Most cells of fix by family hold one to five reports. Each is shrunk towards its class, and
that towards the pool, as strongly as the groups are alike: beta-binomial, the strength by
moments (methods, section 2).
"""

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from math import fsum
from typing import Any, NamedTuple

import numpy as np

from mendpool.core.evidence.bayes import Array
from mendpool.core.evidence.case import Case
from mendpool.core.evidence.intervals import shrunk_mean
from mendpool.core.evidence.ledger import WORKED, Block, Names, Numbers, ledger_of
from mendpool.core.evidence.sums import Sparse, Units, amount, nothing, units

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


class Rates:
    """Sums of what is known of each ``component action``.

    Things done together share the try and the credit. A set whose kind is not known counts
    for the pool, and for the levels that its known fields make up.

    Args:
        names: of the ledger.
        levels: fields of each level, coarse to fine.
    """

    def __init__(
        self, names: Mapping[str, Names], levels: Sequence[Sequence[str]] = LEVELS
    ) -> None:
        self._fixes = names["fix"].names
        kinds = [dict(json.loads(name)) for name in names["kind"].names]
        self._groups: list[list[str]] = []
        self._group_of_kind: list[Numbers] = []
        for fields in levels:
            told = [group_of(kind, fields) for kind in kinds]
            groups = sorted({group for group in told if group is not None})
            number = {group: place for place, group in enumerate(groups)}
            self._groups.append(groups)
            self._group_of_kind.append(
                np.array([-1 if g is None else number[g] for g in told], dtype=np.int64)
            )
        self._pool = nothing(), nothing()
        self._levels = [(nothing(), nothing()) for _ in levels]

    def add(self, block: Block, weight: Array) -> None:
        """Count the tries of a block, by what each report counts for."""
        done = block.ragged("done", "fix")
        owner, fix = done.owners, done.entries.astype(np.int64)
        _, deed, things = np.unique(
            (owner << 16) | block["deed"], return_inverse=True, return_counts=True
        )
        tried = units(weight[owner] / things[deed])
        worked = np.where(block["came"] & WORKED, tried, 0)
        self._pool = _more(self._pool, fix, worked, tried)
        for place, groups in enumerate(self._groups):
            group = self._group_of_kind[place][block["kind"][owner]]
            kept = group >= 0
            keys = fix[kept] * len(groups) + group[kept]
            self._levels[place] = _more(self._levels[place], keys, worked[kept], tried[kept])

    def rates(self) -> dict[str, FixRates]:
        """Return what is known of each fix that was tried."""
        levels: list[dict[int, dict[str, Counts]]] = []
        for groups, sums in zip(self._groups, self._levels, strict=True):
            by_fix: dict[int, dict[str, Counts]] = {}
            for key, counts in _told(sums):
                fix, group = divmod(key, len(groups))
                by_fix.setdefault(fix, {})[groups[group]] = counts
            levels.append(by_fix)
        found = {
            self._fixes[fix]: FixRates(
                pool, tuple(_level(dict(sorted(lv.get(fix, {}).items()))) for lv in levels)
            )
            for fix, pool in _told(self._pool)
        }
        return dict(sorted(found.items()))


def rates_of_fixes(
    cases: Iterable[Case],
    weights: Mapping[str, float],
    protections: frozenset[str] = frozenset(),
    levels: Sequence[Sequence[str]] = LEVELS,
) -> dict[str, FixRates]:
    """Return what is known of each fix from cases in any order, given what each counts for."""
    ledger = ledger_of(cases, protections)
    rates = Rates(ledger.names, levels)
    for block in ledger.blocks():
        ids = [name.decode() for name in block["id"].tolist()]
        rates.add(block, np.array([weights[name] for name in ids]))
    return rates.rates()


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


Both = tuple[Sparse, Sparse]
"""Units (worked, tried) under the same keys."""


def _more(sums: Both, keys: Numbers, worked: Units, tried: Units) -> Both:
    return sums[0] + Sparse.of(keys, worked), sums[1] + Sparse.of(keys, tried)


def _told(sums: Both) -> Iterator[tuple[int, Counts]]:
    for key, worked, tried in zip(
        sums[1].keys.tolist(), sums[0].sums.tolist(), sums[1].sums.tolist(), strict=True
    ):
        yield key, (amount(worked), amount(tried))
