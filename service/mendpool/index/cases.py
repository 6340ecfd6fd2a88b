"""From rows of the index to the cases that an answer is made of."""

import numpy as np

from mendpool.core.evidence.candidates import Candidates, Names
from mendpool.index.later import Later
from mendpool.index.segment import Forward
from mendpool.index.told import Values, case_from

Told = tuple[str, str]


def cases_of(rows: Forward, later: Later, names: Names, values: Values) -> Candidates:
    """Return the cases of some rows, in their order.

    Args:
        rows: the rows.
        later: what was seen of the reports later.
        names: the terms by number.
        values: what other numbers stand for.
    """
    told = values.all_of(rows.told)
    terms = tuple(map(names.terms.__getitem__, rows.terms.tolist()))
    starts = rows.starts.tolist()
    cases = [
        case_from(_id_of(high, low), whose, terms[first:last], told, start, seen)
        for high, low, whose, first, last, start, seen in zip(
            rows.high.tolist(),
            rows.low.tolist(),
            rows.whose.tolist(),
            starts[:-1],
            starts[1:],
            rows.told_starts[:-1].tolist(),
            _seen(rows, later, values),
            strict=True,
        )
    ]
    return Candidates(cases, rows.terms, rows.starts, names)


def _seen(rows: Forward, later: Later, values: Values) -> list[list[Told]]:
    """Return what was seen of each row later, by month and state."""
    seen: list[list[Told]] = [[] for _ in range(len(rows))]
    found = later.of(rows.high, rows.low)
    told = values.all_of(np.array([one for _, pair in found for one in pair], dtype=np.int64))
    for (place, _), month, state in zip(found, told[::2], told[1::2], strict=True):
        seen[place].append((month, state))
    return seen


def _id_of(high: int, low: int) -> str:
    """Return an id as it is written; what `uuid.UUID` gives, at a quarter of its cost."""
    told = f"{high:016x}{low:016x}"
    return f"{told[:8]}-{told[8:12]}-{told[12:16]}-{told[16:20]}-{told[20:]}"
