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
    group = groups[repairs]
    size = np.bincount(group)[group]
    order = np.lexsort((repairs, group, -size))
    group, size, which = group[order], size[order], repairs[order]
    first = np.empty(len(group), dtype=bool)
    first[0] = True
    np.not_equal(group[1:], group[:-1], out=first[1:])
    starts = np.flatnonzero(first)
    # The largest go first, so that those larger than a round's number are the first ones.
    numbers = -np.arange(min(_LONGEST, int(size[0])))
    columns = np.searchsorted(-size, numbers).tolist()
    rounds = tuple(zip(columns, np.searchsorted(-size[starts], numbers).tolist(), strict=True))
    back = np.empty_like(order)
    back[order] = np.arange(len(order))
    return Laid(
        which,
        back,
        cures[which],
        costs[which],
        np.cumsum(first) - 1,
        starts,
        rounds,
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
    usable = np.ones((len(beliefs), len(laid.repairs)))
    if done:
        usable[np.arange(1, len(laid.repairs) + 1), laid.columns] = 0.0
    if laid.shared is None or opened is None:
        cost = np.broadcast_to(laid.costs, usable.shape)
        chance, key = _chains(beliefs, laid, usable, cost)
        return _best_prefix(beliefs, chance, key, cost, None, last_resort)
    shared = laid.shared
    off, closed = shared.now(opened)
    own = laid.costs - off * shared.saved
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
    order = np.argsort(-key, axis=1, kind="stable")
    # Places in the arrays as they lie: taken so it costs half of what rows and columns do.
    order += np.arange(0, order.size, order.shape[1])[:, None]
    chance, cost = chance.take(order), cost.take(order)
    if later is not None:
        cost[:, 1:] += later.take(order)[:, 1:]
    left = alive[:, None] - np.cumsum(chance, axis=1)
    spent = np.cumsum(cost * (left + chance), axis=1)
    return np.asarray(np.minimum(last_resort * alive, (spent + last_resort * left).min(axis=1)))


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
    left, shape = beliefs, usable.shape
    chance, key = np.zeros(shape), np.zeros(shape)
    usable *= laid.ties
    for number, (columns, groups) in enumerate(laid.rounds):
        cures = laid.cures[:columns]
        works = left @ cures.T
        ratio = works / costs[:, :columns] * usable[:, :columns]
        best = np.maximum.reduceat(ratio, laid.starts[:groups], axis=1)
        take = (ratio == best[:, laid.group[:columns]]) & (ratio > 0)
        chance[:, :columns] += works * take
        key[:, :columns] += ratio * take * (1.0 - _TIE * number)
        if number + 1 < len(laid.rounds):
            usable[:, :columns] *= ~take
            # Groups share no cause, so that each cause is touched by one repair at most.
            left = left * (1.0 - take.astype(np.float64) @ cures)
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
        blocks: 1 for all of those columns: a block pays for the cover.
        minutes: what each of the covers takes.
    """

    saved: Array
    behind: Array
    shut: Array | None
    covers: NDArray[np.intp]
    members: tuple[NDArray[np.intp], ...]
    blocks: NDArray[np.intp]
    minutes: tuple[float, ...]

    @classmethod
    def of(cls, covers: Covers, repairs: NDArray[np.intp]) -> "_Shared":
        """Return what is shared among these repairs."""
        behind = covers.behind(repairs)
        saved = covers.minutes_of_repair[repairs]
        shared = np.flatnonzero((behind.sum(axis=1) > 1) & covers.stay)
        members = tuple(np.flatnonzero(behind[k]) for k in shared)
        return cls(
            saved,
            behind.astype(np.float64),
            None if covers.stay.all() else (~covers.stay).astype(np.float64),
            shared,
            members,
            np.flatnonzero(behind[shared].any(axis=0)),
            tuple(float(saved[columns].max()) for columns in members),
        )

    def now(self, opened: Array) -> tuple[Array, Array]:
        """Return what is off by row and column, and what is closed by row and shared cover."""
        off = opened @ self.behind
        off[:, self.blocks] = 1.0
        return off, 1.0 - opened[:, self.covers]

    def later(self, opened: Array) -> Array | None:
        """Return minutes to add again to all but the next repair; None where there are none.

        What must be closed before the set is run helps the very next repair only.
        """
        return None if self.shut is None else ((opened * self.shut) @ self.behind) * self.saved


def _blocks(chance: Array, key: Array, own: Array, shared: _Shared, closed: Array) -> Array:
    """Let what lies behind one closed cover go as a block; `key` is changed in place.

    Returns:
        The minutes of each repair, a closed cover charged to the first behind it.
    """
    if not shared.members:
        return own
    cost = own.copy()
    rows = np.arange(len(own))
    for k, columns in enumerate(shared.members):
        works, minutes, alone = chance[:, columns], own[:, columns], key[:, columns]
        cover = shared.minutes[k] * closed[:, k]
        best = (works / (minutes + cover[:, None])).max(axis=1)
        # The best few are all that pay more than the block as a whole does; two passes come
        # to it or stand close to it.
        for _ in range(2):
            inside = alone >= best[:, None]
            taken = np.where(inside, works, 0.0).sum(axis=1)
            spent = np.where(inside, minutes, 0.0).sum(axis=1) + cover
            best = np.maximum(best, taken / np.maximum(spent, 1e-9))
        # A cover that is off is paid for: each behind it stands by itself.
        together = np.minimum(alone, best[:, None]) * (1.0 + _BLOCK_TIE)
        together = np.where(alone >= best[:, None], together + _BLOCK_TIE * alone, alone)
        alone = np.where(closed[:, k, None] > 0, together, alone)
        key[:, columns] = alone
        first = columns[alone.argmax(axis=1)]
        cost[rows, first] += shared.saved[first] * closed[:, k]
    return cost
