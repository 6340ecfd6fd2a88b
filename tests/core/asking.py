"""Asking the rooms of the core one by one, in one place."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import product
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.beliefs import Beliefs, believe
from mendpool.core.diagnosis.cures import chances
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.diagnosis.facts import Facts
from mendpool.core.diagnosis.fixes import shown_fixes, tallies
from mendpool.core.diagnosis.plan import Plan, make_plan
from mendpool.core.evidence.attempts import tries_of
from mendpool.core.evidence.case import Case
from mendpool.core.record.answer import Answer, FixShown
from mendpool.core.record.machine import Machine
from mendpool.core.record.report import Question

BRUSHED = Machine(
    fuel="diesel", excitation="brushed-avr", cooling="liquid", starting="electric", phases=1,
    control="manual",
)  # fmt: skip


def facts_of(**facts: Any) -> Facts:
    """A brushed diesel set with no output, but for what is given."""
    return Facts(**{"machine": BRUSHED, "symptoms": {"no-output": 1.0}, **facts})


def believed(engine: Engine, facts: Facts, cases: Sequence[tuple[Case, float]] = ()) -> Beliefs:
    """What is believed of a set, with past cases and their weights."""
    return believe(facts, engine.knowledge, engine.result_rates, engine.word_rates, cases)


def probability(engine: Engine, beliefs: Beliefs, key: str) -> float:
    """P(cause) by ``component/failure``, or of all failures of a component."""
    return float(sum(beliefs.probability[row] for row in engine.knowledge.rows_of(key)))


def planned(engine: Engine, facts: Facts, cases: Sequence[tuple[Case, float]] = ()) -> Plan:
    """The plan for a set."""
    beliefs = believed(engine, facts, cases)
    tries = tries_of(cases, frozenset(engine.catalogue.sets.protections))
    cures = chances(beliefs, engine.knowledge, tries)
    return make_plan(facts, beliefs, engine.knowledge, cures, {})


def fixes_of(
    engine: Engine, facts: Facts, cases: Sequence[tuple[Case, float]], limit: int = 50
) -> dict[tuple[str, str], FixShown]:
    """The fixes shown, by component and action, in the order of chance."""
    beliefs = believed(engine, facts, cases)
    tries = tries_of(cases, frozenset(engine.catalogue.sets.protections))
    shown = shown_fixes(
        beliefs=beliefs,
        knowledge=engine.knowledge,
        fit=engine.fit,
        cases=cases,
        cures=chances(beliefs, engine.knowledge, tries),
        counted=tallies(tries),
        kind=facts.kind,
        limit=limit,
    )
    return {(fix.component, fix.action): fix for fix in shown}


def asked(engine: Engine, question: Mapping[str, Any], cases: Iterable[Case] = ()) -> Answer:
    """The whole answer to a question of the wire, given the cases worth comparing."""
    given = Question.model_validate(question)
    held = list(cases)
    return engine.answer(given, engine.understand(given), held, len(held))


def kinds_of_set(catalogue: Catalogue) -> Iterator[Machine]:
    """Sets of every fuel, excitation, cooling and starting."""
    machine = catalogue.vocabulary.machine
    for fuel, excitation, cooling, starting in product(
        machine["fuel"], machine["excitation"], machine["cooling"], machine["starting"]
    ):
        yield Machine(fuel=fuel, excitation=excitation, cooling=cooling, starting=starting)
