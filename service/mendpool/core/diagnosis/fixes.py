"""What worked for others: plain counts, people, ranges, and the chance for this fault."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
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
from mendpool.core.evidence.durability import Watched, holding_at
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

_AT_MONTHS = 12
_REPORTS_SHOWN = 5


@dataclass
class _Tally:
    tried: int = 0
    fixed: int = 0
    cured: int = 0
    people: set[int] = field(default_factory=set)
    weights: list[float] = field(default_factory=list)
    successes: list[float] = field(default_factory=list)
    minutes: list[float] = field(default_factory=list)
    cost: list[float] = field(default_factory=list)
    reports: list[tuple[float, str]] = field(default_factory=list)
    watched: list[Watched] = field(default_factory=list)
    silent: int = 0


def tallies(
    cases: Sequence[tuple[Case, float]], protections: frozenset[str]
) -> dict[tuple[str, str], _Tally]:
    """Count each fix over the cases; get-bys are not among them."""
    counted: dict[tuple[str, str], _Tally] = defaultdict(_Tally)
    for case, weight in cases:
        cures = cured_by(case)
        for attempt in case.attempts:
            if not is_try(attempt) or gets_by(case, attempt, protections):
                continue
            tally = counted[(attempt.component, attempt.action)]
            _count(tally, case, attempt, weight, is_cure=attempt in cures)
    return counted


def _count(tally: _Tally, case: Case, attempt: Tried, weight: float, *, is_cure: bool) -> None:
    credit = weight / attempt.shared
    tally.tried += 1
    tally.people.add(case.group)
    tally.weights.append(credit)
    tally.reports.append((weight, case.id))
    if attempt.minutes is not None:
        tally.minutes.append(attempt.minutes)
    if attempt.cost is not None:
        tally.cost.append(attempt.cost)
    if not is_cure:
        return
    tally.fixed += 1
    tally.cured += 1
    tally.successes.append(credit)
    if not case.followups:
        tally.silent += 1
        return
    returned = [f for f in case.followups if f.state == "returned"]
    end = returned[0] if returned else case.followups[-1]
    tally.watched.append(Watched(float(end.months), bool(returned)))


def chances(
    beliefs: Beliefs, knowledge: Knowledge, cases: Sequence[tuple[Case, float]]
) -> dict[tuple[str, str], dict[int, float]]:
    """Return P(works | cause) of each remedy, by fix and row: catalogue plus what was seen.

    Eight pseudo-tries of the catalogue against weighted tries on repairs with that cause.
    """
    seen: dict[int, dict[str, tuple[float, float]]] = {}
    for (_, action, row), counts in _seen_by_cause(knowledge, cases).items():
        seen.setdefault(row, {})[action] = counts
    table: dict[tuple[str, str], dict[int, float]] = defaultdict(dict)
    possible = beliefs.probability > 0
    for row, written in enumerate(_written(knowledge)):
        if not possible[row]:
            continue
        component = knowledge.causes[row].component
        counted = seen.get(row)
        if counted is None:
            for action, expected in written.items():
                table[component, action][row] = expected
            continue
        for action in sorted({*written, *counted}):
            worked, tried = counted.get(action, (0.0, 0.0))
            expected = cure_of(knowledge, row, action)
            q = (8.0 * expected + worked) / (8.0 + tried)
            table[component, action][row] = min(q, _SUREST)
    return dict(table)


@lru_cache(maxsize=4)
def _written(knowledge: Knowledge) -> tuple[Mapping[str, float], ...]:
    """By row, what the catalogue expects of each action that is written there."""
    return tuple(
        {
            action: min(cure_of(knowledge, row, action), _SUREST)
            for action in sorted({remedy.action for remedy in cause.remedies})
        }
        for row, cause in enumerate(knowledge.causes)
    )


def offered(
    cures: Mapping[tuple[str, str], Mapping[int, float]], knowledge: Knowledge, machine: Machine
) -> dict[tuple[str, str], dict[int, float]]:
    """Return the cures that can be done on this set, as the remedies' own `only` says."""
    barred = _barred(knowledge, knowledge.kind_key(machine))
    kept: dict[tuple[str, str], dict[int, float]] = {}
    for (component, action), rows in cures.items():
        can = {row: q for row, q in rows.items() if (row, action) not in barred}
        if can:
            kept[component, action] = can
    return kept


