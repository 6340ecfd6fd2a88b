"""What must hold for every answer: the same bytes for the same reports, and nothing absurd."""

import random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mendpool.core.catalogue.admits import admits
from mendpool.core.evidence.case import Case, Seen
from mendpool.core.evidence.fit import fit
from mendpool.core.record.answer import Answer
from mendpool.core.record.machine import Machine

from tests.core.asking import asked
from tests.engines import packaged_engine
from tests.factories import make_attempt, make_case, make_id

ENGINE = packaged_engine()
VOCABULARY = ENGINE.catalogue.vocabulary
SYMPTOMS = sorted(VOCABULARY.symptoms)
FIELDS = ("fuel", "excitation", "cooling", "starting", "duty", "drive", "control", "governor")

QUESTION: dict[str, Any] = {
    "machine": {"fuel": "diesel", "excitation": "brushed-avr", "cooling": "liquid"},
    "complaint": "runs sweet but dead at the outlets",
    "symptoms": ["no-output"],
    "limit": 50,
}
CURES = (
    ("brushes", "replace", "brushes/worn"),
    ("avr", "replace", "avr/failed"),
    ("slip-rings", "clean", "slip-rings/contaminated"),
    ("main-breaker", "reset", "main-breaker/tripped"),
)


def past_case(number: int, draw: random.Random, symptom: str = "no-output") -> Case:
    """A repair of a brushed diesel set, drawn from a seed."""
    part, action, cause = draw.choice(CURES)
    return make_case(
        id=str(make_id(10_000_000 + number)),
        group=draw.randrange(6),
        vouched=draw.random() < 0.8,
        terms=(f"s:{symptom}", "k:fuel=diesel", *(f"w:{w}" for w in draw.sample(WORDS, 3))),
        symptoms=(symptom,),
        causes=(cause,) if draw.random() < 0.8 else (),
        attempts=(
            make_attempt(draw.choice(CURES)[0], result="no-change"),
            make_attempt(part, action, minutes=float(draw.randrange(5, 90))),
        ),
        followups=(Seen(draw.randrange(1, 20), "holding"),) if draw.random() < 0.5 else (),
        defeated=draw.random() < 0.1,
    )


WORDS = ("dead", "outlet", "sweet", "hum", "rain", "dim", "kettl", "stood")


def pool(seed: int, size: int = 25, symptom: str = "no-output") -> list[Case]:
    draw = random.Random(seed)
    # An id stands for one report only, whatever else is drawn.
    first = (SYMPTOMS.index(symptom) * 200 + seed) * 100
    return [past_case(first + i, draw, symptom) for i in range(size)]


def as_bytes(answer: Answer) -> bytes:
    return answer.model_dump_json(by_alias=True).encode()


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("learned", [False, True])
def test_the_same_reports_in_any_order_give_the_same_bytes(*, seed: int, learned: bool) -> None:
    cases = pool(seed)
    orders = [cases, cases[::-1], random.Random(seed).sample(cases, len(cases))]
    answers = {
        as_bytes(asked(ENGINE.with_fit(fit(order if learned else [])), QUESTION, order))
        for order in orders
    }
    assert len(answers) == 1


def test_the_same_question_twice_to_one_engine_gives_the_same_bytes() -> None:
    cases = pool(4)
    engine = ENGINE.with_fit(fit(cases))
    first = as_bytes(asked(engine, QUESTION, cases))
    asked(engine, {**QUESTION, "symptoms": ["overheats"]}, cases)
    assert as_bytes(asked(engine, QUESTION, cases)) == first


@pytest.mark.parametrize("seed", [5, 6])
def test_an_unrelated_report_changes_no_count(seed: int) -> None:
    """Coolant leaks say nothing of brushes: neither counts nor people nor the range move."""
    cases = pool(seed)
    leak = make_case(
        id=str(make_id(9_900_000 + seed)),
        group=77,
        terms=("s:coolant-leak", "w:puddle", "k:fuel=diesel"),
        symptoms=("coolant-leak",),
        causes=("hose/leaking",),
        attempts=(make_attempt("hose"),),
    )
    # The fit stays: the next one is made when enough came in.
    before = asked(ENGINE, QUESTION, cases).fixes
    after = asked(ENGINE, QUESTION, [*cases, leak]).fixes
    assert before == after


def test_a_withdrawn_report_leaves_the_answer_as_if_it_never_came() -> None:
    cases = pool(7)
    with_it = asked(ENGINE.with_fit(fit(cases)), QUESTION, cases)
    without = asked(ENGINE.with_fit(fit(cases[1:])), QUESTION, cases[1:])
    never = asked(ENGINE.with_fit(fit(pool(7)[1:])), QUESTION, pool(7)[1:])
    assert as_bytes(without) == as_bytes(never)
    assert as_bytes(without) != as_bytes(with_it)
    assert cases[0].id not in without.model_dump_json()


