"""Which warnings are shown: all that are called for, the gravest first, one text a topic."""

from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.model import Caution, CautionTrigger
from mendpool.core.diagnosis.cautions import Situation, cautions_for
from mendpool.core.diagnosis.derive import derive
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.record.answer import CautionShown
from mendpool.core.record.machine import Machine
from mendpool.core.record.report import Report

from tests.core.asking import asked
from tests.factories import make_id, make_report

LEGS = [
    {"quantity": "voltage-ac", "point": "leg-1", "value": 150, "unit": "V"},
    {"quantity": "voltage-ac", "point": "leg-2", "value": 90, "unit": "V"},
]


def shown(catalogue: Catalogue, **situation: Any) -> tuple[CautionShown, ...]:
    return cautions_for(catalogue, Situation(**{"machine": Machine(), **situation}))


def codes(cautions: tuple[CautionShown, ...]) -> list[str]:
    return [caution.code for caution in cautions]


def of_report(engine: Engine, **changes: Any) -> list[str]:
    report = Report.model_validate(make_report(**changes))
    return codes(derive(str(make_id()), report, engine.plain_reader, engine.knowledge).cautions)


# --- always, and by what is in play


@pytest.mark.parametrize("fuel", ["diesel", "petrol", "lpg", "natural-gas", "dual-fuel"])
def test_carbon_monoxide_is_always_warned_of(engine: Engine, fuel: str) -> None:
    for symptom in ("no-output", "cranks-no-start", "oil-leak"):
        answer = asked(engine, {"machine": {"fuel": fuel}, "symptoms": [symptom]})
        assert "carbon-monoxide" in codes(answer.cautions)
    assert "carbon-monoxide" in of_report(engine)


def test_a_lead_with_two_plugs_is_warned_of_by_its_names(engine: Engine) -> None:
    for words in (
        "I use a suicide lead to the house",
        "double male cable",
        "lead with two plugs",
    ):
        answer = asked(engine, {"machine": {"fuel": "petrol"}, "complaint": f"trips; {words}"})
        assert "back-feed" in codes(answer.cautions)
    plain = asked(engine, {"machine": {"fuel": "petrol"}, "complaint": "misfires"})
    assert "back-feed" not in codes(plain.cautions)


def test_words_choose_the_text_that_is_most_to_the_point(engine: Engine) -> None:
    machine = {"fuel": "petrol"}
    sick = asked(engine, {"machine": machine, "complaint": "headache when it runs in the shed"})
    usual = asked(engine, {"machine": machine, "symptoms": ["no-output"]})
    says = [
        next(c.says for c in answer.cautions if c.code == "carbon-monoxide")
        for answer in (sick, usual)
    ]
    assert "Headache" in says[0]
    assert "6 m" in says[1]


@pytest.mark.parametrize(
    ("situation", "topic"),
    [
        ({"symptoms": frozenset({"fuel-leak"})}, "fuel-fire"),
        ({"symptoms": frozenset({"shock-or-leakage"})}, "earth-fault"),
        ({"components": frozenset({"capacitor"})}, "stored-energy"),
        ({"components": frozenset({"transfer-switch"})}, "line-present"),
        ({"components": frozenset({"radiator-cap"})}, "coolant-burn"),
        ({"components": frozenset({"injector"})}, "injection-pressure"),
        ({"readings": frozenset({"voltage-ac@frame:high"})}, "earth-fault"),
        ({"readings": frozenset({"frequency@output:high"})}, "overspeed"),
        ({"topics": frozenset({"lifting"})}, "lifting"),
        ({"protection_defeated": True}, "protection-defeated"),
    ],
)
def test_each_part_of_a_situation_can_call_for_a_topic(
    catalogue: Catalogue, situation: dict[str, Any], topic: str
) -> None:
    assert topic in codes(shown(catalogue, **situation))
    assert topic not in codes(shown(catalogue))


def test_every_topic_can_be_called_for(catalogue: Catalogue) -> None:
    """By some symptom, part, action, check, reading or word, or by a defeated protection."""
    reachable = {
        caution.topic for caution in catalogue.cautions if caution.when != CautionTrigger()
    }
    by_steps = {
        topic
        for step in (
            *catalogue.checks.values(), *(r for c in catalogue.causes for r in c.remedies)
        )
        for topic in step.cautions
    }  # fmt: skip
    assert set(catalogue.vocabulary.cautions) <= reachable | by_steps


def test_gas_is_warned_of_on_gas_sets_only(catalogue: Catalogue) -> None:
    topics = frozenset({"gas-leak"})
    for fuel in ("lpg", "natural-gas", "dual-fuel"):
        assert "gas-leak" in codes(shown(catalogue, machine=Machine(fuel=fuel), topics=topics))
    assert "gas-leak" not in codes(
        shown(catalogue, machine=Machine(fuel="diesel"), topics=topics)
    )


# --- order, and one text a topic


