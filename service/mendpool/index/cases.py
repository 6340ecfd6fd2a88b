"""From rows of the index to the cases that an answer is made of."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mendpool.core.evidence.candidates import Candidates, Names
from mendpool.core.evidence.case import Case
from mendpool.index.later import Later
from mendpool.index.segment import Forward, Halves, chosen
from mendpool.index.told import Values, case_from, outcomes_at, people_of, told_outcome

Told = tuple[str, str]
Rows = NDArray[np.int64]


def cases_of(rows: Forward, later: Later, names: Names, values: Values) -> Candidates:
    """Return the cases of some rows, in their order.

    Args:
        rows: the rows.
        later: what was seen of the reports later.
        names: the terms by number.
        values: what other numbers stand for.
    """
    rank = np.empty(len(rows), dtype=np.int64)
    rank[np.lexsort((rows.low, rows.high))] = np.arange(len(rows))
    outcomes = rows.told[outcomes_at(rows.told_starts[:-1])]
    well = names.find([told_outcome("well")])
    return Candidates(
        rows.terms,
        rows.starts,
        names,
        people_of(rows.whose),
        rank,
        np.isin(outcomes, list(well.values())),
        _Rows(rows, later, names, values),
    )


class _Rows(NamedTuple):
    """Rows of the index, to be made cases where somebody looks at them."""

    rows: Forward
    later: Later
    names: Names
    values: Values

    def cases(self, places: Sequence[int]) -> list[Case]:
        """Return the cases of some rows, without their terms."""
        rows, at = self.rows, np.array(places, dtype=np.int64)
        starts, told = chosen(rows.told_starts, rows.told, at)
        high, low = rows.high[at], rows.low[at]
        values = self.values.all_of(told)
        return [
            case_from(name, whose, values, start, seen)
            for name, whose, start, seen in zip(
                _ids_of(high, low),
                rows.whose[at].tolist(),
                starts[:-1].tolist(),
                _seen(high, low, self.later, self.values),
                strict=True,
            )
        ]


def _seen(high: Halves, low: Halves, later: Later, values: Values) -> list[list[Told]]:
    """Return what was seen of each report later, by month and state."""
    seen: list[list[Told]] = [[] for _ in range(len(high))]
    found = later.of(high, low)
    told = values.all_of(np.array([one for _, pair in found for one in pair], dtype=np.int64))
    for (place, _), month, state in zip(found, told[::2], told[1::2], strict=True):
        seen[place].append((month, state))
    return seen


def _ids_of(high: Halves, low: Halves) -> list[str]:
    """Return ids as they are written; what `uuid.UUID` gives, at a tenth of its cost."""
    told = np.stack([high, low], axis=1).astype(">u8").tobytes().hex()
    each = [told[start : start + 32] for start in range(0, len(told), 32)]
    return [f"{t[:8]}-{t[8:12]}-{t[12:16]}-{t[16:20]}-{t[20:]}" for t in each]
