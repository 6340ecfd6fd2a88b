"""What worked for others: plain counts, people, ranges, and the chance for this fault."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from math import fsum
from statistics import median
from typing import NamedTuple

from mendpool.core.catalogue.admits import admits
from mendpool.core.diagnosis.beliefs import Beliefs, cure_of
from mendpool.core.diagnosis.knowledge import Knowledge
from mendpool.core.evidence import figures
from mendpool.core.evidence.attempts import gets_by, is_try
from mendpool.core.evidence.case import Case, Tried, cured_by
from mendpool.core.evidence.durability import holding_at, watched
from mendpool.core.evidence.families import expected_rate
from mendpool.core.evidence.fit import Fit
from mendpool.core.evidence.intervals import shrunk_mean, wilson
from mendpool.core.evidence.words import Counts, fix_in_words, holding_in_words
from mendpool.core.record.answer import FixShown, Holding
from mendpool.core.record.machine import Machine

_SUREST = 0.99
_STRENGTH, _STRENGTH_MOST = 4.0, 10.0
"""Tries that what is expected counts for, where the pool holds none, and at most: the reports
that are shown are part of the pool as well."""

_Works = Sequence[tuple[tuple[str, str], float]]
"""P(works | cause) by fix, of one cause."""

_AT_MONTHS = 12
_REPORTS_SHOWN = 5
_LEAST_CHANCE = 0.01
"""A fix that nobody like the asker has tried is shown from this chance on."""


Try = tuple[Case, Tried, float, bool]
"""A case, its attempt, the weight of the case, and whether it cured."""
Tries = Mapping[tuple[str, str], Sequence[Try]]


def tallies(cases: Sequence[tuple[Case, float]], protections: frozenset[str]) -> Tries:
    """Return the tries of each fix over the cases; get-bys are not among them."""
    counted: dict[tuple[str, str], list[Try]] = defaultdict(list)
    for case, weight in cases:
        if case.defeated:
            continue  # all of it is a get-by
        for attempt in case.attempts:
            if is_try(attempt) and not gets_by(case, attempt, protections):
                counted[attempt.component, attempt.action].append(
                    (case, attempt, weight, attempt.result == "fixed")
                )
    return counted


def minutes_reported(tries: Iterable[Try]) -> list[float]:
    """Return the minutes that tries took, where they were told."""
    return [attempt.minutes for _, attempt, _, _ in tries if attempt.minutes is not None]


def chances(
    beliefs: Beliefs, knowledge: Knowledge, cases: Sequence[tuple[Case, float]]
) -> dict[tuple[str, str], dict[int, float]]:
    """Return P(works | cause) of each remedy, by fix and row: catalogue plus what was seen.

    Eight pseudo-tries of the catalogue against weighted tries on repairs with that cause.
    """
    seen: dict[int, dict[str, tuple[float, float]]] = {}
    for (_, action, row), counts in _seen_by_cause(knowledge, cases).items():
        seen.setdefault(row, {})[action] = counts
    table: dict[tuple[str, str], dict[int, float]] = {}
    possible = (beliefs.probability > 0).tolist()
    for row, written in enumerate(_written(knowledge)):
        if not possible[row]:
            continue
        counted = seen.get(row)
        expected = (
            written if counted is None else _with_counts(written, counted, knowledge, row)
        )
        for fix, works in expected:
            held = table.get(fix)
            if held is None:
                table[fix] = {row: works}
            else:
                held[row] = works
    return table


def _with_counts(
    written: _Works, counted: Mapping[str, tuple[float, float]], knowledge: Knowledge, row: int
) -> _Works:
    """What the catalogue expects of the actions on a cause, with what was seen of them."""
    component = knowledge.causes[row].component
    works = []
    for action in sorted({*(fix[1] for fix, _ in written), *counted}):
        worked, tried = counted.get(action, (0.0, 0.0))
        expected = cure_of(knowledge, row, action)
        q = (8.0 * expected + worked) / (8.0 + tried)
        works.append(((component, action), min(q, _SUREST)))
    return works


@lru_cache(maxsize=4)
def _written(knowledge: Knowledge) -> tuple[_Works, ...]:
    """By row, what the catalogue expects of each action that is written there."""
    return tuple(
        [
            ((cause.component, action), min(cure_of(knowledge, row, action), _SUREST))
            for action in sorted({remedy.action for remedy in cause.remedies})
        ]
        for row, cause in enumerate(knowledge.causes)
    )


def offered(
    cures: Mapping[tuple[str, str], Mapping[int, float]], knowledge: Knowledge, machine: Machine
) -> dict[tuple[str, str], Mapping[int, float]]:
    """Return the cures that can be done on this set, as the remedies' own `only` says."""
    kept = dict(cures)
    for fix, out in _barred(knowledge, knowledge.kind_key(machine)).items():
        rows = kept.get(fix)
        if rows is None:
            continue
        can = {row: q for row, q in rows.items() if row not in out}
        if can:
            kept[fix] = can
        else:
            del kept[fix]
    return kept


