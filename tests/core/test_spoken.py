"""What the words of a complaint tell: by the catalogue, and by what the pool has taught."""

import numpy as np
import pytest

from mendpool.core.diagnosis.engine import Engine
from mendpool.core.diagnosis.spoken import LEAST
from mendpool.core.evidence.case import Case
from mendpool.core.evidence.fit import fit

from tests.core.asking import asked
from tests.factories import make_case


def causes(engine: Engine, complaint: str, **machine: object) -> list[str]:
    question = {"machine": machine or {"fuel": "petrol"}, "complaint": complaint}
    answer = asked(engine, question)
    return [f"{c.component}/{c.failure}" for c in answer.causes if c.component][:3]


@pytest.mark.parametrize(
    ("complaint", "cause"),
    [
        ("fan belt squeals and then it gets hot", "fan-belt/slipping"),
        ("thing runs but sockets dead, brush springs all rusty inside", "brushes/seized"),
        ("rope came off and hangs there", "recoil-starter/broken"),
        (
            "battery posts have white powder on them and it only clicks",
            "battery-cable/corroded",
        ),
    ],
)
def test_a_sign_that_gives_the_cause_away_is_heard_with_no_reports(
    engine: Engine, complaint: str, cause: str
) -> None:
    assert cause in causes(engine, complaint)


def test_rates_of_words_are_shares(engine: Engine) -> None:
    """What the aliases of a symptom say sums to one, and so do the voices of a cause."""
    spoken = engine.word_rates.spoken
    words = list(spoken._place)
    by_symptom = sum(spoken.with_symptom(word) for word in words)
    by_cause = sum(spoken.with_cause(word) for word in words)
    assert np.asarray(by_symptom) == pytest.approx(1.0)
    assert np.asarray(by_cause) == pytest.approx(1.0)


def test_a_word_that_nobody_used_tells_nothing(engine: Engine) -> None:
    heard = engine.word_rates.hear(["zyzzyva"])
    assert (heard.by_both == 1.0).all()
    assert (heard.by_cause == 1.0).all()
    assert heard.telling == ()
    assert engine.word_rates.spoken.usual("zyzzyva") == LEAST


def test_words_are_heard_in_any_order(engine: Engine) -> None:
    forth = engine.word_rates.hear(["belt", "squeal", "rubber"])
    back = engine.word_rates.hear(["rubber", "squeal", "belt"])
    assert forth.by_both == pytest.approx(back.by_both, rel=1e-12)
    assert forth.telling == back.telling


def repairs(count: int, word: str, cause: str) -> list[Case]:
    return [make_case(terms=(f"w:{word}", f"w:x{i}"), causes=(cause,)) for i in range(count)]


def test_a_word_of_the_pool_speaks_for_the_cause_it_came_with(engine: Engine) -> None:
    pool = [*repairs(6, "gribble", "avr/failed"), *repairs(40, "other", "brushes/worn")]
    taught = engine.with_fit(fit(pool, engine.expectations))
    heard = taught.word_rates.hear(["gribble"])
    row = engine.knowledge.row
    assert heard.by_cause[row["avr/failed"]] > 1.5
    assert heard.by_cause[row["avr/failed"]] > heard.by_cause[row["avr/loose"]]
    # The part's other causes hear a little of it, other parts nothing or less.
    assert heard.by_cause[row["avr/loose"]] > heard.by_cause[row["brushes/worn"]]
    assert heard.by_cause[row["brushes/worn"]] < 1.0
    assert heard.telling == ("gribble",)


def test_more_sightings_tell_more_and_never_the_other_way(engine: Engine) -> None:
    row = engine.knowledge.row["avr/failed"]
    told = []
    for count in (2, 4, 8, 16):
        pool = [*repairs(count, "gribble", "avr/failed"), *repairs(60, "o", "brushes/worn")]
        # One account's reports are worth less and less, so each is somebody else's.
        pool = [case._replace(group=i) for i, case in enumerate(pool)]
        taught = engine.with_fit(fit(pool, engine.expectations))
        told.append(float(taught.word_rates.hear(["gribble"]).by_cause[row]))
    assert told == sorted(told)
    assert told[0] > 1.0


def test_a_cause_commoner_than_the_catalogue_thought_is_expected_more(engine: Engine) -> None:
    """Worked by hand: (n + 5) / (E + 5), a Gamma(5, 5) prior on the ratio of two rates.

    Source: Gamma-Poisson update, NUREG/CR-6823 section 6.2.2.
    """
    key = "slip-rings/contaminated"
    row = engine.knowledge.row[key]
    pool = [make_case(group=i, terms=(f"w:a{i}",), causes=(key,)) for i in range(30)]
    made = fit(pool, engine.expectations)
    taught = engine.with_fit(made)
    expected = made.cause_expected[key]
    assert taught.word_rates.commonness[row] == pytest.approx((30 + 5) / (expected + 5))
    assert sum(made.cause_expected.values()) == pytest.approx(30, rel=1e-6)
    plain = engine.with_fit(fit(pool))
    assert (plain.word_rates.commonness == 1.0).all()
