"""What to do next: one step of lookahead over tests and repairs.

The base policy is the order of repairs by chance over cost with the last resort placed after
the best prefix (`sequence`). Looking one step ahead over tests and repairs on top of it stays
within a few per cent of the exact optimum on small instances (Heckerman, Breese and Rommelse
1995; Kadane and Simon 1977 for the base).
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mendpool.core.diagnosis.covers import Covers, Opened
from mendpool.core.diagnosis.knowledge import Array
from mendpool.core.diagnosis.sequence import Laid, base_values, groups_of, laid_out
from mendpool.core.evidence.ledger import gathered

CLOSE = 0.05
"""Steps whose minutes in all are this near to each other: either is fine."""
_IN_ITS_TURN = 0.8
"""A repair with less chance a minute than this share of the best one's, or a test that saves
less than this share of what the best one saves, is not preferred to it for its manners."""

Do = Literal["test", "repair", "last"]


class Manner(NamedTuple):
    """What decides between steps that are equally good; the smallest goes.

    Args:
        money: cost band of its parts.
        lasting: it can't be undone.
        hazards: how many dangers come with it.
    """

    money: int = 0
    lasting: bool = False
    hazards: int = 0


@dataclass(frozen=True, slots=True)
class Options:
    """What could be done.

    Args:
        cures: P(repair works | cause), repairs in rows, causes in columns.
        repair_costs: minutes, by repair, its cover included.
        tests: for each test, P(result | cause) with results in rows.
        test_costs: minutes, by test, its cover included.
        last_resort: minutes the last resort counts for; it always ends it.
        covers: what lies behind which cover; None where nothing is shared.
        repair_manners, test_manners: what decides between equals; empty where nothing does.
    """

    cures: Array
    repair_costs: Array
    tests: Sequence[Array]
    test_costs: Sequence[float]
    last_resort: float
    covers: Covers | None = None
    repair_manners: Sequence[Manner] = ()
    test_manners: Sequence[Manner] = ()
    groups: NDArray[np.intp] = field(init=False, repr=False)
    failures: Array = field(init=False, repr=False)
    results: Array = field(init=False, repr=False)
    ends: NDArray[np.intp] = field(init=False, repr=False)
    _laid: dict[tuple[int, ...], Laid] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Find once what every choice goes by.

        Which repairs share causes, P(repair fails | cause), and the tests' tables in one,
        with where each ends in it.
        """
        ends = np.cumsum([0, *(len(table) for table in self.tests)])
        for name, made in (
            ("groups", groups_of(self.cures)),
            ("failures", 1.0 - self.cures),
            ("results", np.concatenate([self.cures[:0], *self.tests])),
            ("ends", ends),
            ("_laid", {}),
        ):
            object.__setattr__(self, name, made)

    def laid(self, repairs: Sequence[int]) -> Laid:
        """Return these repairs, one or more, ready to be put in order; kept for the next."""
        key = tuple(repairs)
        laid = self._laid.get(key)
        if laid is None:
            which = np.array(key, dtype=np.intp)
            laid = laid_out(self.cures, self.repair_costs, which, self.groups, self.covers)
            self._laid[key] = laid
        return laid

    def repair_cost(self, repair: int, opened: Opened) -> float:
        """Return the minutes of a repair with these covers off."""
        saved = self.covers.saved(opened, repair=repair) if self.covers else 0.0
        return float(self.repair_costs[repair]) - saved

    def test_cost(self, test: int, opened: Opened) -> float:
        """Return the minutes of a test with these covers off."""
        saved = self.covers.saved(opened, test=test) if self.covers else 0.0
        return float(self.test_costs[test]) - saved

    def manner(self, do: Do, which: int) -> Manner:
        """Return what decides between this step and its equals."""
        manners = self.repair_manners if do == "repair" else self.test_manners
        return manners[which] if manners else Manner()


@dataclass(frozen=True, slots=True)
class Choice:
    """The next step.

    Args:
        do, which: what, and which of its kind.
        expected: minutes in all when it is done first.
        base: minutes in all by repairs alone.
        runner_up: minutes in all with the next best step first.
        next_best: what and which that step is; the last resort where there is none.
        tests: all that were weighed, the best first.
    """

    do: Do
    which: int
    expected: float
    base: float
    runner_up: float
    next_best: tuple[Do, int] = ("last", -1)
    tests: tuple[int, ...] = ()

    @property
    def as_good(self) -> bool:
        """Tell whether the runner-up is as good: within 5 %, either way."""
        return abs(self.runner_up - self.expected) <= CLOSE * self.expected


def base_value(
    beliefs: Array,
    options: Options,
    open_repairs: Sequence[int],
    opened: Opened = frozenset(),
) -> Array:
    """Return expected minutes of the best prefix by chance over cost, for each belief.

    Args:
        beliefs: one belief a row; rows need not sum to 1 (they scale).
    """
    if not len(open_repairs):
        return np.asarray(options.last_resort * beliefs.sum(axis=1))
    off = None
    if options.covers is not None:
        now = options.covers.off(opened).astype(np.float64)
        off = np.broadcast_to(now, (len(beliefs), len(now)))
    return base_values(beliefs, options.laid(open_repairs), options.last_resort, off)


