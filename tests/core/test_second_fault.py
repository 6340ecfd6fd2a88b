"""Two faults: what helped is kept as done, contradictions are said, both are planned for."""

from math import log
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.diagnosis.beliefs import Beliefs, Evidence, Votes
from mendpool.core.diagnosis.cures import chances
from mendpool.core.diagnosis.knowledge import Array
from mendpool.core.diagnosis.plan import Plan
from mendpool.core.diagnosis.second_fault import (
    CONTRADICTS,
    Remaining,
    contradiction,
    what_remains,
)
from mendpool.core.record.report import Attempt

from tests.core.asking import believed, facts_of, planned, probability
from tests.engines import packaged_engine

ENGINE = packaged_engine()
FOUND = {"walk-round": "all-right"}


def remains(**facts: Any) -> tuple[Remaining, Any]:
    given = facts_of(**facts)
    beliefs = believed(ENGINE, given)
    cures = chances(beliefs, ENGINE.knowledge, [])
    return what_remains(given, beliefs, ENGINE.knowledge, cures), beliefs


def tried(result: str, component: str = "brushes", action: str = "replace") -> tuple[Attempt]:
    return (Attempt(component=component, action=action, result=result),)


def codes(made: Plan) -> set[str]:
    return {flag.code for flag in made.flags}


def test_what_improved_is_kept_as_done_and_the_rest_is_planned_for() -> None:
    remaining, before = remains(found=FOUND, tried=tried("improved"))
    (flag,) = remaining.flags
    assert flag.code == "two-faults"
    assert "second fault" in flag.says
    assert "brushes" in flag.says
    after = remaining.beliefs
    assert after.probability.sum() == pytest.approx(1.0)
    assert probability(ENGINE, after, "brushes") < 0.3 * probability(ENGINE, before, "brushes")
    assert probability(ENGINE, after, "brushes") > 0, "nothing is ruled out for good"
    assert probability(ENGINE, after, "avr") > probability(ENGINE, before, "avr")
    made = planned(ENGINE, facts_of(found=FOUND, tried=tried("improved")))
    assert "two-faults" in codes(made)
    assert ("brushes", "replace") not in {(s.component, s.action) for s in made.steps}


@pytest.mark.parametrize("result", ["no-change", "worse", "found-good", "part-no-good"])
def test_what_did_not_help_is_no_second_fault(result: str) -> None:
    remaining, before = remains(found=FOUND, tried=tried(result))
    assert remaining.flags == ()
    assert remaining.beliefs is before


def test_a_failed_repair_never_rules_its_cause_out_for_good() -> None:
    beliefs = believed(ENGINE, facts_of(found=FOUND, tried=tried("no-change") * 3))
    for row in ENGINE.knowledge.rows_of_component["brushes"]:
        assert beliefs.probability[row] > 0


def test_a_part_found_bad_and_mended_in_vain_was_one_fault_of_two() -> None:
    done = (*tried("found-bad", action="test"), *tried("no-change"))
    remaining, before = remains(found=FOUND, tried=done)
    (flag,) = remaining.flags
    assert flag.code == "two-faults"
    assert probability(ENGINE, remaining.beliefs, "brushes") < probability(
        ENGINE, before, "brushes"
    )


def test_two_parts_found_bad_are_two_faults_and_both_are_planned_for() -> None:
    bad = tuple(
        Attempt(component=c, action="test", result="found-bad")
        for c in ("brushes", "avr", "brushes", "avr")
    )
    made = planned(ENGINE, facts_of(found=FOUND, tried=bad))
    (flag,) = [f for f in made.flags if f.code == "two-faults"]
    assert "brushes" in flag.says
    assert "regulator" in flag.says
    assert {"brushes", "avr"} <= {step.component for step in made.steps}
    assert codes(planned(ENGINE, facts_of(found=FOUND, tried=bad[::2]))) == set()


