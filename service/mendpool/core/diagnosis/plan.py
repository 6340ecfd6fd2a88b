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
from mendpool.core.diagnosis.board import LAST_RESORT, Board, barred_states, lay_out
from mendpool.core.diagnosis.cautions import OfSteps
from mendpool.core.diagnosis.covers import Opened
from mendpool.core.diagnosis.cures import Cures, Fix
from mendpool.core.diagnosis.decide import CLOSE, Choice, Do, Options, base_value, choose
from mendpool.core.diagnosis.facts import Facts
from mendpool.core.diagnosis.gates import gate_step
from mendpool.core.diagnosis.hands import Hands, hands_of
from mendpool.core.diagnosis.knowledge import Array, Knowledge
from mendpool.core.diagnosis.must_run import Wanted, flags_of, points_to_load, wanted
from mendpool.core.diagnosis.second_fault import what_remains
from mendpool.core.diagnosis.steps import (
    Told,
    call_step,
    fix_steps,
    load_step,
    or_else,
    test_step,
    walk_round_step,
)
from mendpool.core.evidence import figures
from mendpool.core.evidence.words import in_ten
from mendpool.core.record.answer import Flag, Step

_STEPS = 6
"""A step further on than this is made up: every result changes what comes next."""
_LATER_TESTS, _LATER_REPAIRS = 12, 20
"""How many are weighed once the first step is found: the likeliest by then."""
_TELLS = 0.5
"""A look taken rather than giving up pays back this share of its own minutes at least."""
_SOON = 2
_WORTH_OFFERING = 0.02
"""A fix with less chance than this is not put into a plan: nobody believes in it."""

_POINTED_AT, _LIKELY_ENOUGH = 2, 0.05
"""Where hardly a fix is left after the looks, those that they may point at are named."""


@dataclass(frozen=True, slots=True)
class Plan:
    """The steps, what they are expected to take, and what the first ones are warned of with.

    Later steps carry their own cautions: shown all at once they would drown the first.
    `soon` is of the first ones, `safe` the topics of what must be made safe before them.
    `flags` are what a person should know of the plan as a whole.
    """

    steps: tuple[Step, ...]
    expected: float
    soon: OfSteps
    safe: frozenset[str]
    flags: tuple[Flag, ...] = ()

    @property
    def last_resort(self) -> bool:
        """Tell whether there is nothing left to do but make it safe and call someone."""
        return all(step.do in ("safe", "call") for step in self.steps)


def make_plan(  # noqa: PLR0913, PLR0917 - what a plan is made from
    facts: Facts,
    beliefs: Beliefs,
    knowledge: Knowledge,
    cures: Cures,
    reported_minutes: Mapping[Fix, Sequence[float]],
    gates: Sequence[Gate] = (),
    must_run: float | str | None = None,
) -> Plan:
    """Return the plan for what is believed now; what must be made safe first stands first.

    Args:
        facts: the set in trouble.
        beliefs: of its causes.
        knowledge: the catalogue as arrays.
        cures: P(works | cause) of each fix.
        reported_minutes: what fixes took others.
        gates: what must be made safe first.
        must_run: the load that matters, kVA or its name.
    """
    catalogue = knowledge.catalogue
    remaining = what_remains(facts, beliefs, knowledge, cures)
    beliefs, flags = remaining.beliefs, list(remaining.flags)
    hands = hands_of(facts.at_hand, catalogue)
    board = lay_out(facts, beliefs, knowledge, cures, reported_minutes, hands)
    way = _Way(board, Told(board, knowledge, beliefs))
    for check in _walk_rounds(facts, knowledge):
        way.look(walk_round_step(check), check, knowledge)
    load = wanted(must_run, catalogue)
    if load is not None:
        flags += flags_of(load, facts.machine, catalogue)
        first = _load_check(facts, knowledge)
        if first is not None:
            flags.append(_fewer_loads(load))
            way.look(load_step(first, load, catalogue), first, knowledge)
    expected = way.expected()
    way.go_on()
    flags += _missed(hands, board)
    steps = list(way.steps)
    soon = steps[:_SOON]
    steps.append(call_step(anything_before=bool(steps)))
    safe = [gate_step(gate) for gate in gates]
    return Plan(
        steps=(*safe, *steps),
        expected=figures.minutes(expected),
        soon=OfSteps(
            components=frozenset(s.component for s in soon if s.component is not None),
            actions=frozenset(s.action for s in soon if s.action is not None),
            checks=frozenset(s.check for s in soon if s.check is not None),
            topics=frozenset(topic for s in soon for topic in s.cautions),
        ),
        safe=frozenset(topic for step in safe for topic in step.cautions),
        flags=tuple(flags),
    )