@lru_cache(maxsize=1024)
def _barred(
    knowledge: Knowledge, kind: tuple[str | int | None, ...]
) -> frozenset[tuple[int, str]]:
    """The actions on causes that are written for other kinds of set only."""
    machine = knowledge.machine_of(kind)
    barred = set()
    for row, cause in enumerate(knowledge.causes):
        for action in {remedy.action for remedy in cause.remedies}:
            named = [remedy.only for remedy in cause.remedies if remedy.action == action]
            if not any(admits(only, machine) for only in named):
                barred.add((row, action))
    return frozenset(barred)


def _seen_by_cause(
    knowledge: Knowledge, cases: Sequence[tuple[Case, float]]
) -> dict[tuple[str, str, int], tuple[float, float]]:
    """Weighted (worked, tried) of each fix on repairs whose cause is known, by cause.

    Get-bys are not among them, so that none is ever taken for a fix.
    """
    protections = frozenset(knowledge.catalogue.sets.protections)
    seen: dict[tuple[str, str, int], tuple[float, float]] = {}
    for case, weight in cases:
        for row in (knowledge.row[key] for key in case.causes if key in knowledge.row):
            component = knowledge.causes[row].component
            for attempt in case.attempts:
                if attempt.component != component or gets_by(case, attempt, protections):
                    continue
                if is_try(attempt):
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
    counted: Mapping[tuple[str, str], _Tally],
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
    chance = {
        fix: figures.share(fsum([probability[row] * q for row, q in rows.items()]))
        for fix, rows in cures.items()
    }
    repairs = sum(1 for case, _ in cases if cured_by(case) and not case.defeated)
    fixes = sorted(
        {*(f for f, c in chance.items() if c >= 0.01), *(f for f in counted if f in chance)},
        key=lambda fix: (-chance[fix], fix),
    )
    ground = _Ground(knowledge, fit, kind)
    return tuple(
        _shown(fix, chance[fix], counted.get(fix, _Tally()), repairs, ground)
        for fix in fixes[:limit]
    )


class _Ground(NamedTuple):
    """What figures of a fix lean on: the catalogue, the pool and the kind of the set."""

    knowledge: Knowledge
    fit: Fit
    kind: Mapping[str, str | int]


def _shown(
    fix: tuple[str, str],
    chance: float,
    tally: _Tally,
    repairs: int,
    ground: _Ground,
) -> FixShown:
    component, action = fix
    worth = fsum(sorted(tally.weights))
    worked = fsum(sorted(tally.successes))
    low, high = wilson(worked, worth)
    rate = low_shown = high_shown = None
    if tally.tried:
        rates = ground.fit.fixes.get(f"{component} {action}")
        mean, strength = expected_rate(rates, ground.kind)
        held = _STRENGTH if rates is None else min(strength, _STRENGTH_MOST)
        rate = figures.share(shrunk_mean(worked, worth, mean, held))
        low_shown, high_shown = figures.share(low), figures.share(high)
    best = sorted(tally.reports, key=lambda r: (-r[0], r[1]))[:_REPORTS_SHOWN]
    return FixShown(
        component=component,
        action=action,
        tried=tally.tried,
        fixed=tally.fixed,
        people=len(tally.people),
        cured=tally.cured,
        repairs=repairs,
        worth=round(worth, 1),
        rate=rate,
        low=low_shown,
        high=high_shown,
        chance=chance,
        holding_12_months=_holding(tally),
        minutes=minutes_of(fix, tally.minutes, ground.knowledge),
        cost=round(median(tally.cost), 2) if tally.cost else None,
        reports=tuple(report for _, report in best),
        says=fix_in_words(
            Counts(tally.fixed, tally.tried, len(tally.people), tally.cured, repairs),
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


def _holding(tally: _Tally) -> Holding | None:
    if not tally.cured:
        return None
    at = holding_at(tally.watched, _AT_MONTHS)
    longest = int(max((w.months for w in tally.watched), default=0))
    says = holding_in_words(at, tally.silent, longest)
    if at is None or at.followed < 5 or at.seen_that_long < 3:
        return Holding(share=None, low=None, high=None, followed=len(tally.watched), says=says)
    return Holding(
        share=figures.share(at.share),
        low=figures.share(at.low),
        high=figures.share(at.high),
        followed=at.followed,
        says=says,
    )
