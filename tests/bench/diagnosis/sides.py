"""One pool, held by each side of the bench: ours, and what people would use instead."""

from collections.abc import Sequence
from time import perf_counter
from typing import NamedTuple

import numpy as np

from mendpool.core.diagnosis.beliefs import Beliefs, believe
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.diagnosis.knowledge import Array
from mendpool.core.diagnosis.result_rates import ResultRates
from mendpool.core.evidence.fit import EMPTY_FIT, fit
from mendpool.core.record.answer import Answer
from mendpool.core.record.report import Question
from mendpool.index.postings import Postings

from tests.bench.diagnosis.baselines import Bm25, Fuzzy
from tests.bench.diagnosis.simulator.pieces import pieces
from tests.bench.diagnosis.simulator.pool import Drawn
from tests.bench.diagnosis.simulator.voice import TELL
from tests.bench.diagnosis.simulator.world import World

Order = list[str]
_LEAST = 1e-4


class Held:
    """A pool that is learned from and searched."""

    def __init__(self, engine: Engine, pool: Sequence[Drawn]) -> None:
        self.pool = pool
        asked = [drawn.asked for drawn in pool]
        self.asked = asked
        self.by_id = {drawn.asked.case.id: drawn for drawn in pool}
        learned = fit((a.case for a in asked), engine.expectations) if asked else EMPTY_FIT
        self.engine = engine.with_fit(learned)
        self.postings = Postings()
        for a in asked:
            self.postings.add(a.case)
        self.bm25 = Bm25(asked)
        self.fuzzy = Fuzzy(asked)
        self.times: list[float] = []

    def answer(self, question: Question, *, timed: bool = True) -> Answer:
        """Return our answer, as the service would give it; its time is kept if `timed`."""
        started = perf_counter()
        understood = self.engine.understand(question)
        cases = self.postings.search(self.engine.search_terms(understood))
        answer = self.engine.answer(question, understood, cases, len(self.pool))
        if timed:
            self.times.append((perf_counter() - started) * 1000)
        return answer

    def symptoms(self, question: Question) -> tuple[str, ...]:
        """Return what our reader makes of the complaint, surest first."""
        facts = self.engine.understand(question).facts
        return tuple(sorted(facts.symptoms, key=lambda code: (-facts.symptoms[code], code)))


class Said(NamedTuple):
    """Our causes in order, the probabilities by cause, and what is left to the rest."""

    causes: Order
    given: dict[str, float]
    rest: float

    def of(self, truth: str | None) -> float:
        """Return the probability given to the truth; None is "something else"."""
        return self.given.get(truth or "", self.rest)


def said_by(answer: Answer, known: int) -> Said:
    """Return the causes of an answer; what it leaves unsaid is shared by those not shown."""
    given = {
        f"{c.component}/{c.failure}" if c.component else "": c.probability
        for c in answer.causes
    }
    unshown = max(1, known + 1 - len(given))
    rest = max(_LEAST, (1 - sum(given.values())) / unshown)
    return Said([cause for cause in given if cause], given, rest)


def without_reports(engine: Engine, question: Question) -> Beliefs:
    """Return what the catalogue alone believes, for policies that look before they mend."""
    facts = engine.understand(question).facts
    return believe(
        facts, engine.knowledge, ResultRates(engine.knowledge, EMPTY_FIT), engine.word_rates, []
    )


def ceiling(world: World, drawn: Drawn, *, hears_tells: bool = True) -> Array:
    """Return what a mind believes that knows the world's own numbers, the set and the symptom.

    It hears the complaint rightly, knows what gives a fault away, and every frequency: no
    method that learns from reports can do better in the long run.
    """
    knowledge = world.knowledge
    joint = world.joint(drawn.machine)
    column = knowledge.column[drawn.fault.symptom]
    others = [knowledge.column[code] for code in drawn.fault.others]
    belief = np.append(joint[:, column], 0.0)
    usual = np.maximum(joint.sum(axis=1), 1e-12)
    for other in others:
        belief[:-1] *= joint[:, other] / usual
    belief[-1] = 0.03 / 0.97 * max(belief.sum(), 1e-12)
    told = hears_tells and "given away" in drawn.tags
    for row, key in enumerate(knowledge.keys):
        if told:
            belief[row] *= 1.0 if key == drawn.key else 0.0
        elif hears_tells and key in _tells():
            belief[row] *= 1 - TELL
    for observed in drawn.looked:
        codes, table = world.results[observed[0]]
        likelihood = table[codes.index(observed[1])]
        belief = belief * (0.92 * likelihood + 0.06 * likelihood.mean() + 0.02 / len(codes))
    for work in drawn.work if "something tried" in drawn.tags else ():
        for row in range(len(knowledge.keys)):
            works = world.cure(row, work.fix)
            belief[row] *= (1.0 - works) if work.result == "no-change" else float(works == 0.0)
    return np.asarray(belief / max(belief.sum(), 1e-300))


def _tells() -> frozenset[str]:

    return frozenset(pieces().tells)
