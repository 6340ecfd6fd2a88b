"""What all reports say together, as plain counts: what failed on which sets, what then held.

Counted once for many questions. Nothing of it is weighed by likeness; who sent much counts for
less only where a share is asked for.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mendpool.core.evidence.case import Case, components_at_fault, cured_by
from mendpool.core.evidence.durability import Watched, watched

Column = NDArray[Any]
Fix = tuple[str, str]
"""A component and an action."""

_HEALTHY = "well"


@dataclass(frozen=True)
class Tally:
    """Reports of sets in trouble as columns, and repairs by fix.

    Args:
        reports: how many were counted, those of healthy sets among them.
        kinds: kinds of sets, by number.
        kind, group, new, month: of each report of trouble: its kind, whose it is, whether
            nobody vouched for them, the month of the repair from 1, 0 where it isn't known.
        faults: ``component/failure``, or ``component`` where no more was told, by number.
        owner, fault: each fault found: the report by its place, and what it was.
        held: by fix, the cured repairs that were followed, and how many of each there are.
        silent: by fix, cured repairs that nobody told more of.
    """

    reports: int
    kinds: tuple[Mapping[str, str | int], ...]
    kind: Column
    group: Column
    new: Column
    month: Column
    faults: tuple[str, ...]
    owner: Column
    fault: Column
    held: Mapping[Fix, Mapping[Watched, int]]
    silent: Mapping[Fix, int]


class Teller:
    """Counts cases one by one, so that whoever gives them may pause.

    Args:
        protections: codes of components whose removal is a get-by.
        elsewhere: contributors of other pools, by group. Of their repairs the year alone is
            known, and the month that stands there is none.
    """

    def __init__(self, protections: Collection[str], elsewhere: Collection[int] = ()) -> None:
        self._protections = protections
        self._elsewhere = elsewhere
        self._reports = 0
        self._kinds: dict[tuple[tuple[str, str | int], ...], int] = {}
        self._faults: dict[str, int] = {}
        self._rows: list[tuple[int, int, bool, int]] = []
        self._found: list[tuple[int, int]] = []
        self._held: dict[Fix, Counter[Watched]] = defaultdict(Counter)
        self._silent: Counter[Fix] = Counter()

    def count(self, case: Case) -> None:
        """Count a case."""
        self._reports += 1
        if case.outcome == _HEALTHY:
            return
        kind = self._kinds.setdefault(tuple(sorted(case.kind.items())), len(self._kinds))
        dated = case.happened is not None and case.group not in self._elsewhere
        month = int(case.happened[5:7]) if dated and case.happened else 0
        row = len(self._rows)
        self._rows.append((kind, case.group, not case.vouched, month))
        # A cause that was written down, else the part whose repair cured it: never a get-by.
        named = case.causes or components_at_fault(case, self._protections)
        for name in dict.fromkeys(named):
            self._found.append((row, self._faults.setdefault(name, len(self._faults))))
        seen = watched(case)
        cures = ((a.component, a.action) for a in cured_by(case, self._protections))
        for fix in dict.fromkeys(cures):
            if seen is None:
                self._silent[fix] += 1
            else:
                self._held[fix][seen] += 1

    def tally(self) -> Tally:
        """Return what was counted so far."""
        rows = self._rows
        return Tally(
            reports=self._reports,
            kinds=tuple(dict(kind) for kind in self._kinds),
            kind=np.array([row[0] for row in rows], dtype=np.int32),
            group=np.array([row[1] for row in rows], dtype=np.int64),
            new=np.array([row[2] for row in rows], dtype=np.bool_),
            month=np.array([row[3] for row in rows], dtype=np.int8),
            faults=tuple(self._faults),
            owner=np.array([row for row, _ in self._found], dtype=np.int32),
            fault=np.array([fault for _, fault in self._found], dtype=np.int32),
            held={fix: dict(seen) for fix, seen in self._held.items()},
            silent=dict(self._silent),
        )


def tally_of(
    cases: Iterable[Case], protections: Collection[str], elsewhere: Collection[int] = ()
) -> Tally:
    """Return the counts of cases, in whatever order they come."""
    teller = Teller(protections, elsewhere)
    for case in cases:
        teller.count(case)
    return teller.tally()
