"""Minutes to running: a plan followed step by step on a set whose fault is known."""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from random import Random
from typing import NamedTuple

import numpy as np
import yaml

from mendpool.core.catalogue.admits import admits
from mendpool.core.diagnosis.beliefs import Beliefs, cure_of
from mendpool.core.diagnosis.board import LAST_RESORT
from mendpool.core.diagnosis.knowledge import Array, Knowledge
from mendpool.core.record.report import Attempt, Observation, Question

from tests.bench.diagnosis.sides import Held, without_reports
from tests.bench.diagnosis.simulator.pool import Drawn
from tests.bench.diagnosis.simulator.world import World

_STEPS_MOST = 30
_LISTED_FIXES = 5  # whoever goes by a list without probabilities calls someone after so many
_SURE_ENOUGH = 0.5  # a mechanic mends when one cause is likelier than all others together

Fix = tuple[str, str]


class Trip(NamedTuple):
    """How it went: minutes in all, whether it ran without calling anyone, steps made."""

    minutes: float
    running: bool
    steps: int


class Set:
    """The set in trouble. Whoever tests or mends it, the same thing comes of it."""

    def __init__(self, world: World, drawn: Drawn) -> None:
        self.world = world
        self.drawn = drawn
        self._seed = drawn.asked.case.id

    def test(self, check: str) -> str:
        """Return what a check shows; asked twice it shows the same."""
        rng = Random(f"{self._seed} {check}")
        return self.world.draw_result(check, self.drawn.fault.row, self.drawn.machine, rng)

    def mend(self, fix: Fix) -> bool:
        """Tell whether a fix cures it; what failed before the question fails again."""
        if any(t.fix == fix for t in self.drawn.work):
            return False
        return Random(f"{self._seed} {fix}").random() < self.world.cure(
            self.drawn.fault.row, fix
        )


def by_our_plan(held: Held, trouble: Set) -> Trip:
    """Follow our plan: do its first step, tell what came of it, ask again."""
    question = trouble.drawn.asked.question
    minutes = 0.0
    for count in range(1, _STEPS_MOST + 1):
        step = next(s for s in held.answer(question).plan if s.do != "prove")
        if step.do == "test" and step.check is not None:
            minutes += held.engine.catalogue.checks[step.check].minutes
            question = told(question, step.check, trouble.test(step.check))
        elif step.do == "fix" and step.component and step.action:
            fix = (step.component, step.action)
            minutes += trouble.world.price(fix)
            if trouble.mend(fix):
                return Trip(minutes, True, count)
            question = failed(question, fix)
        else:
            return Trip(minutes + LAST_RESORT, False, count)
    return Trip(minutes + LAST_RESORT, False, _STEPS_MOST)


def by_causes(causes: Sequence[str], knowledge: Knowledge, trouble: Set) -> Trip:
    """Mend the first causes of a list one after another, then call someone."""
    rows = [knowledge.row[key] for key in causes if key in knowledge.row]
    fixes = list(dict.fromkeys(best_fix(knowledge, row, trouble.world) for row in rows))
    return by_fixes(fixes[:_LISTED_FIXES], trouble)


def by_fixes(fixes: Sequence[Fix], trouble: Set, spent: float = 0.0, steps: int = 0) -> Trip:
    """Do fixes in order until one cures; then call someone."""
    minutes = spent
    for count, fix in enumerate(fixes, start=1):
        minutes += trouble.world.price(fix)
        if trouble.mend(fix):
            return Trip(minutes, True, steps + count)
    return Trip(minutes + LAST_RESORT, False, steps + len(fixes) + 1)


def most_likely_first(belief: Array, knowledge: Knowledge, trouble: Set) -> Trip:
    """Mend by falling probability, given up after the prefix that is best in expectation."""
    rows = [int(r) for r in np.argsort(-belief[:-1], kind="stable")[:25]]
    fixes = list(dict.fromkeys(best_fix(knowledge, row, trouble.world) for row in rows))
    return by_fixes(_worth_doing(fixes, belief, knowledge, trouble), trouble)


