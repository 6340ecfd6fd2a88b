"""The steps to take, in order, each with why: safety first, then minutes.

The one-minute walk-round comes before any part is touched. After it each step is the best
by one step of lookahead, believing the likeliest result of the step before.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from mendpool.core.catalogue.admits import admits
from mendpool.core.catalogue.gates import Gate
from mendpool.core.catalogue.model import Check
from mendpool.core.diagnosis.beliefs import Beliefs
from mendpool.core.diagnosis.decide import Choice, Options, choose
from mendpool.core.diagnosis.facts import Facts
from mendpool.core.diagnosis.gates import gate_step
from mendpool.core.diagnosis.knowledge import Array, Knowledge
from mendpool.core.diagnosis.steps import Fix, call_step, cost_of, fix_steps, test_step
from mendpool.core.evidence import figures
from mendpool.core.evidence.words import in_ten
from mendpool.core.record.answer import Step

LAST_RESORT = 300.0
"""Minutes that calling someone counts for: half a day's wait and the bill. Common practice."""

_STEPS = 8
_REPAIRS, _TESTS, _CAUSES = 40, 36, 80
_CLOSE = 0.05
_TELLS = 0.5
"""A look taken rather than giving up pays back this share of its own minutes at least."""
_SURE = 0.5
_SOON = 2
_WORTH_OFFERING = 0.02
"""A fix with less chance than this is not put into a plan: nobody believes in it."""

_POINTED_AT, _LIKELY_ENOUGH = 2, 0.05
"""Where every look is expected to come up clear, the fixes they may point at are named."""


@dataclass(frozen=True, slots=True)
class Plan:
    """The steps, what they are expected to take, and the codes that the first ones touch.

    Later steps carry their own cautions: shown all at once they would drown the first.
    """

    steps: tuple[Step, ...]
    expected: float
    components: frozenset[str]
    actions: frozenset[str]
    checks: frozenset[str]
    topics: frozenset[str]


@dataclass(frozen=True, slots=True)
class _Board:
    """The choices laid out as arrays over the likelier causes."""

    options: Options
    fixes: tuple[Fix, ...]
    checks: tuple[Check, ...]
    rows: tuple[int, ...]
    belief: Array


def make_plan(
    facts: Facts,
    beliefs: Beliefs,
    knowledge: Knowledge,
    cures: Mapping[Fix, Mapping[int, float]],
    reported_minutes: Mapping[Fix, Sequence[float]],
    gates: Sequence[Gate] = (),
) -> Plan:
    """Return the plan for what is believed now; what must be made safe first stands first."""
    board = _board(facts, beliefs, knowledge, cures, reported_minutes)
    steps: list[Step] = []
    belief = board.belief
    first = choose(belief, board.options, range(len(board.fixes)), range(len(board.checks)))
    expected = first.expected
    for check in _walk_rounds(facts, knowledge):
        steps.append(test_step(check, saves=None))
        expected += check.minutes
        belief = _after_all_right(belief, check, knowledge, board)
    told = _Told(board, knowledge, beliefs, reported_minutes)
    steps += _likely_steps(told, belief)
    if all(step.do != "fix" for step in steps):
        steps += _pointed_at(told)
    soon = steps[:_SOON]
    steps.append(call_step(anything_before=bool(steps)))
    safe = [gate_step(gate) for gate in gates]
    return Plan(
        steps=(*safe, *steps),
        expected=figures.minutes(expected),
        components=frozenset(s.component for s in soon if s.component is not None),
        actions=frozenset(s.action for s in soon if s.action is not None),
        checks=frozenset(s.check for s in soon if s.check is not None),
        topics=frozenset(topic for s in (*safe, *soon) for topic in s.cautions),
    )


@dataclass(frozen=True, slots=True)
class _Told:
    """What the steps are told from."""

    board: _Board
    knowledge: Knowledge
    beliefs: Beliefs
    reported_minutes: Mapping[Fix, Sequence[float]]

    def fix(self, which: int, chance: float, says: str) -> list[Step]:
        fix = self.board.fixes[which]
        return fix_steps(fix, chance, self.knowledge, self.beliefs, self.reported_minutes, says)


def _likely_steps(told: _Told, belief: Array) -> list[Step]:
    """The best step, then the best one if that came out as it likeliest will, and so on."""
    steps: list[Step] = []
    options = told.board.options
    open_tests = list(range(len(told.board.checks)))
    open_repairs = list(range(len(told.board.fixes)))
    for _ in range(_STEPS):
        pick = choose(belief, options, open_repairs, open_tests)
        pick = _rather_a_look(pick, belief, options)
        mass = max(float(belief.sum()), 1e-12)
        if pick.do == "test":
            saves = (pick.base - pick.expected) / mass
            steps.append(test_step(told.board.checks[pick.which], saves))
            table = options.tests[pick.which]
            after = belief * table[int((table @ belief).argmax())]
            open_tests.remove(pick.which)
        else:
            chance = (
                0.0 if pick.do == "last" else float(options.cures[pick.which] @ belief) / mass
            )
            if chance < _WORTH_OFFERING:
                break
            says = "{}: {}. If it comes to this, " + in_ten(chance) + " that it cures."
            if pick.runner_up - pick.expected < _CLOSE * pick.expected:
                says += " Another first step would be as good: either is fine."
            steps += told.fix(pick.which, chance, says)
            after = belief * (1.0 - options.cures[pick.which])
            open_repairs.remove(pick.which)
        belief = after / max(float(after.sum()), 1e-300)
    return steps


