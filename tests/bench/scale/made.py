"""Many reports made cheaply of a few hundred: the same terms, mixed and worn.

Each is one of the simulator's cases with some terms left out and some words exchanged for
others, now and then for a misspelling that nobody else has. The shares of terms are those of
the simulator; which fault a report has is not kept, so this measures time and not quality.
"""

from collections.abc import Iterator
from typing import NamedTuple
from uuid import UUID

import numpy as np

from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.evidence.case import Case
from mendpool.core.evidence.fit import fit

from tests.bench.diagnosis.simulator.pool import Simulator
from tests.bench.diagnosis.simulator.world import TUNING

_KEPT, _WORD_KEPT, _MISSPELT = 0.93, 0.7, 0.01
_TYPOS = 400_000
_CHUNK = 20_000


class Source(NamedTuple):
    """What reports are made of, and the questions: the weights by term of each."""

    cases: list[tuple[str, ...]]
    questions: list[dict[str, int]]


def source(cases: int, questions: int) -> Source:
    """Draw some cases and questions of the simulator's tuning world."""
    simulator, held = drawn_cases(cases)
    return source_of(simulator, held, questions)


def drawn_cases(count: int) -> tuple[Simulator, list[Case]]:
    """Return the world and the first cases of its pool."""
    simulator = Simulator(Engine(packaged_catalogue()), TUNING)
    return simulator, [drawn.asked.case for drawn in simulator.reports(count)]


def source_of(simulator: Simulator, held: list[Case], questions: int) -> Source:
    """Return cases as a source, with questions weighted by what they teach."""
    engine = simulator.engine.with_fit(fit(held, simulator.engine.expectations))
    asked = [q.asked.question for q in simulator.questions(questions)]
    return Source(
        [case.terms for case in held],
        [engine.search_terms(engine.understand(question)) for question in asked],
    )


def reports(of: Source, count: int, seed: int = 1) -> Iterator[tuple[UUID, list[str]]]:
    """Yield so many reports: an id, nearly in the order of time, and its terms."""
    rng = np.random.default_rng(seed)
    names = list(dict.fromkeys(term for terms in of.cases for term in terms))
    number = {term: place for place, term in enumerate(names)}
    words = np.array([number[t] for terms in of.cases for t in terms if t.startswith("w:")])
    is_word = np.array([name.startswith("w:") for name in names])
    numbered = [np.array([number[t] for t in terms]) for terms in of.cases]
    made = 0
    while made < count:
        for base in rng.integers(0, len(numbered), min(_CHUNK, count - made)):
            terms = numbered[base]
            word = is_word[terms]
            terms = terms[rng.random(len(terms)) < np.where(word, _WORD_KEPT, _KEPT)]
            others = words[rng.integers(0, len(words), int(word.sum() * (1 - _WORD_KEPT)))]
            told = [names[t] for t in {*terms.tolist(), *others.tolist()}]
            if rng.random() < _MISSPELT * len(told):
                told.append(f"w:typo{rng.integers(_TYPOS)}")
            made += 1
            yield _id(made, int(rng.integers(0, 1 << 62))), told


def _id(number: int, random: int) -> UUID:
    """Return a UUIDv7: a minute between reports, sent up to some weeks late."""
    moment = 1_700_000_000_000 + number * 60_000 - random % 1_000_000_000
    return UUID(int=moment << 80 | 0x7 << 76 | 0x2 << 62 | random)