@lru_cache(maxsize=1024)
def _barred(
    knowledge: Knowledge, kind: tuple[str | int | None, ...]
) -> Mapping[tuple[str, str], frozenset[int]]:
    """The causes, by fix, for which it is written for other kinds of set only."""
    machine = knowledge.machine_of(kind)
    barred: dict[tuple[str, str], set[int]] = defaultdict(set)
    for row, cause in enumerate(knowledge.causes):
        for action in {remedy.action for remedy in cause.remedies}:
            named = [remedy.only for remedy in cause.remedies if remedy.action == action]
            if not any(admits(only, machine) for only in named):
                barred[cause.component, action].add(row)
    return {fix: frozenset(rows) for fix, rows in barred.items()}


def _seen_by_cause(
    knowledge: Knowledge, cases: Sequence[tuple[Case, float]]
) -> dict[tuple[str, str, int], tuple[float, float]]:
    """Weighted (worked, tried) of each fix on repairs whose cause is known, by cause.

    Get-bys are not among them, so that none is ever taken for a fix.
    """
    protections = frozenset(knowledge.catalogue.sets.protections)
    seen: dict[tuple[str, str, int], tuple[float, float]] = {}
    for case, weight in cases:
        if case.defeated:
            continue
        for row in [knowledge.row[key] for key in case.causes if key in knowledge.row]:
            component = knowledge.causes[row].component
            for attempt in case.attempts:
                if attempt.component != component or not is_try(attempt):
                    continue
                if gets_by(case, attempt, protections):
                    continue
                key = (component, attempt.action, row)
                worked, tried = seen.get(key, (0.0, 0.0))
                credit = weight / attempt.shared
                fixed = credit if attempt.result == "fixed" else 0.0
                seen[key] = (worked + fixed, tried + credit)
    return seen


def shown_fixes(  # noqa: PLR0913 - everything a fix is shown from, by name
    *,
    beliefs: Beliefs,
    knowledge: Knowledge,
    fit: Fit,
    cases: Sequence[tuple[Case, float]],
    counted: Tries,
    cures: Mapping[tuple[str, str], Mapping[int, float]],
    kind: Mapping[str, str | int],
    limit: int,
) -> tuple[FixShown, ...]:
    """Return the fixes most likely to cure this fault, tried before or not.

    Args:
        counted: the `tallies` of the cases.
        kind: the asker's set, whose family the rates lean on.
    """
    probability = beliefs.probability.tolist()
    # No cure of a part is likelier than that it is the part: most need no sum.
    of_part = {
        component: sum([probability[row] for row in rows])
        for component, rows in knowledge.rows_of_component.items()
    }
    chance = {
        fix: figures.share(fsum([probability[row] * q for row, q in rows.items()]))
        for fix, rows in cures.items()
        if of_part[fix[0]] >= 0.9 * _LEAST_CHANCE or fix in counted
    }
    protections = frozenset(knowledge.catalogue.sets.protections)
    repairs = sum(1 for case, _ in cases if cured_by(case, protections))
    fixes = sorted(
        [f for f, c in chance.items() if c >= _LEAST_CHANCE or f in counted],
        key=lambda fix: (-chance[fix], fix),
    )
    ground = _Ground(knowledge, fit, kind, repairs)
    return tuple(
        [_shown(fix, chance[fix], counted.get(fix, ()), ground) for fix in fixes[:limit]]
    )


