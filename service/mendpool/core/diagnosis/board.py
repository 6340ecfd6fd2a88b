"""What could be done, laid out as arrays over the likelier causes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.model import Check
from mendpool.core.diagnosis.beliefs import Beliefs
from mendpool.core.diagnosis.costs import (
    Price,
    cover_minutes,
    price_of,
    runs_the_set,
)
from mendpool.core.diagnosis.covers import NO_COVER, Covers, Opened
from mendpool.core.diagnosis.cures import Cures, Fix
from mendpool.core.diagnosis.decide import Manner, Options
from mendpool.core.diagnosis.facts import Facts
from mendpool.core.diagnosis.hands import Hands
from mendpool.core.diagnosis.knowledge import Array, Knowledge, ToldBy

LAST_RESORT = 300.0
"""Minutes that calling someone counts for: half a day's wait and the bill. Common practice."""

_REPAIRS, _TESTS, _CAUSES = 40, 36, 80
_SURE = 0.5
_LIKELY = 1e-5
_TELLS_NOTHING, _TELLS_ITSELF = 0.02, 9.0
"""A look whose results are spread less by the causes is left out; one that settles the kind
of set tells of every cause."""


@dataclass(frozen=True, slots=True)
class Board:
    """The choices laid out as arrays over the likelier causes.

    Args:
        options: the arrays.
        fixes, checks: what their rows are.
        prices: of the fixes.
        rows: the causes that the columns are.
        belief: in them, the last "something else".
        opened: the covers that are off already.
        left_out: checks that want a tool, or a helper, not at hand.
    """

    options: Options
    fixes: tuple[Fix, ...]
    checks: tuple[Check, ...]
    prices: tuple[Price, ...]
    rows: tuple[int, ...]
    belief: Array
    opened: Opened
    left_out: tuple[Check, ...]


def lay_out(
    facts: Facts,
    beliefs: Beliefs,
    knowledge: Knowledge,
    cures: Cures,
    reported_minutes: Mapping[Fix, Sequence[float]],
    hands: Hands,
) -> Board:
    """Return the board of a set in trouble."""
    probability = beliefs.probability
    likely = np.argsort(-probability[:-1], kind="stable")[:_CAUSES]
    rows = [*sorted(likely[probability[likely] > _LIKELY].tolist()), len(knowledge.keys)]
    belief = probability[rows]
    fixes, table = _fixes(facts, beliefs, cures, rows)
    listed = probability.tolist()
    prices = tuple([price_of(fix, knowledge, listed, reported_minutes, hands) for fix in fixes])
    told = knowledge.told_by(rows)
    checks, left_out = _open_checks(facts, knowledge, told.spreads(belief), hands)
    catalogue = knowledge.catalogue
    undoable = frozenset(catalogue.planning.undoable)
    options = Options(
        cures=table,
        repair_costs=np.array([price.total for price in prices]),
        tests=[_results_of(check, told, beliefs, rows) for check in checks],
        test_costs=[check.minutes for check in checks],
        last_resort=LAST_RESORT,
        covers=_covers(prices, checks, catalogue),
        repair_manners=[
            Manner(price.band, action not in undoable, price.hazards)
            for (_, action), price in zip(fixes, prices, strict=True)
        ],
        test_manners=[Manner(hazards=len(check.cautions)) for check in checks],
    )
    opened = _off_already(facts, catalogue)
    return Board(options, fixes, checks, prices, tuple(rows), belief, opened, left_out)


def _results_of(check: Check, told: ToldBy, beliefs: Beliefs, rows: Sequence[int]) -> Array:
    """Return P(result | cause) of a check, results in rows."""
    if check.tells is None or beliefs.kind_given_cause is None:
        return told.results_of(check.code)
    # A look that settles the kind of set: its results are the kinds, and what it tells of
    # a cause is how often that cause stands on such a set.
    return beliefs.kind_given_cause[:, rows]


def barred_states(facts: Facts, catalogue: Catalogue) -> set[str]:
    """Return the states the set can't or must not be brought to, by the surer symptoms."""
    symptoms = catalogue.symptoms
    return {
        state
        for code, sure in facts.symptoms.items()
        if sure >= _SURE and code in symptoms
        for state in symptoms[code].cannot
    }


def _fixes(
    facts: Facts,
    beliefs: Beliefs,
    cures: Cures,
    rows: Sequence[int],
) -> tuple[tuple[Fix, ...], Array]:
    """The likeliest fixes that were not tried yet, with P(works | cause)."""
    done = {(a.component, a.action) for a in facts.tried if a.result != "part-no-good"}
    here = np.zeros(len(beliefs.probability))
    here[rows] = beliefs.probability[rows]
    best = [
        place
        for place in np.argsort(-cures.chances(here), kind="stable").tolist()
        if not done or cures.fixes[place] not in done
    ][:_REPAIRS]
    table = cures.table(len(here))[np.ix_(best, rows)]
    return tuple([cures.fixes[place] for place in best]), table


def _open_checks(
    facts: Facts,
    knowledge: Knowledge,
    spreads: Mapping[str, float],
    hands: Hands,
) -> tuple[tuple[Check, ...], tuple[Check, ...]]:
    """The checks this set can have, that nobody has answered, that could tell most.

    Returns:
        Them, and those that would be among them if their tools were at hand.
    """
    answered = set(facts.found or {})
    answered_places = {
        check.reading
        for code in answered
        if (check := knowledge.catalogue.checks.get(code)) is not None and check.reading
    }
    barred = barred_states(facts, knowledge.catalogue)
    worth: list[tuple[float, str, Check]] = []
    without: list[tuple[float, str, Check]] = []
    for check in knowledge.checks_for(knowledge.kind_key(facts.machine)):
        spread = spreads[check.code] if check.tells is None else _TELLS_ITSELF
        if spread <= _TELLS_NOTHING:
            continue
        if check.code in answered or check.state in barred:
            continue
        if check.reading is not None and check.reading in answered_places:
            continue
        if check.tells is not None and facts.machine.kind(check.tells) is not None:
            continue
        entry = (-spread / check.minutes, check.code, check)
        (worth if hands.can(check) else without).append(entry)
    best = sorted(worth, key=lambda w: w[:2])[:_TESTS]
    missed = sorted(without, key=lambda w: w[:2])
    return tuple(check for _, _, check in best), tuple(check for _, _, check in missed)


def _covers(prices: Sequence[Price], checks: Sequence[Check], catalogue: Catalogue) -> Covers:
    number = {code: i for i, code in enumerate(catalogue.openings)}
    return Covers(
        stays=[opening.stays for opening in catalogue.openings.values()],
        of_repair=[number[p.opens] if p.opens else NO_COVER for p in prices],
        saved_by_repair=[p.saved for p in prices],
        of_test=[number[c.opens] if c.opens else NO_COVER for c in checks],
        saved_by_test=[cover_minutes(c.opens, c.minutes, catalogue) for c in checks],
        test_runs=[runs_the_set(c) for c in checks],
    )


def _off_already(facts: Facts, catalogue: Catalogue) -> Opened:
    """Covers that a check answered in this question has had off, if they may stay off.

    What was tried may be weeks ago and closed again since: it opens nothing.
    """
    number = {code: i for i, code in enumerate(catalogue.openings)}
    behind = {
        catalogue.checks[code].opens
        for code in facts.found or {}
        if code in catalogue.checks and not catalogue.checks[code].tells
    }
    return frozenset(
        number[code] for code in behind if code is not None and catalogue.openings[code].stays
    )