class _Way:
    """The steps so far, and what would be believed, open and off after them."""

    def __init__(self, board: Board, told: Told) -> None:
        self.board = board
        self.told = told
        self.steps: list[Step] = []
        self._belief = board.belief
        self._opened: Opened = board.opened
        self._tests = list(range(len(board.checks)))
        self._repairs = list(range(len(board.fixes)))
        self._next: Choice | None = None
        self._ranked: tuple[int, ...] = ()
        self._spent, self._share = 0.0, 1.0

    def expected(self) -> float:
        """Return the minutes in all: of the looks taken, and of what is best after them."""
        return self._spent + self._share * self.choice().expected

    def choice(self) -> Choice:
        """Return the best next step; asked again before a step is taken it is the same."""
        if self._next is None:
            self._next = choose(
                self._belief, self.board.options, self._repairs, self._tests, self._opened
            )
            self._ranked = self._next.tests
        return self._next

    def look(self, step: Step, check: Check, knowledge: Knowledge) -> None:
        """Take a look that no choosing is needed for, as if it came out as it usually does.

        The minutes in all count every way it can come out: the usual one by what is chosen
        then, the others by repairs alone.
        """
        self.steps.append(step)
        table = knowledge.results[check.code][1][:, self.board.rows]
        if check.walkround:
            result = int(np.argmax([found.usual for found in check.found.values()]))
        else:
            result = int((table @ self._belief).argmax())
        codes = [one.code for one in self.board.checks]
        if check.code in codes:
            self._tests.remove(codes.index(check.code))
        after = self._belief * table
        values = base_value(after, self.board.options, self._repairs, self._opened)
        rest = float(values.sum() - values[result])
        self._spent += self._share * (check.minutes + rest)
        self._share *= float(after[result].sum())
        self._believe(after[result])

    def go_on(self) -> None:
        """The best step, then the best one if that came out as it likeliest will, and so on."""
        for number in range(_STEPS):
            if number == 1:
                self._fewer()
            pick = _rather_a_look(self.choice(), self._belief, self.board.options, self._opened)
            if pick.do == "test":
                self._test(pick)
            elif pick.do == "last" or not self._fix(pick):
                break
        if any(step.do == "test" and step.saves is not None for step in self.steps):
            self.steps += self._pointed_at()

    def _fewer(self) -> None:
        """Keep what is likeliest to come next; the first step was found among all."""
        self._tests = [t for t in self._ranked if t in self._tests][:_LATER_TESTS]
        chances = (self.board.options.cures @ self._belief)[self._repairs]
        worth = chances / self.board.options.repair_costs[self._repairs]
        best = np.argsort(-worth, kind="stable")[:_LATER_REPAIRS]
        self._repairs = [self._repairs[i] for i in sorted(best.tolist())]

    def _test(self, pick: Choice) -> None:
        options, which = self.board.options, pick.which
        saves = (pick.base - pick.expected) / max(float(self._belief.sum()), 1e-12)
        step = test_step(
            self.told, which, saves=saves, opened=self._opened, other=self._other(pick)
        )
        self.steps.append(step)
        table = options.tests[which]
        if options.covers is not None:
            self._opened = options.covers.after_test(self._opened, which)
        self._tests.remove(which)
        self._believe(self._belief * table[int((table @ self._belief).argmax())])

    def _fix(self, pick: Choice) -> bool:
        options, which = self.board.options, pick.which
        mass = max(float(self._belief.sum()), 1e-12)
        chance = float(options.cures[which] @ self._belief) / mass
        if chance < _WORTH_OFFERING:
            return False
        says = "{}: {}. If it comes to this, " + in_ten(chance) + " that it cures."
        self.steps += fix_steps(
            self.told, which, chance, says, opened=self._opened, other=self._other(pick)
        )
        if options.covers is not None:
            self._opened = options.covers.after_repair(self._opened, which)
        self._repairs.remove(which)
        self._believe(self._belief * (1.0 - options.cures[which]))
        return True

    def _other(self, pick: Choice) -> str | None:
        """The runner-up in words, with the first step that was chosen."""
        chosen = any(step.or_else for step in self.steps)
        return None if chosen else or_else(self.told, pick)

    def _pointed_at(self) -> list[Step]:
        """The fixes that the looks may point at, where most are expected to come up clear.

        Without a look to point at them they are not worth their minutes: nothing chose them.
        """
        chances = self.board.options.cures @ self.board.belief
        named = {(s.component, s.action) for s in self.steps if s.do == "fix"}
        steps: list[Step] = []
        for which in np.argsort(-chances, kind="stable"):
            chance = float(chances[which])
            if len(named) >= _POINTED_AT or chance < _LIKELY_ENOUGH:
                break
            dear = self.board.options.repair_costs[which] >= LAST_RESORT
            if self.board.fixes[which] not in named and not dear:
                named.add(self.board.fixes[which])
                says = (
                    "{}: {}, if a look points at it (" + in_ten(chance) + " as things stand)."
                )
                steps += fix_steps(self.told, int(which), chance, says, opened=self._opened)
        return steps

    def _believe(self, after: Array) -> None:
        self._belief = np.asarray(after / max(float(after.sum()), 1e-300))
        self._next = None


