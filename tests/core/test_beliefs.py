"""What is believed of the causes: laws of probability, and what the kind of set excludes."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.diagnosis.facts import Facts
from mendpool.core.evidence.bayes import times_likelier, update
from mendpool.core.evidence.fit import fit
from mendpool.core.record.machine import Machine
from mendpool.core.record.report import Attempt

from tests.core.asking import asked, believed, facts_of, kinds_of_set, probability
from tests.core.believing import ENGINE, OTHER, reports
from tests.factories import make_case

SYMPTOMS = sorted(ENGINE.catalogue.symptoms)


# --- laws of probability


@st.composite
def any_facts(draw: st.DrawFn) -> Facts:
    machine = ENGINE.catalogue.vocabulary.machine
    kind = {
        field: draw(st.sampled_from([None, *machine[field]]))
        for field in ("fuel", "excitation", "cooling", "starting", "control")
    }
    checks = ENGINE.catalogue.checks
    found = draw(st.lists(st.sampled_from(sorted(checks)), max_size=3, unique=True))
    tried = draw(st.lists(st.sampled_from(sorted(ENGINE.catalogue.components)), max_size=3))
    return Facts(
        machine=Machine(phases=draw(st.sampled_from([None, 1, 3])), **kind),
        symptoms=draw(
            st.dictionaries(st.sampled_from(SYMPTOMS), st.floats(0.3, 1), max_size=3)
        ),
        absent=tuple(draw(st.lists(st.sampled_from(SYMPTOMS), max_size=2))),
        found={code: draw(st.sampled_from(sorted(checks[code].found))) for code in found},
        tried=tuple(
            Attempt(
                component=component,
                action=draw(st.sampled_from(["replace", "clean", "test", "adjust"])),
                result=draw(
                    st.sampled_from(["no-change", "found-good", "found-bad", "improved"])
                ),
            )
            for component in tried
        ),
        before=tuple(draw(st.lists(st.sampled_from(["stood-long", "frost"]), max_size=1))),
    )


@given(any_facts())
def test_probabilities_sum_to_one_whatever_is_said(facts: Facts) -> None:
    beliefs = believed(ENGINE, facts)
    assert beliefs.probability.sum() == pytest.approx(1.0, abs=1e-9)
    assert (beliefs.probability >= 0).all()
    assert ((beliefs.catalogue_share >= 0) & (beliefs.catalogue_share <= 1 + 1e-12)).all()
    assert sum(beliefs.kinds.values()) == pytest.approx(1.0 if beliefs.kinds else 0.0)


@given(any_facts())
def test_what_the_set_has_not_is_never_the_cause(facts: Facts) -> None:
    beliefs = believed(ENGINE, facts)
    for component, entry in ENGINE.catalogue.components.items():
        for field in ("fuel", "excitation", "cooling", "starting", "control"):
            allowed = getattr(entry.only, field)
            own = facts.machine.kind(field)
            if allowed and own is not None and own not in allowed:
                assert probability(ENGINE, beliefs, component) == 0


@given(any_facts())
def test_every_factor_can_be_printed(facts: Facts) -> None:
    beliefs = believed(ENGINE, facts)
    for factors in beliefs.factors(np.argsort(-beliefs.probability)[:10].tolist()):
        for said, times in factors:
            assert said.isprintable()
            assert said
            assert 0 < times < 1e6


def test_bayes_rule_on_a_published_example() -> None:
    """Mitchell 1997, ch. 6: a day of sunny, cool, high, strong gives P(no) 0.795."""
    no, yes = 0.0206, 0.0053
    posterior = update(np.array([no, yes]), [])
    assert posterior[0] == pytest.approx(0.795, abs=5e-4)
    prior = np.array([5 / 14, 9 / 14])
    pieces = [
        np.array(x) for x in ([3 / 5, 2 / 9], [1 / 5, 3 / 9], [4 / 5, 3 / 9], [3 / 5, 3 / 9])
    ]
    assert update(prior, pieces)[0] == pytest.approx(0.795, abs=5e-4)


def test_times_likelier_is_against_what_would_be_believed_without_it() -> None:
    prior, likelihood = np.array([0.2, 0.8]), np.array([0.9, 0.1])
    posterior = update(prior, [likelihood])
    assert times_likelier(likelihood, posterior, 0) == pytest.approx(0.9 / 0.26)


# --- the kind of set excludes


@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_no_part_of_another_kind_of_set_for_any_symptom(symptom: str) -> None:
    """No brushes on a brushless set, no glow plug on petrol, no thermostat on air."""
    known = {
        Machine(excitation="brushless-avr"): ("brushes", "slip-rings", "capacitor"),
        Machine(excitation="inverter"): ("brushes", "avr", "residual-field"),
        Machine(fuel="petrol"): ("glow-plug", "injection-pump", "injector"),
        Machine(fuel="diesel"): ("spark-plug", "ignition-coil", "carburettor"),
        Machine(cooling="air"): ("thermostat", "water-pump", "radiator-cap", "coolant"),
        Machine(starting="recoil"): ("battery", "starter-motor"),
        Machine(control="manual"): ("line-sensing",),
    }
    for machine, parts in known.items():
        beliefs = believed(ENGINE, facts_of(machine=machine, symptoms={symptom: 1.0}))
        for part in parts:
            assert probability(ENGINE, beliefs, part) == 0


def test_no_kind_of_set_is_left_without_an_answer(catalogue: Catalogue) -> None:
    for machine in kinds_of_set(catalogue):
        beliefs = believed(ENGINE, facts_of(machine=machine))
        assert beliefs.probability.sum() == pytest.approx(1.0)
        if machine.kind("excitation") in {"brushless-avr", "brushless-pmg", "inverter"}:
            assert probability(ENGINE, beliefs, "brushes") == 0


def test_overheating_on_air_is_fins_nest_and_cowl_first() -> None:
    """Trade notes 4: blocked fins, nest or missing cowl 50, overload or hot air 20, oil 15."""
    air = facts_of(machine=Machine(cooling="air", fuel="petrol"), symptoms={"overheats": 1.0})
    beliefs = believed(ENGINE, air)
    fins = sum(probability(ENGINE, beliefs, part) for part in ("radiator", "enclosure"))
    assert 0.35 < fins < 0.65
    assert fins > 3 * probability(ENGINE, beliefs, "load")
    assert probability(ENGINE, beliefs, "oil") > 0.05


# --- the kind of set is not known


@pytest.mark.parametrize(
    "machine",
    [
        Machine(fuel="diesel"),
        Machine(fuel="petrol", phases=1, rated_kva=2.0),
        Machine(),
        Machine(fuel="diesel", phases=3, rated_kva=12.0),
    ],
)
@pytest.mark.parametrize("symptom", ["no-output", "low-voltage", "hunting"])
def test_not_known_is_the_mix_of_the_kinds(machine: Machine, symptom: str) -> None:
    """The law of total probability."""
    open_kind = believed(ENGINE, facts_of(machine=machine, symptoms={symptom: 1.0}))
    assert open_kind.kinds
    mixed = sum(
        share
        * believed(
            ENGINE,
            facts_of(
                machine=machine.model_copy(update={"excitation": kind}), symptoms={symptom: 1.0}
            ),
        ).probability
        for kind, share in open_kind.kinds.items()
    )
    np.testing.assert_allclose(open_kind.probability, mixed, atol=1e-12)


def test_not_known_and_nothing_said_are_the_same() -> None:
    silent = believed(ENGINE, facts_of(machine=Machine(fuel="diesel")))
    said = believed(ENGINE, facts_of(machine=Machine(fuel="diesel", excitation="not-known")))
    np.testing.assert_array_equal(silent.probability, said.probability)


def test_with_nothing_said_the_kinds_are_as_common_as_the_catalogue_has_them() -> None:
    beliefs = believed(ENGINE, facts_of(machine=Machine(fuel="diesel"), symptoms={}))
    mix = next(
        entry.shares
        for entry in ENGINE.catalogue.sets.mix["excitation"]
        if entry.fuel == ("diesel",) and entry.kva_from == 0 and entry.kva_to > 1e6
    )
    assert beliefs.kinds == pytest.approx({k: share / 100 for k, share in mix.items()})


def test_a_symptom_tells_of_the_kind() -> None:
    """Worn brushes are among the causes of flicker: it makes a brushed set likelier."""
    machine = Machine(fuel="diesel")
    bare = believed(ENGINE, facts_of(machine=machine, symptoms={}))
    flicker = believed(ENGINE, facts_of(machine=machine, symptoms={"unsteady-voltage": 1.0}))
    assert flicker.kinds != bare.kinds


def test_a_part_that_was_in_hand_tells_of_the_kind() -> None:
    """Who has changed the brushes has a set with brushes, and no rotating rectifier."""
    tried = (Attempt(component="brushes", action="replace", result="no-change"),)
    beliefs = believed(ENGINE, facts_of(machine=Machine(fuel="diesel"), tried=tried))
    assert set(beliefs.kinds) == {"brushed-avr", "transformer"}
    assert sum(beliefs.kinds.values()) == pytest.approx(1.0)
    assert probability(ENGINE, beliefs, "rotating-diodes") == 0.0


def test_parts_that_no_kind_has_together_rule_no_kind_out() -> None:
    tried = tuple(
        Attempt(component=component, action="replace", result="no-change")
        for component in ("brushes", "inverter-module")
    )
    beliefs = believed(ENGINE, facts_of(machine=Machine(fuel="diesel"), tried=tried))
    assert len(beliefs.kinds) > 2


# --- something else


@given(st.integers(0, 30))
@settings(max_examples=15)
def test_something_else_keeps_its_two_per_cent_before_any_test(number: int) -> None:
    beliefs = believed(ENGINE, facts_of(), reports(number))
    assert beliefs.probability[-1] >= OTHER - 1e-12


def test_causes_that_nobody_listed_leave_more_room_for_something_else() -> None:
    """Good and Turing: what was seen once tells how much was never seen.

    The catalogue's own causes count as seen; a pool whose repairs are none of them says
    that there is more.
    """
    listed = [make_case(causes=("avr/failed",), group=i) for i in range(30)]
    odd = [
        make_case(causes=(f"{part}/gummed",), group=i)
        for i, part in enumerate(("avr", "brushes", "main-breaker", "battery", "rcd") * 1)
    ] + [make_case(causes=(f"{p}/waxed",), group=i) for i, p in enumerate(("avr", "rcd"))]
    expected = ENGINE.expectations
    room = [
        float(believed(ENGINE.with_fit(fit(cases, expected)), facts_of()).probability[-1])
        for cases in (listed, [*listed, *odd])
    ]
    assert room[0] < room[1]


def test_something_else_is_always_shown(engine: Engine) -> None:
    for symptom in ("no-output", "overheats", "trips-rcd"):
        answer = asked(engine, {"machine": {"fuel": "petrol"}, "symptoms": [symptom]})
        shown = [cause for cause in answer.causes if cause.component is None]
        assert len(shown) == 1
        assert shown[0].says == "something else"
        assert len(answer.causes) >= 10
        assert sum(cause.probability for cause in answer.causes) <= 1.001
