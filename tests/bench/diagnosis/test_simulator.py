"""The simulator is what it says: pinned, nested, near the catalogue and different from it."""

from random import Random

import numpy as np
import pytest

from mendpool.core.diagnosis.engine import Engine
from mendpool.core.record.machine import Machine

from tests.bench.diagnosis.follow import Set, best_fix
from tests.bench.diagnosis.sides import Held, ceiling
from tests.bench.diagnosis.simulator.pool import Simulator
from tests.bench.diagnosis.simulator.voice import Speaker, Tongue, voice
from tests.bench.diagnosis.simulator.world import HELD_OUT, TUNING, World

DIESEL = Machine(fuel="diesel", excitation="brushed-avr", starting="electric", phases=1)


@pytest.fixture(scope="module")
def simulator(engine: Engine) -> Simulator:
    return Simulator(engine, TUNING)


def test_the_same_seed_gives_the_same_pool_and_a_larger_pool_holds_the_smaller(
    engine: Engine, simulator: Simulator
) -> None:
    again = Simulator(engine, TUNING)
    assert [d.asked for d in again.reports(12)] == [d.asked for d in simulator.reports(30)[:12]]
    assert again.questions(5) == simulator.questions(8)[:5]


def test_another_seed_is_another_world(engine: Engine, simulator: Simulator) -> None:
    other = World(engine.knowledge, HELD_OUT)
    assert HELD_OUT != TUNING
    assert not np.allclose(other.joint(DIESEL), simulator.world.joint(DIESEL))


def test_the_truth_is_off_from_the_catalogue_and_five_times_for_some(
    engine: Engine, simulator: Simulator
) -> None:
    theirs = engine.knowledge.weights(engine.knowledge.kind_key(DIESEL))
    ours = simulator.world.joint(DIESEL).sum(axis=1)
    known = theirs.prior[:-1] > 0
    times = np.log(ours[known] / theirs.prior[:-1][known])
    assert 0.3 < times.std() < 1.2
    boosted = [engine.knowledge.row[k] for k in simulator.world.boosted]
    lifted = [ours[r] / theirs.prior[r] for r in boosted if theirs.prior[r] > 0]
    assert np.median(lifted) > 2.5
    unlisted = (simulator.world.joint(DIESEL) > 0) & (theirs.joint[:-1] == 0)
    assert unlisted.sum() > 5


def test_a_fault_is_one_that_the_set_can_have(simulator: Simulator) -> None:
    rng = Random(1)
    knowledge = simulator.world.knowledge
    admitted = knowledge.weights(knowledge.kind_key(DIESEL)).admitted
    rows = [simulator.world.draw_fault(DIESEL, rng).row for _ in range(300)]
    assert all(admitted[row] for row in rows)
    unlisted = sum(row == simulator.world.unlisted for row in rows)
    assert 0 < unlisted < 30


def test_results_are_mostly_right_and_sometimes_not(simulator: Simulator) -> None:
    rng = Random(2)
    world = simulator.world
    row = world.knowledge.row["residual-field/lost-magnetism"]
    found = [world.draw_result("residual-volts", row, DIESEL, rng) for _ in range(400)]
    assert 0.6 < found.count("low") / 400 < 0.97


def test_what_has_failed_fails_again_and_the_same_look_shows_the_same(
    simulator: Simulator,
) -> None:
    drawn = next(q for q in simulator.questions(20) if q.key is not None)
    trouble = Set(simulator.world, drawn)
    knowledge = simulator.world.knowledge
    fix = best_fix(knowledge, drawn.fault.row, simulator.world)
    assert trouble.mend(fix) == trouble.mend(fix)
    assert trouble.test("output-volts") == trouble.test("output-volts")
    wrong = next(c for c in knowledge.causes if c.component != fix[0])
    assert not trouble.mend((wrong.component, wrong.remedies[0].action))


def test_askers_and_reporters_mostly_choose_other_words(simulator: Simulator) -> None:
    fault = simulator.world.draw_fault(DIESEL, Random(4))
    speaker = Speaker(DIESEL, None)

    def said(asks: bool) -> str:
        tongue = Tongue(TUNING, asks)
        texts = [voice(fault, speaker, tongue, Random(n)).text.lower() for n in range(60)]
        words = [word for text in texts for word in text.split()]
        return max(sorted(w for w in set(words) if len(w) > 4), key=words.count)

    assert said(asks=True) != said(asks=False)


def test_the_ceiling_is_a_belief_and_high(simulator: Simulator) -> None:
    questions = [q for q in simulator.questions(40) if q.key is not None]
    knowledge = simulator.world.knowledge
    right = 0
    for drawn in questions:
        belief = ceiling(simulator.world, drawn)
        assert belief.sum() == pytest.approx(1.0)
        right += knowledge.keys[int(belief[:-1].argmax())] == drawn.key
    assert right / len(questions) > 0.7


def test_reports_hold_wrong_turns_and_not_everything_gets_mended(simulator: Simulator) -> None:
    reports = simulator.reports(120)
    results = [a.result for d in reports for a in d.asked.case.attempts]
    assert {"fixed", "no-change", "found-good"} <= set(results)
    assert results.count("no-change") > 30
    assert {d.asked.case.outcome for d in reports} > {"repaired"}
    assert any(s.state == "returned" for d in reports for s in d.asked.case.followups)
    held = Held(simulator.engine, reports)
    assert held.bm25.order(reports[0].asked.words)[0] is reports[0].asked