def test_what_a_reading_shows_to_be_dangerous_comes_first(engine: Engine) -> None:
    answer = asked(
        engine,
        {
            "machine": {"fuel": "diesel", "phases": 1, "rated_volts": 240, "rated_hz": 60},
            "symptoms": ["unequal-legs"],
            "readings": LEGS,
        },
    )
    assert answer.cautions[0].code == "lost-neutral"
    racing = asked(
        engine,
        {
            "machine": {"fuel": "diesel", "rated_hz": 50},
            "symptoms": ["high-frequency"],
            "readings": [
                {"quantity": "frequency", "point": "output", "value": 62, "unit": "Hz"}
            ],
        },
    )
    assert racing.cautions[0].code == "overspeed"


def test_one_text_a_topic_and_the_graver_first(catalogue: Catalogue) -> None:
    everything = shown(
        catalogue,
        symptoms=frozenset(catalogue.symptoms),
        components=frozenset(catalogue.components),
        actions=frozenset(catalogue.vocabulary.actions),
        worded=frozenset(range(len(catalogue.cautions))),
        protection_defeated=True,
    )
    assert len(codes(everything)) == len(set(codes(everything)))
    assert set(codes(everything)) == set(catalogue.vocabulary.cautions)
    rank = {caution.says: caution.rank for caution in catalogue.cautions}
    ranks = [rank[caution.says] for caution in everything]
    assert ranks == sorted(ranks)


def test_a_danger_goes_before_a_graver_rank(catalogue: Catalogue) -> None:
    plain = codes(shown(catalogue, topics=frozenset({"overspeed"})))
    danger = codes(shown(catalogue, dangers=frozenset({"overspeed"})))
    assert plain[0] == "carbon-monoxide"
    assert danger[0] == "overspeed"
    assert set(plain) == set(danger)


def made_up(catalogue: Catalogue, *texts: tuple[str, int, dict[str, Any]]) -> Catalogue:
    cautions = tuple(
        Caution(
            topic="lifting", says=f"{says}: this is a warning.", source="common practice",
            confidence="common practice", rank=rank, when=CautionTrigger(**when),
        )
        for says, rank, when in texts
    )  # fmt: skip
    return catalogue.model_copy(update={"cautions": cautions})


def test_of_two_texts_called_for_the_graver_is_shown(catalogue: Catalogue) -> None:
    two = made_up(catalogue, ("mild", 7, {"always": True}), ("grave", 2, {"always": True}))
    assert [c.says[:5] for c in shown(two)] == ["grave"]


def test_a_text_called_for_itself_goes_before_one_of_its_topic(catalogue: Catalogue) -> None:
    two = made_up(
        catalogue, ("other", 1, {"words": ("rain",)}), ("own", 8, {"symptoms": ("noise",)})
    )
    called = shown(two, symptoms=frozenset({"noise"}), topics=frozenset({"lifting"}))
    assert [c.says[:3] for c in called] == ["own"]
    assert [c.says[:5] for c in shown(two, topics=frozenset({"lifting"}))] == ["other"]


def test_a_point_or_a_verdict_may_be_left_open(catalogue: Catalogue) -> None:
    wild = made_up(catalogue, ("any", 5, {"readings": ("insulation-resistance@*:low",)}))
    assert shown(wild, readings=frozenset({"insulation-resistance@rotor:low"}))
    assert not shown(wild, readings=frozenset({"insulation-resistance@rotor:within"}))
    assert not shown(wild, readings=frozenset({"resistance@rotor:low"}))


# --- who says so


def test_the_source_is_shown_with_how_sure_it_is(catalogue: Catalogue) -> None:
    told = shown(catalogue, worded=frozenset(range(len(catalogue.cautions))))
    assert all(caution.source for caution in told)
    by_says = {caution.says: caution for caution in catalogue.cautions}
    for caution in told:
        entry = by_says[caution.says]
        if entry.confidence == "published":
            assert caution.source == entry.source
        else:
            assert entry.confidence in caution.source
            assert caution.source.count(entry.confidence) == 1
    assert any("from memory" in caution.source for caution in told)
    assert any("common practice" in caution.source for caution in told)


# --- a stored report carries its cautions wherever it is shown


def test_a_report_of_a_bypass_carries_the_warning(engine: Engine) -> None:
    bypass = {"component": "oil-switch", "action": "bypass", "result": "fixed"}
    assert "protection-defeated" in of_report(engine, attempts=[bypass])
    assert "protection-defeated" not in of_report(engine)


@pytest.mark.parametrize(
    "changes",
    [
        {"protection_defeated": True},
        {"protection": {"found": "defeated", "left": "proved"}},
        {"protection": {"found": "intact", "left": "defeated"}},
    ],
)
def test_a_protection_found_or_left_defeated_is_warned_of(
    engine: Engine, changes: dict[str, Any]
) -> None:
    assert "protection-defeated" in of_report(engine, **changes)


def test_a_note_can_call_for_a_caution_too(engine: Engine) -> None:
    assert "back-feed" not in of_report(engine)
    assert "back-feed" in of_report(engine, note="we feed the house with a suicide lead")


def test_a_tried_bypass_in_a_question_is_warned_of(engine: Engine) -> None:
    question = {"machine": {"fuel": "diesel"}, "symptoms": ["stops-running"]}
    tried = [{"component": "oil-switch", "action": "bypass", "result": "improved"}]
    assert "protection-defeated" in codes(asked(engine, {**question, "tried": tried}).cautions)
    assert "protection-defeated" not in codes(asked(engine, question).cautions)