def cheapest_first(belief: Array, knowledge: Knowledge, trouble: Set) -> Trip:
    """Mend by cost alone among causes that are thinkable, given up as above."""
    rows = [r for r in range(len(knowledge.keys)) if belief[r] >= 0.02]
    fixes = {best_fix(knowledge, row, trouble.world) for row in rows}
    order = sorted(fixes, key=lambda fix: (trouble.world.price(fix), fix))
    return by_fixes(_worth_doing(order, belief, knowledge, trouble), trouble)


def by_a_mechanic(held: Held, trouble: Set) -> Trip:
    """Walk round, then checks in a fixed order; mend as soon as one cause stands out."""
    engine, question = held.engine, trouble.drawn.asked.question
    knowledge, catalogue = engine.knowledge, engine.catalogue
    symptoms = held.symptoms(question)
    codes = [c.code for c in catalogue.checks.values() if c.walkround]
    codes += _mechanics_order().get(symptoms[0], []) if symptoms else []
    barred = set(catalogue.symptoms[symptoms[0]].cannot) if symptoms else set()
    minutes, steps = 0.0, 0
    beliefs = without_reports(engine, question)
    for code in codes:
        check = catalogue.checks[code]
        sure = float(beliefs.probability[:-1].max())
        if sure >= _SURE_ENOUGH and not check.walkround:
            break
        asked = {o.check for o in question.observations}
        if (
            code in asked
            or check.state in barred
            or not admits(check.only, trouble.drawn.machine)
        ):
            continue
        minutes, steps = minutes + check.minutes, steps + 1
        question = told(question, code, trouble.test(code))
        beliefs = without_reports(engine, question)
    return _mended(beliefs, knowledge, trouble, minutes, steps)


def best_fix(knowledge: Knowledge, row: int, world: World) -> Fix:
    """Return the remedy of a cause with the most cure a minute, by the catalogue."""
    cause = knowledge.causes[row]
    fixes = [((cause.component, r.action), r.works) for r in cause.remedies]
    return max(fixes, key=lambda pair: (pair[1] / world.price(pair[0]), pair[0]))[0]


def told(question: Question, check: str, found: str) -> Question:
    """Return the question with one more thing seen."""
    more = (*question.observations, Observation(check=check, found=found))
    return question.model_copy(update={"observations": more})


def failed(question: Question, fix: Fix) -> Question:
    """Return the question with one more thing tried for nothing."""
    more = Attempt(component=fix[0], action=fix[1], result="no-change")
    return question.model_copy(update={"tried": (*question.tried, more)})


def _mended(
    beliefs: Beliefs, knowledge: Knowledge, trouble: Set, minutes: float, steps: int
) -> Trip:
    belief = beliefs.probability
    rows = [int(r) for r in np.argsort(-belief[:-1], kind="stable")[:25]]
    fixes = list(dict.fromkeys(best_fix(knowledge, row, trouble.world) for row in rows))
    kept = _worth_doing(fixes, belief, knowledge, trouble)
    return by_fixes(kept, trouble, minutes, steps)


def _worth_doing(
    fixes: Sequence[Fix], belief: Array, knowledge: Knowledge, trouble: Set
) -> Sequence[Fix]:
    """The prefix with the least expected minutes, the last resort after it."""
    left = belief.copy()
    cost, best, keep = 0.0, LAST_RESORT * float(left.sum()), 0
    for count, fix in enumerate(fixes, start=1):
        cost += float(left.sum()) * trouble.world.price(fix)
        for row in knowledge.rows_of_component.get(fix[0], ()):
            left[row] *= 1 - cure_of(knowledge, row, fix[1])
        value = cost + LAST_RESORT * float(left.sum())
        if value < best:
            best, keep = value, count
    return fixes[:keep]


@lru_cache(maxsize=1)
def _mechanics_order() -> Mapping[str, list[str]]:
    path = Path(__file__).parent / "simulator" / "mechanic.yaml"
    entries = yaml.safe_load(path.read_text("utf-8"))
    return {code: entry["checks"] for entry in entries for code in entry["for"]}
