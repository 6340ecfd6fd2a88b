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

_BUCKET = 32_768
"""Reports whose words are compared at a time."""

_PAIRS = 1 << 18
_COMPARED = 1 << 14
_CROWD = 256
"""So many reports of one person with a first term in common are all looked at one by one."""

_FIRST_MOST = np.array([first_most(count) for count in range(256)])


def sizes_of_groups(reports: Reports) -> Numbers:
    """Return how many copies there are of each report, itself included."""
    sizes = np.ones(len(reports.ids), dtype=np.int64)
    rows = np.flatnonzero(_said_again(reports.telling) | _maybe_alike(reports))
    rows = rows[np.argsort(reports.ids[rows], kind="stable")]
    used = np.bincount(reports.telling.entries)
    place = np.array(
        grouped(
            (int(reports.person[row]), _said(reports.telling, row, used))
            for row in rows.tolist()
        ),
        dtype=np.int64,
    )
    if len(rows):
        sizes[rows] = np.bincount(place)[place]
    return sizes


def _said(telling: Ragged, row: int, used: Numbers) -> Said[int]:
    entries = telling.entries[telling.begins[row] : telling.begins[row + 1]]
    terms = tuple(entries.tolist())
    # The rarest first, so that few groups are looked at; any fixed order finds the same.
    often = dict(zip(terms, used[entries].tolist(), strict=True))
    first = tuple(sorted(often, key=lambda term: (often[term], term))[: first_most(len(often))])
    held = frozenset(terms)
    return Said(terms, held, lambda: first)


def _said_again(telling: Ragged) -> Flags:
    """Which reports may say in the same words what another says: a sum over words agrees."""
    count = len(telling.begins) - 1
    key = np.zeros(count, dtype=np.uint64)
    for begin in range(0, count, _BUCKET):
        end = min(begin + _BUCKET, count)
        ends = telling.begins[begin : end + 1]
        words = telling.entries[ends[0] : ends[-1]]
        place = np.arange(len(words)) - np.repeat(ends[:-1] - ends[0], np.diff(ends))
        # Whoever collides is looked at one by one as well; nothing rests on this sum.
        each = mixed(words) * mixed(place + 1)
        total = np.concatenate([np.zeros(1, np.uint64), np.cumsum(each, dtype=np.uint64)])
        key[begin:end] = np.diff(total[ends - ends[0]])
    _, number, times = np.unique(key, return_inverse=True, return_counts=True)
    return np.asarray((times[number] > 1) & (telling.lengths >= EXACT_LEAST))


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
        maybe[rows] = _alike_in(person[rows], telling)
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


def _alike_in(person: Numbers, telling: Ragged) -> Flags:
    """Which reports may be alike to another one of their person.

    Two that are alike share one of their first terms. The shorter of them has at most a
    quarter of its terms before it: else too few are left, since those in common are more
    than three eighths of both.
    """
    lengths, marks = telling.lengths, _marks(telling)
    maybe = np.zeros(len(lengths), dtype=np.bool_)
    owner, term, at = _first_terms(telling)
    key = (person[owner] << 32) | term
    order = np.lexsort((lengths[owner], key))
    owner, at, key = owner[order], at[order], key[order]
    length = lengths[owner]
    # Those that come after it with the same term and are not too long to be alike.
    starts = np.flatnonzero(np.concatenate([[True], key[1:] != key[:-1]])[: len(key)])
    runs = np.diff(np.append(starts, len(key)))
    run = np.repeat(np.arange(len(runs)), runs) << 32
    last = np.searchsorted(run + length, run + (5 * length) // 3, "right")
    after = np.where(4 * at <= length, last - np.arange(len(key)) - 1, 0)
    crowd = np.repeat(runs > _CROWD, runs)
    maybe[owner[crowd]] = True
    after[crowd] = 0
    for one, other in _pairs(after):
        a, b = owner[one], owner[other]
        # Both have that term and at most what follows it in common.
        shared = np.minimum(length[one] - at[one], length[other] - at[other])
        shared = np.minimum(shared, length[one] - np.bitwise_count(marks[a] & ~marks[b]))
        # Shared ÷ (all) > ALIKE, with 1.6 × shared > 0.6 × (both) in whole numbers.
        alike = 8 * shared >= 3 * (length[one] + length[other])
        alike &= ~(maybe[a] & maybe[b])
        for begin in range(0, int(alike.sum()), _COMPARED):
            found = np.flatnonzero(alike)[begin : begin + _COMPARED]
            both = _compared(telling, a[found], b[found])
            maybe[both] = True
    return maybe


def _compared(telling: Ragged, a: Numbers, b: Numbers) -> Numbers:
    """Return the reports of those pairs that have as much in common as copies have."""
    begins, places = gathered(telling.begins, np.stack([a, b], axis=1).ravel())
    pair = np.repeat(np.arange(2 * len(a)) // 2, np.diff(begins))
    terms = np.sort((pair << 32) | telling.entries[places])
    twice = terms[1:][terms[1:] == terms[:-1]] >> 32
    shared = np.bincount(twice, minlength=len(a))
    alike = 8 * shared >= 3 * (telling.lengths[a] + telling.lengths[b])
    return np.concatenate([a[alike], b[alike]])


def _first_terms(telling: Ragged) -> tuple[Numbers, Numbers, Numbers]:
    """Return the first terms of reports long enough: whose, which, and at what place."""
    lengths, owner = telling.lengths, telling.owners
    # Names met late are the rarer ones, so they come first.
    order = np.argsort((owner << 32) - telling.entries)
    term = telling.entries[order].astype(np.int64)
    at = np.arange(len(term)) - telling.begins[owner]
    most = np.where(lengths < len(_FIRST_MOST), _FIRST_MOST[lengths % 256], lengths)
    kept = np.flatnonzero((at < most[owner]) & (lengths[owner] >= NEAR_LEAST))
    return owner[kept], term[kept], at[kept]


def _marks(telling: Ragged) -> NDArray[np.uint64]:
    """One bit for each term of a report, of 64: what one has and another lacks, at least."""
    bit = np.uint64(1) << (mixed(telling.entries) & np.uint64(63))
    marks = np.zeros(len(telling.begins) - 1, dtype=np.uint64)
    some = np.flatnonzero(telling.lengths)
    if len(some):
        marks[some] = np.bitwise_or.reduceat(bit, telling.begins[some])
    return marks


def _pairs(after: Numbers) -> Iterator[tuple[Numbers, Numbers]]:
    """Yield each entry with each of so many just after it, some at a time."""
    ends = np.cumsum(after)
    begin, done = 0, 0
    while begin < len(after):
        end = max(begin + 1, int(np.searchsorted(ends, done + _PAIRS, "right")))
        count = after[begin:end]
        one = np.repeat(np.arange(begin, end), count)
        first = np.repeat(ends[begin:end] - count - done, count)
        yield one, one + 1 + (np.arange(len(one)) - first)
        begin, done = end, int(ends[end - 1])
