"""P(works | cause) of every fix that can be done: the catalogue, and what was seen of it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import compress
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mendpool.core.catalogue.admits import admits
from mendpool.core.diagnosis.beliefs import Beliefs, cure_of
from mendpool.core.diagnosis.knowledge import Array, Knowledge
from mendpool.core.evidence.attempts import Try
from mendpool.core.record.machine import Machine

Fix = tuple[str, str]
"""A component and an action."""

Places = NDArray[np.intp]

_SUREST = 0.99
_PSEUDO_TRIES = 8.0


@dataclass(frozen=True, slots=True, eq=False)
class Cures:
    """P(works | cause), an entry for each fix and each cause that it may cure.

    Args:
        fixes: in their order, each with an entry at least.
        which: the place of the fix of each entry, ascending.
        rows: of the causes, ascending for each fix.
        works: the probabilities.
    """

    fixes: tuple[Fix, ...]
    which: Places
    rows: Places
    works: Array

    def __len__(self) -> int:
        return len(self.fixes)

    def of(self, fix: Fix) -> dict[int, float]:
        """Return P(works | cause) of one fix by cause; empty where it is none of these."""
        if fix not in self.fixes:
            return {}
        here = self.which == self.fixes.index(fix)
        return dict(zip(self.rows[here].tolist(), self.works[here].tolist(), strict=True))

    def chances(self, belief: Array) -> Array:
        """Return the chance that each fix cures, by what is believed of every cause."""
        gained = belief[self.rows] * self.works
        return np.bincount(self.which, gained, minlength=len(self.fixes)).astype(np.float64)

    def table(self, causes: int) -> Array:
        """Return them with fixes in rows and so many causes in columns."""
        table = np.zeros((len(self.fixes), causes))
        table[self.which, self.rows] = self.works
        return table


def chances(
    beliefs: Beliefs,
    knowledge: Knowledge,
    tries: Iterable[Try],
    machine: Machine | None = None,
) -> Cures:
    """Return P(works | cause) of each remedy: catalogue plus what was seen.

    Eight pseudo-tries of the catalogue against weighted tries on repairs with that cause.

    Args:
        beliefs: only causes that can be have entries.
        knowledge: the catalogue as arrays.
        tries: of past cases.
        machine: the set; left out is what is written for other kinds only.
    """
    written = _written(knowledge)
    keep = beliefs.probability[written.rows] > 0
    if machine is not None:
        keep &= _admitted(knowledge, knowledge.kind_key(machine))
    works, more = written.works.copy(), list[tuple[Fix, int, float]]()
    for (component, action, row), (worked, tried) in _seen_by_cause(knowledge, tries).items():
        expected = cure_of(knowledge, row, action)
        q = min((_PSEUDO_TRIES * expected + worked) / (_PSEUDO_TRIES + tried), _SUREST)
        entry = written.entry.get(((component, action), row))
        if entry is None:
            more.append(((component, action), row, q))
        else:
            works[entry] = q
    more = [one for one in more if beliefs.probability[one[1]] > 0]
    kept = (written.which[keep], written.rows[keep], works[keep])
    return _told(written.fixes, *kept, more)


class _Written(NamedTuple):
    """What the catalogue expects, as `Cures` has it, and the entry of each fix and cause."""

    fixes: tuple[Fix, ...]
    which: Places
    rows: Places
    works: Array
    entry: Mapping[tuple[Fix, int], int]


@lru_cache(maxsize=4)
def _written(knowledge: Knowledge) -> _Written:
    told = sorted({(fix, row) for fix, ways in knowledge.remedies.items() for row, _ in ways})
    fixes = sorted(knowledge.remedies)
    place = {fix: i for i, fix in enumerate(fixes)}
    works = [min(cure_of(knowledge, row, action), _SUREST) for (_, action), row in told]
    return _Written(
        tuple(fixes),
        np.array([place[fix] for fix, _ in told], dtype=np.intp),
        np.array([row for _, row in told], dtype=np.intp),
        np.array(works),
        {key: i for i, key in enumerate(told)},
    )


@lru_cache(maxsize=1024)
def _admitted(knowledge: Knowledge, kind: tuple[str | int | None, ...]) -> NDArray[np.bool_]:
    """Return of each entry of what is written whether it is for this kind of set."""
    machine = knowledge.machine_of(kind)
    return np.array(
        [
            any(
                admits(remedy.only, machine)
                for remedy in knowledge.causes[row].remedies
                if remedy.action == action
            )
            for (_, action), row in _written(knowledge).entry
        ],
        dtype=bool,
    )


def _told(
    fixes: tuple[Fix, ...],
    which: Places,
    rows: Places,
    works: Array,
    more: Sequence[tuple[Fix, int, float]],
) -> Cures:
    """Return the entries in order, with some more, and only the fixes that have any."""
    if more:
        # What somebody did and the catalogue does not write of that cause.
        known = sorted({*fixes, *(fix for fix, _, _ in more)})
        place = {fix: i for i, fix in enumerate(known)}
        which = np.array([place[fix] for fix in fixes], dtype=np.intp)[which]
        which = np.append(which, [place[fix] for fix, _, _ in more])
        rows = np.append(rows, [row for _, row, _ in more])
        works = np.append(works, [q for _, _, q in more])
        order = np.lexsort((rows, which))
        fixes, which, rows, works = tuple(known), which[order], rows[order], works[order]
    there = np.bincount(which, minlength=len(fixes)) > 0
    number = np.cumsum(there) - 1
    return Cures(tuple(compress(fixes, there.tolist())), number[which], rows, works)


def _seen_by_cause(
    knowledge: Knowledge, tries: Iterable[Try]
) -> dict[tuple[str, str, int], tuple[float, float]]:
    """Weighted (worked, tried) of each fix on repairs whose cause is known, by cause."""
    seen: dict[tuple[str, str, int], tuple[float, float]] = {}
    for case, attempt, weight, cured in tries:
        for cause in case.causes:
            row = knowledge.row.get(cause)
            if row is None or knowledge.causes[row].component != attempt.component:
                continue
            key = (attempt.component, attempt.action, row)
            worked, tried = seen.get(key, (0.0, 0.0))
            credit = weight / attempt.shared
            seen[key] = (worked + credit if cured else worked, tried + credit)
    return seen
