"""What counts as a try for the fit, and what a term weighs."""

import pytest

from mendpool.core.diagnosis.derive import derive, tried_of
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.evidence.case import (
    Case,
    components_at_fault,
    cured_by,
)
from mendpool.core.evidence.fit import fit
from mendpool.core.record.report import Attempt, Report

from tests.factories import make_attempt, make_case, make_id, make_report

# --- what counts as a try


@pytest.mark.parametrize(
    "result", ["found-good", "found-bad", "part-no-good", "could-not-tell"]
)
def test_a_test_or_a_dead_new_part_is_no_try(result: str) -> None:
    case = make_case(attempts=(make_attempt("avr", result=result), make_attempt("brushes")))
    made = fit([case])
    assert "avr replace" not in made.fixes
    assert made.fixes["brushes replace"].pool == (1.0, 1.0)


@pytest.mark.parametrize("result", ["no-change", "worse", "improved"])
def test_a_try_that_did_not_cure_counts_against(result: str) -> None:
    made = fit([make_case(attempts=(make_attempt("avr", result=result),))])
    assert made.fixes["avr replace"].pool == (0.0, 1.0)


def test_a_get_by_is_never_a_fix_that_worked() -> None:
    bridged = make_case(causes=(), attempts=(make_attempt("oil-switch", "bypass"),))
    assert fit([bridged]).fixes == {}
    assert cured_by(bridged, frozenset()) == ()
    defeated = make_case(
        causes=(), attempts=(make_attempt("oil-switch", "remove"),), defeated=True
    )
    assert fit([defeated]).fixes == {}
    assert components_at_fault(defeated, frozenset()) == ()


def test_what_was_done_together_shares_the_credit() -> None:
    attempts = (
        Attempt(component="brushes", action="replace", result="could-not-tell", with_next=True),
        Attempt(component="slip-rings", action="clean", result="fixed"),
        Attempt(component="avr", action="replace", result="no-change"),
    )
    tried = tried_of(attempts)
    assert [(t.component, t.result, t.shared) for t in tried] == [
        ("brushes", "fixed", 2), ("slip-rings", "fixed", 2), ("avr", "no-change", 1),
    ]  # fmt: skip
    made = fit([make_case(attempts=tried)])
    assert made.fixes["brushes replace"].pool == (0.5, 0.5)
    assert made.fixes["slip-rings clean"].pool == (0.5, 0.5)
    assert made.fixes["avr replace"].pool == (0.0, 1.0)


def test_the_cause_is_as_reported_else_what_the_cure_was_done_to() -> None:
    assert components_at_fault(make_case(causes=("avr/failed",)), frozenset()) == ("avr",)
    assert components_at_fault(make_case(causes=()), frozenset()) == ("brushes",)
    lost = make_case(causes=(), attempts=(make_attempt(result="no-change"),))
    assert components_at_fault(lost, frozenset()) == ()
    assert fit([lost]).cause_total == {}


def test_readings_as_left_teach_nothing(engine: Engine) -> None:
    """Diagnosis learns from what was found; after the repair it reads as it should."""

    def learned(stage: str | None) -> Case:
        reading = {"quantity": "residual-voltage", "point": "output", "value": 0.3, "unit": "V"}
        body = make_report(readings=[{**reading, "stage": stage} if stage else reading])
        report = Report.model_validate(body)
        return derive(str(make_id()), report, engine.plain_reader, engine.knowledge).case

    found, left = learned("found"), learned("left")
    assert "residual-volts=low" in found.found
    assert learned(None).found == found.found
    assert left.found == ()
    assert not [term for term in left.terms if term.startswith("r:")]
    assert fit([left]).found == {}
    assert fit([found]).found["residual-volts|brushes/worn"] == {"low": 1.0}


def test_a_reading_as_left_does_not_hide_the_one_in_the_complaint(engine: Engine) -> None:
    left = {
        "quantity": "residual-voltage", "point": "output", "value": 4.0, "unit": "V",
        "stage": "left",
    }  # fmt: skip
    body = make_report(complaint="no output, residual 0.3 V", readings=[left])
    report = Report.model_validate(body)
    case = derive(str(make_id()), report, engine.plain_reader, engine.knowledge).case
    assert "residual-volts=low" in case.found


# --- the weights of terms


def test_a_term_that_tells_causes_apart_weighs_more_than_one_that_does_not() -> None:
    parts = (
        "brushes",
        "avr",
        "capacitor",
        "diodes",
        "fuel-filter",
        "battery",
        "starter",
        "oil",
    )
    cases = [
        make_case(
            group=i,
            causes=(f"{parts[i % 8]}/failed",),
            terms=(f"w:sign{i % 8}", f"w:even{i // 8 % 8}"),
        )
        for i in range(128)
    ]
    weights = fit(cases).weights
    # As many reports say the one as the other; only one of them goes with a part.
    assert weights["w:sign0"] >= 3 * weights["w:even0"]
    assert all(1 <= weight <= 100 for weight in weights.values())


def test_a_rare_term_weighs_more_than_a_common_one() -> None:
    cases = [
        make_case(group=i, terms=("w:common", *(("w:rare",) if i == 0 else ())))
        for i in range(20)
    ]
    weights = fit(cases).weights
    assert weights["w:rare"] > weights["w:common"]
