"""What worked for others: plain counts, people, ranges, and the chance for this fault."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from math import fsum
from statistics import median
from typing import NamedTuple

import numpy as np

from mendpool.core.diagnosis.beliefs import Beliefs
from mendpool.core.diagnosis.cures import Cures, Fix
from mendpool.core.diagnosis.knowledge import Knowledge
from mendpool.core.evidence import figures
from mendpool.core.evidence.attempts import Try
from mendpool.core.evidence.case import Case, is_cured
from mendpool.core.evidence.durability import holding_at, watched
from mendpool.core.evidence.families import expected_rate
from mendpool.core.evidence.fit import Fit
from mendpool.core.evidence.intervals import shrunk_mean, wilson
from mendpool.core.evidence.words import Counts, fix_in_words, holding_in_words
from mendpool.core.record.answer import FixShown, Holding

_STRENGTH, _STRENGTH_MOST = 4.0, 10.0
"""Tries that what is expected counts for, where the pool holds none, and at most: the reports
that are shown are part of the pool as well."""

_AT_MONTHS = 12
_REPORTS_SHOWN = 5
_LEAST_CHANCE = 0.01
"""A fix that nobody like the asker has tried is shown from this chance on."""


Tries = Mapping[Fix, Sequence[Try]]


def tallies(tries: Iterable[Try]) -> Tries:
    """Return the tries of each fix."""
    counted: dict[Fix, list[Try]] = defaultdict(list)
    for one in tries:
        counted[one.attempt.component, one.attempt.action].append(one)
    return counted


def minutes_reported(tries: Iterable[Try]) -> list[float]:
    """Return the minutes that tries took, where they were told."""
    return [attempt.minutes for _, attempt, _, _ in tries if attempt.minutes is not None]


def shown_fixes(  # noqa: PLR0913 - everything a fix is shown from, by name
    *,
    beliefs: Beliefs,
    knowledge: Knowledge,
    fit: Fit,
    cases: Sequence[tuple[Case, float]],
    counted: Tries,
    cures: Cures,
    kind: Mapping[str, str | int],
    limit: int,
) -> tuple[FixShown, ...]:
    """Return the fixes most likely to cure this fault, tried before or not.

    Args:
        counted: the `tallies` of the cases.
        kind: the asker's set, whose family the rates lean on.
    """
    gained = (beliefs.probability[cures.rows] * cures.works).tolist()
    ends = np.cumsum(np.bincount(cures.which, minlength=len(cures))).tolist()
    likely = (cures.chances(beliefs.probability) >= 0.9 * _LEAST_CHANCE).tolist()
    chance = {
        fix: figures.share(fsum(gained[begin:end]))
        for fix, is_likely, begin, end in zip(
            cures.fixes, likely, [0, *ends[:-1]], ends, strict=True
        )
        if is_likely or fix in counted
    }
    protections = frozenset(knowledge.catalogue.sets.protections)
    repairs = sum([is_cured(case, protections) for case, _ in cases])
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