def beliefs_of(posterior: Array, pieces: tuple[Evidence, ...]) -> Beliefs:
    """Beliefs that no past case has a part in."""
    none = np.zeros_like(posterior)
    votes = Votes(none, none[None], none, 0)
    return Beliefs(posterior, np.ones_like(posterior), pieces, {}, None, posterior, votes)


def contradicting() -> Beliefs:
    """Two causes, a tenth each, and of each a finding that hardly any other gives."""
    rows = len(ENGINE.knowledge.keys) + 1
    prior = np.full(rows, 0.8 / (rows - 2))
    prior[[3, 90]] = 0.1
    pieces = []
    for row in (3, 90):
        piece = np.full(rows, 0.01)
        piece[row] = 0.9
        pieces.append(Evidence(f"row {row}", piece))
    posterior = prior * pieces[0].likelihood * pieces[1].likelihood
    posterior /= posterior.sum()
    return beliefs_of(posterior, tuple(pieces))


def test_what_contradicts_itself_is_said_and_planned_by_what_most_of_it_says() -> None:
    beliefs = contradicting()
    remaining = what_remains(facts_of(), beliefs, ENGINE.knowledge, {})
    assert [flag.code for flag in remaining.flags] == ["nothing-fits"]
    assert "two faults" in remaining.flags[0].says
    after = remaining.beliefs.probability
    assert after.sum() == pytest.approx(1.0)
    assert {3, 90} == set(np.argsort(-after)[:2].tolist())
    assert min(after[[3, 90]]) > 0.05


def test_where_something_else_is_likely_it_is_said_that_nothing_fits() -> None:
    rows = len(ENGINE.knowledge.keys) + 1
    belief = np.full(rows, 0.6 / (rows - 1))
    belief[-1] = 0.4
    remaining = what_remains(facts_of(), beliefs_of(belief, ()), ENGINE.knowledge, {})
    assert [flag.code for flag in remaining.flags] == ["nothing-fits"]
    assert remaining.beliefs.probability is belief


def test_one_fault_that_fits_everything_raises_no_flag() -> None:
    for found in (FOUND, {**FOUND, "brush-length": "low", "brush-to-brush-ohms": "high"}):
        remaining, before = remains(found=found)
        assert remaining.flags == ()
        assert remaining.beliefs is before


# --- the measure itself


def test_pieces_that_point_to_the_same_cause_do_not_contradict() -> None:
    prior = np.array([0.1, 0.1, 0.8])
    same = np.array([0.9, 0.1, 0.1])
    # Apart .18 each, together .1 x .81 + .9 x .01 = .09: log(.0324/.09).
    assert contradiction(prior, [same, same]) == pytest.approx(log(0.0324 / 0.09))


def test_pieces_that_point_to_different_rare_causes_contradict() -> None:
    prior = np.array([0.1, 0.1, 0.8])
    one, other = np.array([0.9, 0.01, 0.01]), np.array([0.01, 0.9, 0.01])
    apart = (0.09 + 0.001 + 0.008) ** 2
    together = 0.1 * 0.009 * 2 + 0.8 * 0.0001
    assert contradiction(prior, [one, other]) == pytest.approx(log(apart / together))
    assert contradiction(prior, [one, other]) > CONTRADICTS


@given(
    st.lists(st.floats(0.01, 1), min_size=3, max_size=3),
    st.lists(st.floats(0.05, 1), min_size=3, max_size=3),
    st.floats(0.001, 50),
)
def test_one_piece_never_contradicts_and_scale_does_not_matter(
    weights: list[float], piece: list[float], scale: float
) -> None:
    prior, seen = np.array(weights) / sum(weights), np.array(piece)
    assert contradiction(prior, [seen]) == pytest.approx(0.0, abs=1e-9)
    twice = contradiction(prior, [seen, seen])
    assert contradiction(prior, [seen * scale, seen]) == pytest.approx(twice, abs=1e-9)
    assert twice <= 1e-9
