"""The base policy: repairs by falling chance over cost, given up after the best prefix.

Repairs that share no cause do not change each other's chance, so each group of those that do
is put in order by itself (the greedy order, recomputed after each failure) and the groups are
merged by chance over cost: the same order as one long greedy run, in a few passes over all
beliefs at once. Where repairs lie behind one cover, the cover and the best few behind it go
as a block, by all their chance over all their minutes; that is the optimum where each fault
has one repair.

Source:
    Kadane and Simon (1977) for the order; Horn (1972) and Ottosen and Jensen (2010) for
    blocks; min-sum set cover (Feige, Lovasz and Tetali 2004) for what sharing costs.
"""

from collections import Counter
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mendpool.core.diagnosis.covers import Covers
from mendpool.core.evidence.bayes import Array

_LONGEST = 12
"""Repairs of one group that are put in order; nobody tries more of them."""
_TIE = 1e-12
_BLOCK_TIE = 1e-9


@dataclass(frozen=True, slots=True)
class Laid:
    """Open repairs in columns, groups together and the largest group first.

    Args:
        repairs: which repair each column is.
        columns: the column of each repair, in the order in which they were given.
        cures: by column and cause.
        group: of each column.
        starts: first column of each group.
        rounds: for each pass, how many columns and groups still take part.
        ties: what tells two columns apart that tie: the first goes, never both at once.
        shared: what lies behind covers; None where nothing is shared.
    """

    repairs: NDArray[np.intp]
    columns: NDArray[np.intp]
    cures: Array
    costs: Array
    group: NDArray[np.intp]
    starts: NDArray[np.intp]
    rounds: tuple[tuple[int, int], ...]
    ties: Array
    shared: "_Shared | None"


def laid_out(
    cures: Array,
    costs: Array,
    repairs: NDArray[np.intp],
    groups: NDArray[np.intp],
    covers: Covers | None,
) -> Laid:
    """Return the open repairs, one or more, ready for any number of beliefs.

    Args:
        cures: P(repair works | cause), repairs in rows.
        costs: minutes, by repair, its cover included.
        repairs: those still open.
        groups: as `groups_of` all the repairs.
        covers: what is shared.
    """
    # Lists: arrays of forty numbers cost more to begin than to work through.
    given, group = repairs.tolist(), groups[repairs].tolist()
    sizes = Counter(group)
    order = sorted(range(len(given)), key=lambda i: (-sizes[group[i]], group[i], given[i]))
    back, number, starts = [0] * len(order), list[int](), list[int]()
    for column, place in enumerate(order):
        back[place] = column
        if not column or group[place] != group[order[column - 1]]:
            starts.append(column)
        number.append(len(starts) - 1)
    # The largest go first, so that those larger than a round's number are the first ones.
    large = sorted(sizes.values(), reverse=True)
    rounds = []
    for gone in range(min(_LONGEST, large[0])):
        larger = [size for size in large if size > gone]
        rounds.append((sum(larger), len(larger)))
    which = repairs[order]
    return Laid(
        which,
        np.array(back, dtype=np.intp),
        cures[which],
        costs[which],
        np.array(number, dtype=np.intp),
        np.array(starts, dtype=np.intp),
        tuple(rounds),
        np.asarray(1.0 - _TIE * np.arange(len(which))),
        None if covers is None else _Shared.of(covers, which),
    )


def base_values(
    beliefs: Array, laid: Laid, last_resort: float, opened: Array | None, *, done: bool = False
) -> Array:
    """Return the expected minutes of the base policy, for each belief.

    Args:
        beliefs: one a row; a row need not sum to 1 (minutes scale with it).
        laid: the repairs still open.
        last_resort: minutes of giving up, which always ends it.
        opened: by row and cover, 1.0 where the cover is off; None where nothing is shared.
        done: row ``1 + i`` is what is believed after the repair given at place i failed: it
            is done there.
    """
    # Repairs in rows, beliefs in columns: a pass over the repairs is then a few long sums.
    usable = np.ones((len(laid.repairs), len(beliefs)))
    if done:
        usable[laid.columns, np.arange(1, len(laid.repairs) + 1)] = 0.0
    cost = laid.costs[:, None]
    if laid.shared is None or opened is None:
        chance, key = _chains(beliefs, laid, usable, cost)
        cost = np.broadcast_to(cost, usable.shape)
        return _best_prefix(beliefs, chance, key, cost, None, last_resort)
    shared = laid.shared
    off, closed = shared.now(opened)
    own = cost - off * shared.saved[:, None]
    chance, key = _chains(beliefs, laid, usable, own)
    cost = _blocks(chance, key, own, shared, closed)
    return _best_prefix(beliefs, chance, key, cost, shared.later(opened), last_resort)


def _best_prefix(
    beliefs: Array,
    chance: Array,
    key: Array,
    cost: Array,
    later: Array | None,
    last_resort: float,
) -> Array:
    alive = beliefs.sum(axis=1)
    falling = np.ascontiguousarray(key.T)
    np.negative(falling, out=falling)
    order = falling.argsort(axis=1, kind="stable").T
    # Places in the arrays as they lie: taken so it costs half of what rows and columns do.
    places = order * len(alive) + np.arange(len(alive))
    chance, cost = chance.take(places), cost.take(places)
    if later is not None:
        cost[1:] += later.take(places[1:])
    left = alive - np.add.accumulate(chance)
    chance += left
    chance *= cost
    spent = np.add.accumulate(chance)
    left *= last_resort
    spent += left
    return np.asarray(np.minimum(last_resort * alive, spent.min(axis=0)))


