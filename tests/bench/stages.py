"""Where an answer's milliseconds go, in process, beside a floor measured in the same run.

Each stage is timed where the engine calls it, by the thread's own processor time, so that
other programs disturb it least; of each question the best of several rounds counts, the first
of which (profiles not yet made) is told apart. The index is in memory and holds the cases
themselves: nothing is read from a database. The floor is one sort of 3,000 numbers and sixty
passes of NumPy over them: on another machine the ratio carries over.
"""

import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from typing import Any
from unittest.mock import patch

import numpy as np

from mendpool.collecting import Collecting
from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.diagnosis import engine as engine_module
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.evidence.fit import fit
from mendpool.core.record.report import Question
from mendpool.index.postings import Postings

from tests.bench.diagnosis.simulator.pool import Simulator
from tests.bench.diagnosis.simulator.world import TUNING

_QUESTIONS, _ROUNDS = 150, 4
_WHOLE = "whole answer"
_STAGES: tuple[tuple[str, object, str], ...] = (
    ("understanding", Engine, "understand"),
    ("search", Postings, "search"),
    ("likeness", engine_module, "_alike"),
    ("copies and weights", engine_module, "firsts"),
    ("copies and weights", engine_module, "weigh"),
    ("beliefs", engine_module, "believe"),
    ("fixes", engine_module, "tries_of"),
    ("fixes", engine_module, "chances"),
    ("fixes", engine_module, "tallies"),
    ("fixes", engine_module, "shown_fixes"),
    ("doubt", engine_module, "doubt"),
    ("plan", engine_module, "make_plan"),
    ("causes shown", Engine, "_causes"),
    ("cautions", Engine, "_cautions"),
    ("similar reports shown", Engine, "_similar"),
)
_WRITING = "writing JSON"

Spent = defaultdict[str, float]


def print_stages(sizes: Sequence[int]) -> None:
    """Print the table for each size of pool."""
    simulator = Simulator(Engine(packaged_catalogue()), TUNING)
    questions = [drawn.asked.question for drawn in simulator.questions(_QUESTIONS)]
    cases = [drawn.asked.case for drawn in simulator.reports(max(sizes))]
    for size in sizes:
        learned = fit(cases[:size], simulator.engine.expectations)
        postings = Postings()
        for case in cases[:size]:
            postings.add(case)
        _print(size, _best(simulator.engine.with_fit(learned), postings, questions))


def _best(
    engine: Engine, postings: Postings, questions: Sequence[Question]
) -> tuple[list[Spent], list[float], float]:
    """Return the best of each question's stages, the first round's totals, and the floor."""
    spent: Spent = defaultdict(float)
    best: list[Spent] = [defaultdict(lambda: float("inf")) for _ in questions]
    first, floor = [], float("inf")
    collecting = Collecting()
    collecting.begin()
    try:
        with _timed(spent):
            for number in range(_ROUNDS + 1):
                for place, question in enumerate(questions):
                    floor = min(floor, _floor())
                    spent.clear()
                    _answer(engine, postings, question, spent)
                    if not number:
                        first.append(spent[_WHOLE])
                        continue
                    for stage, took in spent.items():
                        best[place][stage] = min(best[place][stage], took)
    finally:
        collecting.end()
    return best, first, floor


def _answer(engine: Engine, postings: Postings, question: Question, spent: Spent) -> None:
    started = time.thread_time()
    understood = engine.understand(question)
    cases = postings.search(engine.search_terms(understood))
    answer = engine.answer(question, understood, cases, len(cases))
    writing = time.thread_time()
    answer.model_dump_json(by_alias=True, exclude_unset=True)
    ended = time.thread_time()
    spent[_WRITING] = (ended - writing) * 1000
    spent[_WHOLE] = (ended - started) * 1000


@contextmanager
def _timed(spent: Spent) -> Iterator[None]:
    with ExitStack() as stack:
        for stage, holder, name in _STAGES:
            timed = _timing(getattr(holder, name), stage, spent)
            stack.enter_context(patch.object(holder, name, timed))
        yield


def _timing(do: Callable[..., Any], stage: str, spent: Spent) -> Callable[..., Any]:
    def timed(*given: Any, **named: Any) -> Any:
        started = time.thread_time()
        try:
            return do(*given, **named)
        finally:
            spent[stage] += (time.thread_time() - started) * 1000

    return timed


def _floor() -> float:
    started = time.thread_time()
    numbers = np.arange(3000.0)
    sorted(numbers.tolist(), reverse=True)
    for _ in range(60):
        numbers = numbers * 1.0001 + 1.0
    return (time.thread_time() - started) * 1000


def _print(size: int, measured: tuple[list[Spent], list[float], float]) -> None:
    best, first, floor = measured
    stages = [*dict.fromkeys(stage for stage, _, _ in _STAGES), _WRITING]
    for spent in best:
        spent["the rest"] = spent[_WHOLE] - sum(spent.get(stage, 0.0) for stage in stages)
    print(f"\n{size} reports, ms of processor time{'':4} p50     p99    p50 / floor")
    for stage in (*stages, "the rest", _WHOLE):
        took = sorted(spent.get(stage, 0.0) for spent in best)
        p50, p99 = took[len(took) // 2], took[int(0.99 * len(took))]
        print(f"   {stage:28} {p50:7.2f} {p99:7.2f} {p50 / floor:9.1f}")
    first.sort()
    p50, p99 = first[len(first) // 2], first[int(0.99 * len(first))]
    print(f"   {'the first time round':28} {p50:7.2f} {p99:7.2f} {p50 / floor:9.1f}")
    print(f"   {'floor':28} {floor:7.2f}")
