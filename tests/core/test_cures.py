"""P(works | cause) of the fixes that can be done: catalogue, sightings, kind of set."""

from collections.abc import Sequence

import numpy as np
import pytest

from mendpool.core.diagnosis.beliefs import cure_of
from mendpool.core.diagnosis.cures import Cures, chances
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.evidence.attempts import tries_of
from mendpool.core.evidence.case import Case
from mendpool.core.record.machine import Machine

from tests.core.asking import believed, facts_of
from tests.factories import make_attempt, make_case


def cures_of(
    engine: Engine, cases: Sequence[Case] = (), machine: Machine | None = None
) -> Cures:
    weighed = [(case, 1.0) for case in cases]
    tries = tries_of(weighed, frozenset(engine.catalogue.sets.protections))
    return chances(believed(engine, facts_of()), engine.knowledge, tries, machine)


def test_every_way_of_looking_at_them_says_the_same(engine: Engine) -> None:
    cures, causes = cures_of(engine), len(engine.knowledge.keys) + 1
    assert list(cures.fixes) == sorted(set(cures.fixes))
    table, belief = cures.table(causes), np.linspace(0.0, 1.0, causes)
    assert cures.chances(belief) == pytest.approx(table @ belief)
    for row, fix in enumerate(cures.fixes):
        by_cause = cures.of(fix)
        assert by_cause, "each has an entry"
        assert {c: table[row, c] for c in by_cause} == by_cause
        assert np.count_nonzero(table[row]) == len(by_cause)
    assert cures.of(("no-such-part", "replace")) == {}


def test_what_the_catalogue_does_not_write_of_a_cause_is_offered_once_it_was_done(
    engine: Engine,
) -> None:
    """Eight pseudo-tries at half the best remedy's, and two that worked (common practice)."""
    cause = next(c for c in engine.knowledge.causes if c.component == "avr")
    row = engine.knowledge.row[cause.key]
    written = {remedy.action for remedy in cause.remedies}
    action = next(a for a in ("clean", "tighten", "adjust", "repair") if a not in written)
    done = [
        make_case(
            group=group,
            causes=(cause.key,),
            attempts=(make_attempt(component="avr", action=action, result="fixed"),),
        )
        for group in (1, 2)
    ]
    before, after = cures_of(engine), cures_of(engine, done)
    assert row not in before.of(("avr", action))
    half = cure_of(engine.knowledge, row, action)
    assert after.of(("avr", action))[row] == pytest.approx((8 * half + 2) / 10)
    assert list(after.fixes) == sorted({*before.fixes, ("avr", action)})
    for fix in before.fixes:
        others = {c: q for c, q in after.of(fix).items() if (fix, c) != (("avr", action), row)}
        assert others == before.of(fix)


def test_what_is_written_for_other_sets_only_is_left_out(engine: Engine) -> None:
    every = cures_of(engine)
    for fuel in ("diesel", "petrol"):
        here = cures_of(engine, machine=Machine(fuel=fuel))
        assert set(here.fixes) <= set(every.fixes)
        assert all(here.of(fix).items() <= every.of(fix).items() for fix in here.fixes)
