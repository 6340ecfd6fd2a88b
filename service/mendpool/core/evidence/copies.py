"""How many copies each report of a ledger has: the same groups, found in columns.

Most reports are like no other, and columns tell that at once. Only those that may have a copy
are taken one by one, in the order of their ids, as `duplicates.grouped` takes them all.
"""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from mendpool.core.evidence.duplicates import (
    EXACT_LEAST,
    NEAR_LEAST,
    Said,
    first_most,
    grouped,
)
from mendpool.core.evidence.ledger import Numbers, Ragged, gathered
from mendpool.core.evidence.reports import Reports, mixed

Flags = NDArray[np.bool_]

_BUCKET = 65_536
"""Reports whose first terms are compared at a time."""

_PAIRS = 1 << 20
_CROWD = 256
"""So many reports of one person with a first term in common are all looked at one by one."""

_FIRST_MOST = np.array([first_most(count) for count in range(256)])


def sizes_of_groups(reports: Reports) -> Numbers:
    """Return how many copies there are of each report, itself included."""
    sizes = np.ones(len(reports.ids), dtype=np.int64)
    rows = np.flatnonzero(_said_again(reports.telling) | _maybe_alike(reports))
    rows = rows[np.argsort(reports.ids[rows], kind="stable")]
    place = np.array(
        grouped(
            (int(reports.person[row]), _said(reports.telling, row)) for row in rows.tolist()
        ),
        dtype=np.int64,
    )
    if len(rows):
        sizes[rows] = np.bincount(place)[place]
    return sizes


def _said(telling: Ragged, row: int) -> Said[int]:
    terms = tuple(telling.entries[telling.begins[row] : telling.begins[row + 1]].tolist())
    held = frozenset(terms)
    # Names met late are the rarer ones, so that fewer groups are looked at.
    ordered = sorted(held, reverse=True)
    first = tuple(ordered[: first_most(len(held))])
    return Said(terms, held, lambda: first)


def _said_again(telling: Ragged) -> Flags:
    """Which reports may say in the same words what another says: a sum over words agrees."""
    lengths = telling.lengths
    place = (np.arange(len(telling.entries)) - np.repeat(telling.begins[:-1], lengths)) + 1
    # Whoever collides is looked at one by one as well; nothing rests on this sum.
    each = mixed(telling.entries) * mixed(place)
    total = np.concatenate([np.zeros(1, np.uint64), np.cumsum(each, dtype=np.uint64)])
    key = total[telling.begins[1:]] - total[telling.begins[:-1]]
    _, number, times = np.unique(key, return_inverse=True, return_counts=True)
    return np.asarray((times[number] > 1) & (lengths >= EXACT_LEAST))


def _maybe_alike(reports: Reports) -> Flags:
    """Which reports may be nearly alike to another one of their person; none is missed."""
    maybe = np.zeros(len(reports.ids), dtype=np.bool_)
    if not len(reports.ids):
        return maybe
    order = np.argsort(reports.person, kind="stable")
    _, person = np.unique(reports.person, return_inverse=True)
    for rows in _by_persons(order, person[order]):
        begins, places = gathered(reports.telling.begins, rows)
        telling = Ragged(begins, reports.telling.entries[places])
        maybe[rows[_alike_in(person[rows], telling)]] = True
    return maybe


def _by_persons(order: Numbers, person: Numbers) -> Iterator[Numbers]:
    """Split reports that lie by person into parts, nobody's reports in two."""
    begin = 0
    while begin < len(order):
        end = min(begin + _BUCKET, len(order))
        if end < len(order):
            whole = int(np.searchsorted(person, person[end]))
            end = whole if whole > begin else int(np.searchsorted(person, person[end], "right"))
        yield order[begin:end]
        begin = end


def _alike_in(person: Numbers, telling: Ragged) -> Numbers:
    """Return the places of reports that may be alike to another one of their person."""
    lengths, marks = telling.lengths, _marks(telling)
    owner = telling.owners
    # Within each report the terms with the highest numbers first.
    order = np.argsort((owner << 32) - telling.entries)
    term = telling.entries[order].astype(np.int64)
    at = np.arange(len(term)) - telling.begins[owner]
    most = np.where(lengths < len(_FIRST_MOST), _FIRST_MOST[lengths % 256], lengths)
    kept = np.flatnonzero((at < most[owner]) & (lengths[owner] >= NEAR_LEAST))
    key = (person[owner[kept]] << 32) | term[kept]
    by_key = np.argsort(key, kind="stable")
    kept, key = kept[by_key], key[by_key]
    starts = np.flatnonzero(np.concatenate([[True], key[1:] != key[:-1]])) if len(key) else key
    runs = np.diff(np.append(starts, len(key)))
    crowd = np.repeat(runs > _CROWD, runs)
    found = [owner[kept[crowd]]]
    before = np.arange(len(key)) - np.repeat(starts, runs)
    before[crowd] = 0
    for one, other in _pairs(before):
        a, b = owner[kept[one]], owner[kept[other]]
        # Both have that term and at most what follows it in common.
        most_shared = np.minimum(lengths[a] - at[kept[one]], lengths[b] - at[kept[other]])
        most_shared = np.minimum(
            most_shared, lengths[a] - np.bitwise_count(marks[a] & ~marks[b])
        )
        # Shared ÷ (all) > ALIKE, with 1.6 × shared > 0.6 × (both) in whole numbers.
        alike = 8 * most_shared >= 3 * (lengths[a] + lengths[b])
        found += [a[alike], b[alike]]
    return np.unique(np.concatenate(found))


def _marks(telling: Ragged) -> NDArray[np.uint64]:
    """One bit for each term of a report, of 64: what one has and another lacks, at least."""
    bit = np.uint64(1) << (mixed(telling.entries) & np.uint64(63))
    marks = np.zeros(len(telling.begins) - 1, dtype=np.uint64)
    some = np.flatnonzero(telling.lengths)
    if len(some):
        marks[some] = np.bitwise_or.reduceat(bit, telling.begins[some])
    return marks


def _pairs(before: Numbers) -> Iterator[tuple[Numbers, Numbers]]:
    """Yield each entry with each of so many just before it, some at a time."""
    ends = np.cumsum(before)
    begin, done = 0, 0
    while begin < len(before):
        end = max(begin + 1, int(np.searchsorted(ends, done + _PAIRS, "right")))
        count = before[begin:end]
        one = np.repeat(np.arange(begin, end), count)
        first = np.repeat(ends[begin:end] - count - done, count)
        yield one, one - 1 - (np.arange(len(one)) - first)
        begin, done = end, int(ends[end - 1])