def _rather_a_look(pick: Choice, belief: Array, options: Options, opened: Opened) -> Choice:
    """Where giving up is hardly better than a test that tells something, take the test."""
    do, which = pick.next_best
    if pick.do != "last" or do != "test":
        return pick
    costs = options.test_cost(which, opened) * max(float(belief.sum()), 1e-12)
    tells = pick.runner_up - pick.expected <= (1 - _TELLS) * costs
    if tells and pick.runner_up <= (1 + CLOSE) * pick.expected:
        last: tuple[Do, int] = ("last", -1)
        return Choice(do, which, pick.runner_up, pick.base, pick.expected, last)
    return pick


def _walk_rounds(facts: Facts, knowledge: Knowledge) -> list[Check]:
    """The walk-round comes first unless it is already answered."""
    answered = facts.found or {}
    return [
        check
        for check in knowledge.walk_rounds
        if check.code not in answered and admits(check.only, facts.machine)
    ]


def _load_check(facts: Facts, knowledge: Knowledge) -> Check | None:
    """The check that sheds and brings back, where what it does may be no more than load."""
    catalogue = knowledge.catalogue
    check = catalogue.checks[catalogue.planning.must_run.check]
    if not points_to_load(facts.symptoms, catalogue) or check.code in (facts.found or {}):
        return None
    if check.state in barred_states(facts, catalogue) or not admits(check.only, facts.machine):
        return None
    return check


def _fewer_loads(load: Wanted) -> Flag:
    return Flag(
        code="fewer-loads",
        says=f"It may be no more than too much load: {load.says} is tried first and alone, "
        "before anything is taken apart.",
    )


def _missed(hands: Hands, board: Board) -> list[Flag]:
    """Say what was not understood of what is at hand, and which look was left out for it."""
    flags = []
    if hands.not_known:
        names = ", ".join(f"“{word}”" for word in hands.not_known)
        flags.append(
            Flag(
                code="not-known-at-hand",
                says=f"Not known as a tool, a part or a helper: {names}. It changed nothing.",
            )
        )
    if board.left_out:
        check = board.left_out[0]
        lacking = ", ".join(
            need.replace("-", " ") for need in check.needs if need not in hands.needs
        )
        flags.append(
            Flag(
                code="not-at-hand",
                says=f"Left out for want of what it needs ({lacking}): {check.label}. It would "
                "tell more than others.",
            )
        )
    return flags
