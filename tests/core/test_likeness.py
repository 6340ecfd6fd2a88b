"""How like a past case is: symmetric where it should be, and with its reasons."""

from dataclasses import replace
from math import sqrt
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.diagnosis.engine import Engine
from mendpool.core.diagnosis.facts import Facts, terms_of
from mendpool.core.diagnosis.likeness import Likeness, Liker, Weights
from mendpool.core.evidence.candidates import Candidates, Names
from mendpool.core.evidence.case import Case
from mendpool.core.evidence.fit import EMPTY_FIT, Fit
from mendpool.core.record.machine import Machine

from tests.core.asking import BRUSHED, asked
from tests.factories import make_case, make_id

SYMPTOMS = ("no-output", "overheats", "noise", "hunting")
WORDS = ("dead", "outlet", "hums", "rain", "kettle")
CHECKS = ("residual-volts", "brush-length", "oil-pressure")


def facts(**given_: Any) -> Facts:
    """A brushed diesel set that is dead at the outlets, but for what is given."""
    plain = {"machine": BRUSHED, "symptoms": {"no-output": 1.0}, "words": ("dead", "outlet")}
    return Facts(**{**plain, **given_})


def case_of(known: Facts) -> Case:
    """The same set and trouble, as a past case."""
    return make_case(
        id=str(make_id()),
        kind=known.kind,
        terms=terms_of(known),
        symptoms=tuple(known.symptoms),
        absent=known.absent,
        found=tuple(f"{check}={result}" for check, result in (known.found or {}).items()),
    )


def compare(known: Facts, case: Case, fit: Fit = EMPTY_FIT) -> Likeness:
    return Liker(known, Weights(fit)).compare(case)


@st.composite
def any_facts(draw: st.DrawFn) -> Facts:
    return facts(
        machine=Machine(
            fuel=draw(st.sampled_from([None, "diesel", "petrol"])),
            excitation=draw(st.sampled_from([None, "brushed-avr", "capacitor"])),
            cooling=draw(st.sampled_from([None, "air", "liquid"])),
        ),
        symptoms=dict.fromkeys(draw(st.lists(st.sampled_from(SYMPTOMS), unique=True)), 1.0),
        words=tuple(draw(st.lists(st.sampled_from(WORDS), unique=True))),
        found=draw(
            st.dictionaries(st.sampled_from(CHECKS), st.sampled_from(["low", "within", "high"]))
        ),
    )


@given(any_facts(), any_facts())
def test_likeness_lies_between_nought_and_one_and_goes_both_ways(
    one: Facts, two: Facts
) -> None:
    there, back = compare(one, case_of(two)), compare(two, case_of(one))
    assert 0.0 <= there.score <= 1.0
    assert there.score == pytest.approx(back.score, abs=1e-4)


@given(any_facts())
def test_a_case_is_as_like_itself_as_can_be_unless_it_says_nothing(one: Facts) -> None:
    same = compare(one, case_of(one))
    says = one.symptoms or one.words or one.found
    assert same.score == (1.0 if says else 0.0)


def test_reasons_are_named_the_rarest_symptom_first() -> None:
    fit = Fit(weights={"s:no-output": 20, "s:hunting": 90})
    known = facts(symptoms={"no-output": 1.0, "hunting": 1.0}, found={"residual-volts": "low"})
    because = compare(known, case_of(known), fit).because
    assert because[:2] == ("hunting", "no-output")
    assert "residual-volts low" in because
    assert {"diesel", "brushed-avr"} <= set(because)


def test_what_is_not_shared_is_no_reason() -> None:
    known = facts(symptoms={"no-output": 1.0, "noise": 1.0}, found={"residual-volts": "low"})
    other = facts(
        symptoms={"no-output": 1.0, "hunting": 1.0}, found={"residual-volts": "within"}
    )
    because = compare(known, case_of(other)).because
    assert "no-output" in because
    assert not {"noise", "hunting", "residual-volts low", "residual-volts within"} & set(
        because
    )


def test_another_fuel_or_excitation_is_less_like_and_another_cooling_a_little() -> None:
    def on(**machine: Any) -> float:
        return compare(
            facts(), case_of(facts(machine=BRUSHED.model_copy(update=machine)))
        ).score

    same = on()
    assert same == 1.0
    assert on(excitation="brushless-avr") < 0.7
    assert on(fuel="petrol") < 0.7
    assert 0.8 < on(cooling="air") < 1.0
    assert on(fuel="petrol", excitation="capacitor") < min(
        on(fuel="petrol"), on(excitation="capacitor")
    )


def test_what_is_not_known_of_a_set_costs_nothing() -> None:
    bare = case_of(facts(machine=Machine()))
    assert compare(facts(), bare).score == 1.0
    not_known = facts(machine=BRUSHED.model_copy(update={"excitation": "not-known"}))
    assert compare(not_known, case_of(facts())).score == 1.0


def test_a_rare_shared_word_brings_closer_than_a_common_one() -> None:
    fit = Fit(weights={"w:dead": 2, "w:hums": 90, "w:rain": 50})
    asked_for = facts(words=("dead", "hums"))
    rare = compare(asked_for, case_of(facts(words=("hums", "rain"))), fit).score
    common = compare(asked_for, case_of(facts(words=("dead", "rain"))), fit).score
    assert rare > common