def groups_of(cures: Array) -> NDArray[np.intp]:
    """Return, for each repair, the first one of those that it shares causes with, in turn."""
    shared = (cures > 0).astype(np.float64)
    reach = (shared @ shared.T + np.eye(len(cures))) > 0
    while True:
        further = (reach.astype(np.float64) @ reach.astype(np.float64)) > 0
        if (further == reach).all():
            return np.asarray(reach.argmax(axis=1))
        reach = further


def _chains(beliefs: Array, laid: Laid, usable: Array, costs: Array) -> tuple[Array, Array]:
    """Each group in its own greedy order: the chance of each repair in its turn, and its key.

    The key falls along a group, so that a stable sort by it merges the groups.
    """
    left, last = beliefs, len(laid.rounds) - 1
    chance, key = usable, usable  # until the first pass, in which every repair takes part
    usable *= laid.ties[:, None]
    for number, (columns, groups) in enumerate(laid.rounds):
        cures = laid.cures[:columns]
        works = cures @ left.T
        ratio = works / costs[:columns]
        ratio *= usable[:columns]
        best = np.maximum.reduceat(ratio, laid.starts[:groups])
        take = ratio == best.take(laid.group[:columns], axis=0)
        take &= ratio > 0
        taken = take.astype(np.float64)
        works *= taken
        ratio *= taken
        if number:
            ratio *= 1.0 - _TIE * number
            chance[:columns] += works
            key[:columns] += ratio
        else:
            chance, key = works, ratio
        if number < last:
            usable[:columns] *= ~take
            # Groups share no cause, so that each cause is touched by one repair at most.
            goes_on = taken.T @ cures
            np.subtract(1.0, goes_on, out=goes_on)
            goes_on *= left
            left = goes_on
    return chance, key


@dataclass(frozen=True, slots=True)
class _Shared:
    """What lies behind covers, by column of the repairs laid out.

    Args:
        saved: minutes each repair takes less where its cover is off.
        behind: by cover and column, 1 where the repair lies behind it.
        shut: by cover, 1 where it must be closed before the set is run; None where none must.
        covers: those with several behind them that may stay off.
        members: their columns.
        blocks: all of those columns, cover after cover: a block pays for the cover.
        starts: where each cover's begin among them.
        cover: of each of them, as a place in `covers`.
        minutes: what each of the covers takes, in rows.
    """

    saved: Array
    behind: Array
    shut: Array | None
    covers: NDArray[np.intp]
    members: tuple[NDArray[np.intp], ...]
    blocks: NDArray[np.intp]
    starts: NDArray[np.intp]
    cover: NDArray[np.intp]
    minutes: Array

    @classmethod
    def of(cls, covers: Covers, repairs: NDArray[np.intp]) -> "_Shared":
        """Return what is shared among these repairs."""
        saved = covers.minutes_of_repair[repairs]
        columns: dict[int, list[int]] = {}
        for column, repair in enumerate(repairs.tolist()):
            columns.setdefault(covers.of_repair[repair], []).append(column)
        shared = [
            cover
            for cover, stays in enumerate(covers.stays)
            if stays and len(columns.get(cover, ())) > 1
        ]
        members = [np.array(columns[cover], dtype=np.intp) for cover in shared]
        lengths = [len(inside) for inside in members]
        minutes = saved.tolist()
        return cls(
            saved,
            covers.behind(repairs).astype(np.float64),
            None if all(covers.stays) else (~covers.stay).astype(np.float64),
            np.array(shared, dtype=np.intp),
            tuple(members),
            np.concatenate(members) if members else np.zeros(0, dtype=np.intp),
            np.cumsum([0, *lengths[:-1]]),
            np.repeat(np.arange(len(shared)), lengths),
            np.array([max(minutes[c] for c in columns[k]) for k in shared])[:, None],
        )

    def now(self, opened: Array) -> tuple[Array, Array]:
        """Return what is off by repair and belief, and what is closed by shared cover."""
        off = self.behind.T @ opened.T
        off[self.blocks] = 1.0
        return off, 1.0 - opened.T[self.covers]

    def later(self, opened: Array) -> Array | None:
        """Return minutes to add again to all but the next repair; None where there are none.

        What must be closed before the set is run helps the very next repair only.
        """
        if self.shut is None:
            return None
        again = self.behind.T @ (opened * self.shut).T
        again *= self.saved[:, None]
        return again


def _blocks(chance: Array, key: Array, own: Array, shared: _Shared, closed: Array) -> Array:
    """Let what lies behind one closed cover go as a block; `key` is changed in place.

    Returns:
        The minutes of each repair, a closed cover charged to the first behind it.
    """
    if not shared.members:
        return own
    members, starts, cover = shared.blocks, shared.starts, shared.cover
    works, minutes, alone = chance[members], own[members], key[members]
    opens = shared.minutes * closed
    best = np.maximum.reduceat(works / (minutes + opens[cover]), starts)
    # The best few are all that pay more than the block as a whole does; two passes come to it
    # or stand close to it.
    for _ in range(2):
        inside = alone >= best[cover]
        taken = np.add.reduceat(works * inside, starts)
        spent = np.add.reduceat(minutes * inside, starts) + opens
        best = np.maximum(best, taken / np.maximum(spent, 1e-9))
    # A cover that is off is paid for: each behind it stands by itself.
    block = best[cover]
    together = np.minimum(alone, block)
    together *= 1.0 + _BLOCK_TIE
    pays = alone >= block
    together = np.where(pays, together + _BLOCK_TIE * alone, alone)
    alone = np.where(closed[cover] > 0, together, alone)
    key[members] = alone
    cost, beliefs, begin = own.copy(), np.arange(own.shape[1]), 0
    for shut, columns in zip(closed, shared.members, strict=True):
        end = begin + len(columns)
        first = columns[alone[begin:end].argmax(axis=0)]
        cost[first, beliefs] += shared.saved[first] * shut
        begin = end
    return cost
