"""What fails on sets of a kind, by all reports: counts first, then the share with its range."""

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

import numpy as np

from mendpool.core.evidence import figures
from mendpool.core.evidence.intervals import wilson
from mendpool.core.evidence.sums import Units, amount, units
from mendpool.core.evidence.tally import Column, Tally
from mendpool.core.evidence.weights import NEW_ACCOUNT, SAME_PERSON
from mendpool.core.evidence.words import failing_in_words

MONTHS = 12


class Failing(NamedTuple):
    """One thing that failed.

    Args:
        reports, people: plain counts.
        share: of the repairs whose fault is known, each counting as much as its sender does;
            `low` and `high` are Wilson's 90 % range of it.
        by_month: reports by the month of the repair, January first; dated ones alone.
    """

    component: str
    failure: str | None
    reports: int
    people: int
    share: float
    low: float
    high: float
    by_month: tuple[int, ...]
    says: str


class Failures(NamedTuple):
    """What fails on sets of a kind.

    Args:
        reports, people: how many tell of trouble with such sets, and of how many people.
        known: in how many of them the fault is known.
        by_month: reports by the month of the repair, January first; dated ones alone.
        items: what failed, the most reported first, then by code.
    """

    reports: int
    people: int
    known: int
    by_month: tuple[int, ...]
    items: tuple[Failing, ...]


def failing(
    tally: Tally,
    wanted: Mapping[str, str | int],
    can_fail: Callable[[str], bool],
    most: int,
) -> Failures:
    """Return what fails on the sets that may be of a kind.

    A report that does not say what decides it stays in, as everywhere; so what no such set
    has, by `can_fail`, is left out.

    Args:
        tally: the counts.
        wanted: machine fields, each with the code that it must not be known to differ from.
        can_fail: whether a set of this kind may have a component.
        most: how many things are told.
    """
    kinds = np.array(
        [
            all(kind.get(field, code) == code for field, code in wanted.items())
            for kind in tally.kinds
        ],
        dtype=np.bool_,
    )
    chosen = kinds[tally.kind] if len(tally.kinds) else np.zeros(0, dtype=np.bool_)
    possible = np.array([can_fail(name.split("/")[0]) for name in tally.faults], dtype=np.bool_)
    mine = np.flatnonzero(chosen[tally.owner] & possible[tally.fault])
    owner, fault = tally.owner[mine], tally.fault[mine]
    known = np.unique(owner)
    mass = np.zeros(len(tally.kind), dtype=np.int64)
    mass[known] = units(_weights(tally.group[known], tally.new[known]))
    order = np.argsort(fault, kind="stable")
    names, begins = np.unique(fault[order], return_index=True)
    of_each = np.split(owner[order], begins[1:])[: len(names)]
    found = sorted(
        [
            (-len(rows), tally.faults[name], rows)
            for name, rows in zip(names, of_each, strict=True)
        ],
        key=lambda one: one[:2],
    )
    return Failures(
        reports=int(chosen.sum()),
        people=len(np.unique(tally.group[chosen])),
        known=len(known),
        by_month=_by_month(tally.month[chosen]),
        items=tuple(
            _one(tally, name, rows, mass, len(known)) for _, name, rows in found[:most]
        ),
    )


def _one(tally: Tally, fault: str, rows: Column, mass: Units, known: int) -> Failing:
    component, _, failure = fault.partition("/")
    # In whole units: the same in whatever order the reports lie.
    worth, all_of_it = amount(int(mass[rows].sum())), amount(int(mass.sum()))
    low, high = wilson(worth, all_of_it)
    reports, people = len(rows), len(np.unique(tally.group[rows]))
    return Failing(
        component=component,
        failure=failure or None,
        reports=reports,
        people=people,
        share=figures.share(worth / all_of_it),
        low=figures.share(low),
        high=figures.share(high),
        by_month=_by_month(tally.month[rows]),
        says=failing_in_words(reports, known, people, (low, high)),
    )


def _weights(group: Column, new: Column) -> Column:
    """What each report counts for: no one's many pass for many people's.

    As `weights.weigh` has it for the reports of one question, likeness aside.
    """
    _, place, mass = np.unique(group, return_inverse=True, return_counts=True)
    factor = 1.0 / (1.0 + (mass[place] - 1.0) * SAME_PERSON)
    weights: Column = factor * np.where(new, NEW_ACCOUNT, 1.0)
    return weights


def _by_month(months: Column) -> tuple[int, ...]:
    counted: list[Any] = np.bincount(months, minlength=MONTHS + 1)[1 : MONTHS + 1].tolist()
    return tuple(counted)