class _Ground(NamedTuple):
    """What figures of a fix lean on: catalogue, pool, the kind of the set, repairs like it."""

    knowledge: Knowledge
    fit: Fit
    kind: Mapping[str, str | int]
    repairs: int


def _shown(
    fix: tuple[str, str], chance: float, tries: Sequence[Try], ground: _Ground
) -> FixShown:
    component, action = fix
    cured = [case for case, _, _, is_cure in tries if is_cure]
    people = len({case.group for case, _, _, _ in tries})
    worth = fsum([weight / attempt.shared for _, attempt, weight, _ in tries])
    worked = fsum([weight / a.shared for _, a, weight, is_cure in tries if is_cure])
    rate = low_shown = high_shown = None
    if tries:
        rates = ground.fit.fixes.get(f"{component} {action}")
        mean, strength = expected_rate(rates, ground.kind)
        held = _STRENGTH if rates is None else min(strength, _STRENGTH_MOST)
        rate = figures.share(shrunk_mean(worked, worth, mean, held))
        low, high = wilson(worked, worth)
        low_shown, high_shown = figures.share(low), figures.share(high)
    best = sorted([(-weight, case.id) for case, _, weight, _ in tries])[:_REPORTS_SHOWN]
    cost = [attempt.cost for _, attempt, _, _ in tries if attempt.cost is not None]
    return FixShown(
        component=component,
        action=action,
        tried=len(tries),
        fixed=len(cured),
        people=people,
        cured=len(cured),
        repairs=ground.repairs,
        worth=round(worth, 1),
        rate=rate,
        low=low_shown,
        high=high_shown,
        chance=chance,
        holding_12_months=_holding(cured),
        minutes=minutes_of(fix, minutes_reported(tries), ground.knowledge),
        cost=round(median(cost), 2) if cost else None,
        reports=tuple([report for _, report in best]),
        says=fix_in_words(
            Counts(len(cured), len(tries), people, len(cured), ground.repairs),
            (low_shown or 0.0, 1.0 if high_shown is None else high_shown),
            chance,
            rate,
        ),
    )


def minutes_of(
    fix: tuple[str, str], reported: Sequence[float], knowledge: Knowledge
) -> float | None:
    """Return the median of what was reported from three reports on, else the catalogue's."""
    if len(reported) >= 3:
        return figures.minutes(median(reported))
    written = _written_minutes(knowledge, fix)
    if written is not None:
        return written
    return figures.minutes(median(reported)) if reported else None


@lru_cache(maxsize=4096)
def _written_minutes(knowledge: Knowledge, fix: tuple[str, str]) -> float | None:
    """The median of the minutes that the catalogue writes for a fix, whatever its cause."""
    component, action = fix
    written = [
        remedy.minutes
        for row in knowledge.rows_of_component.get(component, ())
        for remedy in knowledge.causes[row].remedies
        if remedy.action == action
    ]
    return figures.minutes(median(written)) if written else None


def _holding(cured: Sequence[Case]) -> Holding | None:
    if not cured:
        return None
    seen = [one for case in cured if (one := watched(case)) is not None]
    at = holding_at(seen, _AT_MONTHS)
    longest = int(max((w.months for w in seen), default=0))
    says = holding_in_words(at, len(cured) - len(seen), longest)
    if at is None or at.followed < 5 or at.seen_that_long < 3:
        return Holding(share=None, low=None, high=None, followed=len(seen), says=says)
    return Holding(
        share=figures.share(at.share),
        low=figures.share(at.low),
        high=figures.share(at.high),
        followed=at.followed,
        says=says,
    )