def test_the_same_reading_brings_closer_and_the_opposite_parts() -> None:
    low = facts(found={"residual-volts": "low"})
    same = compare(low, case_of(low)).score
    none = compare(low, case_of(facts())).score
    other = compare(low, case_of(facts(found={"residual-volts": "within"}))).score
    assert other < none <= same


def test_a_case_that_denies_the_symptom_is_less_like() -> None:
    denied = case_of(facts(absent=("no-output",)))
    assert compare(facts(), denied).score < 1.0


def test_what_has_nothing_in_common_is_not_alike_at_all() -> None:
    assert compare(facts(), case_of(facts(symptoms={"oil-leak": 1.0}, words=()))).score == 0.0


def test_the_order_is_by_likeness_then_by_id_whatever_order_they_come_in(
    engine: Engine,
) -> None:
    said = {
        "machine": {"fuel": "diesel", "excitation": "brushed-avr"},
        "symptoms": ["no-output"], "limit": 50,
    }  # fmt: skip
    cases = [
        make_case(
            id=str(make_id(70_000 + i)),
            group=i,
            terms=("s:no-output", *(("s:noise",) if i % 3 == 0 else ()), f"w:word{i}"),
        )
        for i in range(12)
    ]
    orders = [cases, cases[::-1], [*cases[5:], *cases[:5]]]
    shown = [asked(engine, said, order).similar for order in orders]
    assert shown[0] == shown[1] == shown[2]
    keys = [(-similar.similarity, similar.report) for similar in shown[0]]
    assert keys == sorted(keys)
    assert len(shown[0]) == 12


def test_a_healthy_sets_report_is_no_past_repair(engine: Engine) -> None:
    said = {"machine": {"fuel": "diesel"}, "symptoms": ["no-output"]}
    well = make_case(outcome="well", causes=(), attempts=())
    assert asked(engine, said, [well]).similar == ()
    assert asked(engine, said, [well]).evidence.from_catalogue_only


def plain_score(known: Facts, case: Case, fit: Fit) -> float:
    """The same by hand, one case and one term at a time (common practice)."""
    asked, held = bags_of(terms_of(known)), bags_of(case.terms)
    weight = total = 0.0
    if asked[0] or held[0]:
        weight, total = 0.2, 0.2 * cosine(asked[0], held[0], fit)
    if asked[1] and held[1]:
        weight, total = weight + 0.6, total + 0.6 * cosine(asked[1], held[1], fit)
    found, ours = dict(entry.split("=") for entry in case.found), dict(known.found or {})
    if both := ours.keys() & found.keys():
        same = sum(ours[check] == found[check] for check in both)
        weight, total = weight + 0.2, total + 0.2 * same / len(both)
    score = (total / weight if weight else 0.0) * kind_by_hand(known, case)
    if set(case.absent) & set(known.symptoms):
        score *= 0.7
    score = round(score, 4)
    return score if score >= 0.05 else 0.0


def bags_of(terms: tuple[str, ...]) -> list[set[str]]:
    return [{t for t in terms if t.startswith(marks)} for marks in (("s:",), ("w:", "c:"))]


def cosine(ours: set[str], theirs: set[str], fit: Fit) -> float:
    squares = {t: fit.weights.get(t, fit.usual_weight) ** 2 for t in ours | theirs}
    lengths = [sqrt(sum(squares[t] for t in bag)) for bag in (ours, theirs)]
    if not all(lengths):
        return 0.0
    return sum(squares[t] for t in ours & theirs) / (lengths[0] * lengths[1])


def kind_by_hand(known: Facts, case: Case) -> float:
    factor = 1.0
    for field, value in known.kind.items():
        if case.kind.get(field, value) != value:
            factor *= {"fuel": 0.6, "excitation": 0.55}.get(field, 0.92)
    return factor


@given(any_facts(), st.lists(any_facts(), max_size=12), st.data())
def test_many_at_once_score_what_each_scores_by_hand(
    known: Facts, others: list[Facts], data: st.DataObject
) -> None:
    fit = Fit(weights={"s:noise": 91, "s:no-output": 13, "w:dead": 7, "w:kettle": 100})
    absent = st.lists(st.sampled_from(SYMPTOMS), max_size=2, unique=True).map(tuple)
    cases = [case_of(replace(other, absent=data.draw(absent))) for other in others]
    liker = Liker(known, Weights(fit))
    assert liker.scores(cases) == [plain_score(known, case, fit) for case in cases]
    assert liker.scores(cases) == [liker.compare(case).score for case in cases]


def test_terms_that_came_since_are_weighed_too() -> None:
    weights, names = Weights(EMPTY_FIT), Names()
    asked_for = facts(words=("dead", "rain"))
    for word in [*(f"new{number}" for number in range(6000)), "rain"]:
        case = case_of(facts(words=("dead", word)))
        if word in {"new0", "new5999", "rain"}:
            (score,) = Liker(asked_for, weights).scores(Candidates.of([case], names))
            assert score == compare(asked_for, case).score
        names.number(case.terms)
