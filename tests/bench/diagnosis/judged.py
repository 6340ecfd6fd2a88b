"""Each question judged on every side: ranks, probabilities, similar reports, minutes."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from mendpool.core.diagnosis.board import LAST_RESORT
from mendpool.core.diagnosis.knowledge import Array

from tests.bench.diagnosis.baselines import causes_of, commonest_for_the_symptom
from tests.bench.diagnosis.follow import (
    Set,
    Trip,
    by_a_mechanic,
    by_causes,
    by_our_plan,
    cheapest_first,
    most_likely_first,
)
from tests.bench.diagnosis.sides import Held, Said, ceiling, said_by
from tests.bench.diagnosis.simulator.pool import Drawn, Simulator
from tests.bench.measures import ndcg

OURS, TICKED = "ours", "ours, symptoms ticked rightly"
BEST_POSSIBLE, BEST_DEAF = "the world's own numbers", "the same, deaf to giveaways"
COMMONEST, BM25, FUZZ = "commonest for the symptom", "nearest, BM25", "nearest, RapidFuzz"
LIKELY, CHEAP, MECHANIC = "most likely first", "cheapest first", "a mechanic's fixed order"
FAR = 999


class Shown(NamedTuple):
    """A range that was shown for a fix, with the plain counts behind it."""

    question: int
    fix: tuple[str, str]
    tried: int
    low: float
    high: float


@dataclass
class Table:
    """Everything measured over one pool, by side and question (None: not measured)."""

    reports: int
    ranks: dict[str, list[int]] = field(default_factory=dict)
    truth_given: dict[str, list[float]] = field(default_factory=dict)
    likeness: dict[str, list[float | None]] = field(default_factory=dict)
    trips: dict[str, list[Trip]] = field(default_factory=dict)
    said: list[Said] = field(default_factory=list)
    shown: list[Shown] = field(default_factory=list)
    understood: list[bool] = field(default_factory=list)
    times: list[float] = field(default_factory=list)

    def add(self, side: str, rank: int, given: float | None = None) -> None:
        """Note where the truth stood, and what it was given."""
        self.ranks.setdefault(side, []).append(rank)
        if given is not None:
            self.truth_given.setdefault(side, []).append(given)


def judge_all(
    simulator: Simulator,
    held: Held,
    questions: Sequence[Drawn],
    follow: bool,
    progress: Callable[[int], None] = lambda _: None,
) -> Table:
    """Ask every question on every side.

    Args:
        follow: whether plans are followed to the end as well, the slow part.
    """
    table = Table(reports=len(held.pool))
    for number, drawn in enumerate(questions):
        question = drawn.asked.question
        answer = held.answer(question)
        said = said_by(answer, len(held.engine.knowledge.keys))
        table.said.append(said)
        table.add(OURS, rank(drawn.key, said.causes), said.of(drawn.key))
        table.shown += [
            Shown(number, (f.component, f.action), f.tried, f.low or 0.0, f.high or 1.0)
            for f in answer.fixes
            if f.tried
        ]
        table.understood.append(drawn.fault.symptom in {s.code for s in answer.symptoms})
        lists = _by_words(held, drawn, table)
        _likeness(held, drawn, [s.report for s in answer.similar], lists, table)
        _asides(simulator, held, drawn, table)
        if follow:
            _follow(simulator, held, drawn, lists, table, _as_array(said, held))
        progress(number)
    table.times = held.times
    return table


def rank(truth: str | None, causes: Sequence[str]) -> int:
    """Return the place of the truth, from 1; far away where it is not among them."""
    return causes.index(truth) + 1 if truth in causes else FAR


def _by_words(held: Held, drawn: Drawn, table: Table) -> dict[str, list[str]]:
    """Ask the sides that go by words or counts; return their lists of causes."""
    if not held.pool:
        return {}
    symptoms = held.symptoms(drawn.asked.question)
    case = drawn.asked.case._replace(symptoms=symptoms)
    asked = type(drawn.asked)(case, drawn.asked.question, drawn.key, drawn.asked.words)
    lists = {
        BM25: causes_of(held.bm25.order(asked.words)),
        FUZZ: causes_of(held.fuzzy.order(asked.words)),
        COMMONEST: commonest_for_the_symptom(asked, held.asked),
    }
    for side, causes in lists.items():
        given = None
        if side == COMMONEST:
            given = _share(drawn.key, symptoms, held)
        table.add(side, rank(drawn.key, causes), given)
    return lists


def _share(truth: str | None, symptoms: Sequence[str], held: Held) -> float:
    """The share of the truth among reports of that symptom, one added to each cause."""
    same = [a for a in held.asked if a.truth and set(symptoms[:1]) & set(a.case.symptoms)]
    counts = Counter(a.truth for a in same)
    return (counts[truth] + 1) / (len(same) + len(held.engine.knowledge.keys))


def _likeness(
    held: Held, drawn: Drawn, ours: Sequence[str], lists: dict[str, list[str]], table: Table
) -> None:
    if not held.pool:
        return
    ideal = [_gain(drawn, other) for other in held.pool]
    orders = {
        OURS: ours,
        BM25: [a.case.id for a in held.bm25.order(drawn.asked.words)[:10]],
        FUZZ: [a.case.id for a in held.fuzzy.order(drawn.asked.words)[:10]],
    }
    for side, ids in orders.items():
        value = None
        if any(ideal):
            gains = [_gain(drawn, held.by_id[i]) for i in ids[:10]]
            # A list that ends early has nothing in its last places.
            value = ndcg([*gains, *[0] * (10 - len(gains))], ideal, 10)
        table.likeness.setdefault(side, []).append(value)


def _gain(drawn: Drawn, other: Drawn) -> int:
    """3 same cause and class of set, 2 same cause, 1 same symptom, by the truth."""
    if drawn.key is not None and drawn.key == other.key:
        return 3 if drawn.kind == other.kind else 2
    return 1 if drawn.fault.symptom == other.fault.symptom else 0


def _asides(simulator: Simulator, held: Held, drawn: Drawn, table: Table) -> None:
    """What shows where the loss is: ours hearing rightly, and minds that know the world."""
    keys = held.engine.knowledge.keys
    question = drawn.asked.question
    shown = (drawn.fault.symptom, *drawn.fault.others)
    ticked = question.model_copy(update={"symptoms": shown})
    said = said_by(held.answer(ticked, timed=False), len(keys))
    table.add(TICKED, rank(drawn.key, said.causes), said.of(drawn.key))
    row = held.engine.knowledge.row.get(drawn.key or "", len(keys))
    for side, hears in ((BEST_DEAF, False), (BEST_POSSIBLE, True)):
        best = ceiling(simulator.world, drawn, hears_tells=hears)
        order = [keys[r] for r in (-best[:-1]).argsort(kind="stable") if best[r] > 0]
        table.add(side, rank(drawn.key, order), float(max(best[row], 1e-6)))


def _as_array(said: Said, held: Held) -> Array:

    keys = held.engine.knowledge.keys
    belief = np.array([said.given.get(key, said.rest) for key in (*keys, "")])
    return np.asarray(belief / belief.sum())


def _follow(
    simulator: Simulator,
    held: Held,
    drawn: Drawn,
    lists: dict[str, list[str]],
    table: Table,
    belief: Array,
) -> None:
    trouble = Set(simulator.world, drawn)
    knowledge = held.engine.knowledge
    trips = {
        OURS: by_our_plan(held, trouble),
        LIKELY: most_likely_first(belief, knowledge, trouble),
        CHEAP: cheapest_first(belief, knowledge, trouble),
        MECHANIC: by_a_mechanic(held, trouble),
        "call at once": Trip(LAST_RESORT, False, 1),
    }
    for side, causes in lists.items():
        trips[side] = by_causes(causes, knowledge, trouble)
    for side, trip in trips.items():
        table.trips.setdefault(side, []).append(trip)
