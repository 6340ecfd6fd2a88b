"""What was already tried, and what is denied, found in a complaint."""

from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.diagnosis.derive import derive
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.record.machine import Machine
from mendpool.core.record.report import Attempt, Question, Report
from mendpool.core.text.reader import trade_words

from tests.engines import packaged_engine

PHRASES: list[dict[str, Any]] = [
    case
    for name in ("attempt_phrases.yaml", "attempt_voices.yaml")
    for case in yaml.safe_load((Path(__file__).parent / name).read_text("utf-8"))["phrases"]
]
READER = packaged_engine().plain_reader
TRADE = sorted(trade_words(packaged_catalogue()) | {"not", ",", ".", "but", "?", "no", "same"})


@pytest.mark.parametrize("case", PHRASES, ids=lambda case: case["says"])
def test_what_was_tried_is_found_and_nothing_else(case: dict[str, Any]) -> None:
    read = READER.read(case["says"], Machine(**case.get("set", {"fuel": "petrol"})))
    assert sorted(f"{a.component} {a.action} {a.result}" for a in read.tried) == sorted(
        case["tried"]
    )
    if "not" in case:
        assert sorted(read.not_faults) == sorted(case["not"])


def test_there_are_enough_phrases_and_half_of_them_are_traps() -> None:
    traps = [case for case in PHRASES if not case["tried"]]
    assert len(PHRASES) >= 120
    assert 0.35 < len(traps) / len(PHRASES) < 0.6


def asked(engine: Engine, **question: Any) -> Any:
    return engine.understand(Question(machine=Machine(fuel="petrol"), **question))


def test_what_the_complaint_tells_of_comes_after_what_was_given(engine: Engine) -> None:
    given_outright = (Attempt(component="battery", action="charge", result="no-change"),)
    facts = asked(
        engine, complaint="swapped the regulator, no change", tried=given_outright
    ).facts
    assert [a.component for a in facts.tried] == ["battery", "avr"]


def test_what_was_given_outright_is_not_doubled_and_wins(engine: Engine) -> None:
    given_outright = (Attempt(component="avr", action="replace", result="improved"),)
    facts = asked(
        engine, complaint="swapped the regulator, no change", tried=given_outright
    ).facts
    assert facts.tried == given_outright


def test_an_attempt_said_in_passing_moves_the_odds_and_is_told_back(engine: Engine) -> None:
    def share(complaint: str) -> float:
        machine = Machine(fuel="petrol", excitation="brushed-avr")
        question = Question(machine=machine, complaint=complaint)
        answer = engine.answer(question, engine.understand(question), [], 0)
        told.append(answer.understood["tried"])
        return sum(c.probability for c in answer.causes if c.component == "avr")

    told: list[Any] = []
    before, after = share("no output"), share("no output. Swapped the regulator, no change")
    assert after < 0.7 * before
    assert told == [[], ["avr replace: no-change"]]


def test_a_part_said_to_be_good_or_changed_in_vain_is_not_one_that_is_named() -> None:
    petrol = Machine(fuel="petrol")
    assert READER.read("brushes and slip rings", petrol).components == ("brushes", "slip-rings")
    read = READER.read("brushes look fine, slip rings", petrol)
    assert (read.components, read.cleared) == (("slip-rings",), ("brushes",))
    assert READER.read("new avr, no change", petrol).components == ()
    read = READER.read("brushes are not worn", petrol)
    assert (read.components, read.faults, read.not_faults) == ((), (), ("brushes/worn",))


def test_a_short_name_is_a_part_by_the_kind_of_set() -> None:
    def part(fuel: str) -> list[str]:
        read = READER.read("changed the plugs, no change", Machine(fuel=fuel))
        return [a.component for a in read.tried]

    assert part("petrol") == ["spark-plug"]
    assert part("diesel") == ["glow-plug"]


def test_a_report_learns_from_what_was_reported_alone(engine: Engine) -> None:
    """What a complaint tells of in passing is no attempt of the report: nobody checked it."""
    report = Report.model_validate(
        {
            "machine": {"fuel": "petrol"},
            "complaint": "no output, swapped the regulator, no change",
            "attempts": [{"component": "brushes", "action": "replace", "result": "fixed"}],
            "outcome": "repaired",
        }
    )
    case = derive("id", report, engine.plain_reader, engine.knowledge).case
    assert [attempt.component for attempt in case.attempts] == ["brushes"]
    assert "c:avr" not in case.terms


@given(st.lists(st.sampled_from(TRADE), max_size=30))
def test_any_run_of_trade_words_gives_known_codes_once_each(words: list[str]) -> None:
    catalogue = packaged_catalogue()
    read = READER.read(" ".join(words), Machine(fuel="petrol"))
    pairs = [(a.component, a.action) for a in read.tried]
    assert len(pairs) == len(set(pairs))
    for attempt in read.tried:
        assert attempt.component in catalogue.components
        assert attempt.action in catalogue.vocabulary.actions
        assert attempt.result in catalogue.vocabulary.results
    assert set(read.cleared) == {a.component for a in read.tried if a.result == "found-good"}