def test_a_hundred_copies_of_one_report_count_as_one_in_an_answer() -> None:
    cases = pool(8)
    case = make_case(
        group=99, terms=("s:no-output", "w:dead", "w:outlet", "w:sweet", "w:miracle"),
        causes=("capacitor/failed",), attempts=(make_attempt("slip-rings", "clean"),),
    )  # fmt: skip
    copies = [case._replace(id=str(make_id(7_000_000 + i))) for i in range(100)]
    one = asked(ENGINE, QUESTION, [*cases, copies[0]])
    many = asked(ENGINE, QUESTION, [*cases, *copies])
    assert many.fixes == one.fixes
    assert many.causes == one.causes
    assert many.evidence.similar == one.evidence.similar


def shares_of(answer: Answer) -> list[float]:
    shares = [cause.probability for cause in answer.causes]
    shares += [cause.catalogue_share for cause in answer.causes]
    shares += [symptom.confidence for symptom in answer.symptoms]
    shares += [similar.similarity for similar in answer.similar]
    for fix in answer.fixes:
        shares.append(fix.chance)
        shares += [s for s in (fix.rate, fix.low, fix.high) if s is not None]
    shares += [step.chance for step in answer.plan if step.chance is not None]
    return shares


def no_part_that_it_lacks(answer: Answer, machine: Machine) -> None:
    named = {cause.component for cause in answer.causes}
    named |= {fix.component for fix in answer.fixes}
    named |= {get_by.component for get_by in answer.get_bys}
    named |= {step.component for step in answer.plan}
    for component in named - {None}:
        assert component is not None
        assert admits(ENGINE.catalogue.components[component].only, machine), component
    for step in answer.plan:
        if step.check is not None:
            assert admits(ENGINE.catalogue.checks[step.check].only, machine), step.check


def drawn_machines() -> list[dict[str, Any]]:
    draw = random.Random(2026)
    machines = []
    for _ in range(30):
        known = {f: draw.choice([None, *VOCABULARY.machine[f]]) for f in FIELDS}
        known["phases"] = draw.choice([None, 1, 3])
        known["rated_kva"] = draw.choice([None, 2.0, 6.5, 20.0])
        machines.append({field: value for field, value in known.items() if value is not None})
    return machines


@pytest.mark.parametrize(("number", "machine"), list(enumerate(drawn_machines())))
def test_thirty_kinds_of_set_get_a_sane_answer(number: int, machine: dict[str, Any]) -> None:
    """With reports of parts that the set may not even have among the past cases."""
    symptom = SYMPTOMS[number * 7 % len(SYMPTOMS)]
    cases = pool(100 + number, 10, symptom)
    answer = asked(ENGINE, {"machine": machine, "symptoms": [symptom], "limit": 50}, cases)
    assert all(0.0 <= share <= 1.0 for share in shares_of(answer))
    assert sum(cause.probability for cause in answer.causes) <= 1.001
    assert answer.plan[-1].do == "call"
    assert answer.expected_minutes > 0
    no_part_that_it_lacks(answer, Machine(**machine))


@st.composite
def questions(draw: st.DrawFn) -> dict[str, Any]:
    machine = {f: draw(st.sampled_from([None, *VOCABULARY.machine[f]])) for f in FIELDS[:4]}
    said = draw(st.lists(st.sampled_from(SYMPTOMS), min_size=1, max_size=3, unique=True))
    words = draw(st.lists(st.sampled_from(["not hot", "dead", "since rain", "no smoke"])))
    return {
        "machine": {field: value for field, value in machine.items() if value is not None},
        "symptoms": said,
        "complaint": ", ".join(words) or None,
        "before": draw(st.lists(st.sampled_from(VOCABULARY.before), max_size=2, unique=True)),
        "limit": draw(st.integers(1, 50)),
    }


@given(questions(), st.integers(0, 50))
@settings(max_examples=25)
def test_every_share_of_any_answer_is_a_share(question: dict[str, Any], seed: int) -> None:
    cases = pool(seed, 8, question["symptoms"][0])
    answer = asked(ENGINE, question, cases)
    assert all(0.0 <= share <= 1.0 for share in shares_of(answer))
    for fix in answer.fixes:
        assert 0 <= fix.fixed <= fix.tried
        assert fix.people <= fix.tried
        assert fix.cured <= fix.repairs
        if fix.low is not None:
            assert fix.high is not None
            assert fix.low <= fix.high
    assert len(answer.fixes) <= question["limit"]
    assert len(answer.similar) <= question["limit"]
    assert as_bytes(asked(ENGINE, question, cases[::-1])) == as_bytes(answer)
    no_part_that_it_lacks(answer, Machine(**question["machine"]))


@given(questions())
@settings(max_examples=15)
def test_with_no_reports_the_catalogue_answers_and_says_so(question: dict[str, Any]) -> None:
    answer = asked(ENGINE, question)
    assert answer.evidence.from_catalogue_only
    assert answer.evidence.similar == answer.evidence.contributors == 0
    assert all(cause.catalogue_share == 1.0 for cause in answer.causes)
    assert all(fix.tried == 0 and fix.rate is None for fix in answer.fixes)
    assert len(answer.causes) >= 10
    assert answer.get_bys == ()