def choose(
    belief: Array,
    options: Options,
    open_repairs: Sequence[int],
    open_tests: Sequence[int],
    opened: Opened = frozenset(),
) -> Choice:
    """Return the step with the least expected minutes; a repair before a test on a tie.

    Among steps within 5 % of it the one that is cheaper in money, can be undone and brings
    fewer dangers goes first, where the options say which those are.

    Args:
        opened: covers that are off now.
    """
    repairs, tests = list(open_repairs), list(open_tests)
    weighed = np.array(tests, dtype=np.intp)
    lengths = options.ends[weighed + 1] - options.ends[weighed]
    values = _after_each(belief, options, repairs, weighed, lengths, opened)
    mass = float(belief.sum())
    minutes = _minutes(options, repairs, weighed, opened)
    # After each repair, and after each test, over all the ways it may come out.
    firsts = [*range(1, 1 + len(repairs)), *(1 + len(repairs) + lengths.cumsum() - lengths)]
    found = minutes * mass
    if firsts:
        found += np.add.reduceat(values, firsts)
    steps: list[tuple[Do, int]] = [
        *(("repair", a) for a in repairs),
        *(("test", t) for t in tests),
        ("last", -1),
    ]
    found = np.append(found, options.last_resort * mass)
    rounded = np.round(found, 9)
    totals = rounded.tolist()
    base = float(values[0])
    # argmin keeps the first of equals: repairs before tests before giving up.
    best = int(rounded.argmin())
    rivals = _rivals(belief, options, repairs, minutes, rounded, base)
    if options.repair_manners or options.test_manners:
        best = _preferred(best, rivals, steps, totals, options, base)
    others = [i for i in rivals if i != best] or [i for i in range(len(steps)) if i != best]
    second = min(others, key=lambda i: (totals[i], i), default=best)
    by_total = rounded[len(repairs) : -1].argsort(kind="stable")
    return Choice(
        *steps[best],
        expected=float(found[best]),
        base=base,
        runner_up=float(found[second]),
        next_best=steps[second],
        tests=tuple(weighed[by_total].tolist()),
    )


def _minutes(
    options: Options, repairs: Sequence[int], tests: NDArray[np.intp], opened: Opened
) -> Array:
    """The minutes of each repair and each test with these covers off."""
    which = np.array(repairs, dtype=np.intp)
    costs = np.array(options.test_costs, dtype=np.float64)[tests]
    minutes = np.concatenate([options.repair_costs[which], costs])
    if options.covers is None or not opened:
        return minutes
    return np.asarray(minutes - options.covers.saved_now(opened, which, tests))


def _after_each(
    belief: Array,
    options: Options,
    repairs: Sequence[int],
    tests: NDArray[np.intp],
    lengths: NDArray[np.intp],
    opened: Opened,
) -> Array:
    """The base value now, after each repair failed, and after each result of each test."""
    which = np.array(repairs, dtype=np.intp)
    _, results = gathered(options.ends, tests)
    ends = 1 + len(which)
    hypotheses = np.empty((ends + len(results), len(belief)))
    hypotheses[0] = belief
    np.multiply(options.failures[which], belief, out=hypotheses[1:ends])
    np.multiply(options.results[results], belief, out=hypotheses[ends:])
    if not repairs:
        return np.asarray(options.last_resort * hypotheses.sum(axis=1))
    off = None
    if options.covers is not None:
        off = options.covers.off_after(opened, which, tests, lengths)
    laid = options.laid(repairs)
    return base_values(hypotheses, laid, options.last_resort, off, done=True)


def _rivals(
    belief: Array,
    options: Options,
    repairs: Sequence[int],
    minutes: Array,
    totals: Array,
    base: float,
) -> list[int]:
    """The steps that anybody would think of: tests that pay, repairs in their turn."""
    worth = (options.cures[repairs] @ belief) / minutes[: len(repairs)]
    least = max(_IN_ITS_TURN * float(worth.max(initial=0.0)), 1e-300)
    pays = totals[len(repairs) : -1] < base - 1e-9
    return [*np.flatnonzero(np.concatenate([worth >= least, pays, [True]])).tolist()]


def _preferred(
    best: int,
    rivals: Sequence[int],
    steps: Sequence[tuple[Do, int]],
    totals: Sequence[float],
    options: Options,
    base: float,
) -> int:
    """Of what is as good as the best, the cheaper, the one to be undone, the safer."""
    if steps[best][0] == "last":
        return best
    most = (1.0 + CLOSE) * totals[best]
    if steps[best][0] == "test":
        most = min(most, base - _IN_ITS_TURN * (base - totals[best]))
    near = [i for i in rivals if steps[i][0] != "last" and totals[i] <= most]
    return min({best, *near}, key=lambda i: (options.manner(*steps[i]), totals[i], i))


def expected_cost_of_order(
    chances: Sequence[float], costs: Sequence[float], order: Sequence[int]
) -> float:
    """Return the expected cost of doing actions in an order until one works.

    Single fault, perfect actions, each checked before the next: the sum of each cost times
    the probability that it is reached.

    Source:
        Gluss, Oper. Res. 7:468 (1959); Kadane and Simon (1977).
    """
    left, total = 1.0, 0.0
    for action in order:
        total += left * costs[action]
        left -= chances[action]
    return total


def order_by_ratio(chances: Sequence[float], costs: Sequence[float]) -> list[int]:
    """Return the actions by falling probability over cost, the optimum of that model."""
    return sorted(range(len(chances)), key=lambda i: (-chances[i] / costs[i], i))