def _pointed_at(told: _Told) -> list[Step]:
    """The fixes that the looks may point at, where each is expected to come up clear."""
    chances = told.board.options.cures @ told.board.belief
    steps: list[Step] = []
    for which in chances.argsort(kind="stable")[::-1][:_POINTED_AT]:
        chance = float(chances[which])
        if chance >= _LIKELY_ENOUGH:
            says = "{}: {}, if a look points at it (" + in_ten(chance) + " as things stand)."
            steps += told.fix(int(which), chance, says)
    return steps


def _board(
    facts: Facts,
    beliefs: Beliefs,
    knowledge: Knowledge,
    cures: Mapping[Fix, Mapping[int, float]],
    reported_minutes: Mapping[Fix, Sequence[float]],
) -> _Board:
    likely = np.argsort(-beliefs.probability[:-1], kind="stable")[:_CAUSES]
    rows = [
        *sorted(int(i) for i in likely if beliefs.probability[i] > 1e-5),
        len(knowledge.keys),
    ]
    at = {row: i for i, row in enumerate(rows)}
    belief = beliefs.probability[rows]
    done = {(a.component, a.action) for a in facts.tried if a.result != "part-no-good"}
    gain = {
        fix: sum(beliefs.probability[r] * q for r, q in table.items() if r in at)
        for fix, table in cures.items()
        if fix not in done
    }
    fixes = tuple(sorted(gain, key=lambda f: (-gain[f], f))[:_REPAIRS])
    table = np.zeros((len(fixes), len(rows)))
    costs = np.zeros(len(fixes))
    for i, fix in enumerate(fixes):
        for row, q in cures[fix].items():
            if row in at:
                table[i, at[row]] = q
        costs[i] = cost_of(fix, knowledge, beliefs, reported_minutes)
    checks = _open_checks(facts, knowledge, rows, belief)
    tests = [_table(check, knowledge, beliefs)[:, rows] for check in checks]
    options = Options(table, costs, tests, [c.minutes for c in checks], LAST_RESORT)
    return _Board(options, fixes, checks, tuple(rows), belief)


def _open_checks(
    facts: Facts, knowledge: Knowledge, rows: Sequence[int], belief: Array
) -> tuple[Check, ...]:
    """The checks this set can have, that nobody has answered, that could tell most."""
    answered = set(facts.found or {})
    answered_places = {
        check.reading
        for code in answered
        if (check := knowledge.catalogue.checks.get(code)) is not None and check.reading
    }
    barred = _states_barred(facts, knowledge)
    possible = knowledge.checks_for(knowledge.kind_key(facts.machine))
    spreads = knowledge.spreads(rows, belief)
    worth = []
    for check in knowledge.catalogue.checks.values():
        place_answered = check.reading is not None and check.reading in answered_places
        if check.code in answered or place_answered or check.state in barred:
            continue
        if check.code not in possible or not _may_be_asked(check, facts):
            continue
        spread = spreads[check.code] if check.tells is None else 9.0
        if spread > 0.02:
            worth.append((-spread / check.minutes, check.code, check))
    return tuple(check for _, _, check in sorted(worth, key=lambda w: w[:2])[:_TESTS])


def _may_be_asked(check: Check, facts: Facts) -> bool:
    """Tell whether this set has what the check looks at, and the hands what it needs."""
    return (
        not check.walkround
        and not (check.tells is not None and facts.machine.kind(check.tells) is not None)
        and (not facts.at_hand or set(check.needs) <= set(facts.at_hand))
    )


def _states_barred(facts: Facts, knowledge: Knowledge) -> set[str]:
    """States the set can't or must not be brought to, by the surer symptoms."""
    symptoms = knowledge.catalogue.symptoms
    return {
        state
        for code, sure in facts.symptoms.items()
        if sure >= _SURE and code in symptoms
        for state in symptoms[code].cannot
    }


def _table(check: Check, knowledge: Knowledge, beliefs: Beliefs) -> Array:
    if check.tells is None or beliefs.kind_given_cause is None:
        return knowledge.results[check.code][1]
    # A look that settles the kind of set: its results are the kinds, and what it tells of
    # a cause is how often that cause stands on such a set.
    return beliefs.kind_given_cause


def _rather_a_look(pick: Choice, belief: Array, options: Options) -> Choice:
    """Where giving up is hardly better than a test that tells something, take the test."""
    do, which = pick.next_best
    if pick.do != "last" or do != "test":
        return pick
    costs = options.test_costs[which] * max(float(belief.sum()), 1e-12)
    tells = pick.runner_up - pick.expected <= (1 - _TELLS) * costs
    if tells and pick.runner_up <= (1 + _CLOSE) * pick.expected:
        return Choice(do, which, pick.runner_up, pick.base, pick.expected, ("last", -1))
    return pick


def _walk_rounds(facts: Facts, knowledge: Knowledge) -> list[Check]:
    """The walk-round comes first unless it is already answered."""
    answered = facts.found or {}
    return [
        check
        for check in knowledge.catalogue.checks.values()
        if check.walkround and check.code not in answered and admits(check.only, facts.machine)
    ]


def _after_all_right(belief: Array, check: Check, knowledge: Knowledge, board: _Board) -> Array:
    """What is believed after a walk-round that found nothing: its usual result."""
    table = knowledge.results[check.code][1][:, board.rows]
    usual = int(np.argmax([found.usual for found in check.found.values()]))
    after = belief * table[usual]
    return np.asarray(after / max(float(after.sum()), 1e-300))
