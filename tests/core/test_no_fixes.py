"""What is no try, and what only gets by: neither is ever counted or shown as a fix."""

from typing import Any

import pytest

from mendpool.core.diagnosis.fixes import tallies
from mendpool.core.diagnosis.get_bys import shown_get_bys
from mendpool.core.evidence.attempts import gets_by, tries_of
from mendpool.core.evidence.case import Case
from mendpool.core.evidence.fit import fit
from mendpool.core.record.answer import GetBy

from tests.core.asking import asked
from tests.core.fixing import BRUSHES, ENGINE, fixes, weighed
from tests.factories import make_attempt, make_case

PROTECTIONS = frozenset(ENGINE.catalogue.sets.protections)
EVERYTHING = frozenset(ENGINE.catalogue.components)


def get_bys(cases: list[Case]) -> dict[tuple[str, str], GetBy]:
    shown = shown_get_bys(weighed(cases), ENGINE.catalogue, EVERYTHING)
    return {(get_by.component, get_by.action): get_by for get_by in shown}


# --- what is no try


@pytest.mark.parametrize(
    "result", ["found-good", "found-bad", "part-no-good", "could-not-tell"]
)
def test_what_was_no_try_is_not_counted(result: str) -> None:
    case = make_case(attempts=(make_attempt(result=result), make_attempt("avr")))
    counted = tallies(tries_of(weighed([case]), PROTECTIONS))
    assert BRUSHES not in counted
    assert len(counted["avr", "replace"]) == 1


@pytest.mark.parametrize("result", ["fixed", "no-change", "improved"])
def test_a_test_is_no_try_of_a_repair_whatever_came_of_it(result: str) -> None:
    case = make_case(attempts=(make_attempt("avr", "test", result=result), make_attempt()))
    assert ("avr", "test") not in fixes(weighed([case] * 3))
    assert ("avr", "test") not in tallies(tries_of(weighed([case]), PROTECTIONS))
    assert "avr test" not in fit([case]).fixes


def test_what_was_done_together_shares_its_worth_and_not_its_count() -> None:
    case = make_case(
        attempts=(make_attempt(shared=2), make_attempt("slip-rings", "clean", shared=2))
    )
    shown = fixes(weighed([case]))
    assert shown[BRUSHES].worth == 0.5
    assert shown[BRUSHES].tried == 1
    assert shown["slip-rings", "clean"].worth == 0.5


# --- get-bys are never fixes


def bypassed(component: str = "oil-switch", action: str = "bypass", **more: Any) -> Case:
    attempts = (make_attempt(component, action, **more),)
    return make_case(causes=(), attempts=attempts, outcome="get-by")


@pytest.mark.parametrize("result", ["fixed", "improved", "no-change", "worse"])
def test_a_bypass_stands_under_get_bys_whatever_its_result(result: str) -> None:
    case = bypassed(result=result)
    assert not [key for key in fixes(weighed([case])) if key[1] == "bypass"]
    get_by = get_bys([case])["oil-switch", "bypass"]
    assert get_by.protection_defeated
    assert get_by.worked == (1 if result in ("fixed", "improved") else 0)
    assert get_by.tried == 1
    assert get_by.risk
    assert "Undo it as soon as" in get_by.restore


@pytest.mark.parametrize("component", sorted(PROTECTIONS))
def test_taking_a_protection_off_is_a_get_by(component: str) -> None:
    case = bypassed(component, "remove")
    assert gets_by(case, case.attempts[0], PROTECTIONS)
    assert (component, "remove") not in fixes(weighed([case] * 3))
    assert get_bys([case])[component, "remove"].protection_defeated


def test_taking_off_what_is_no_protection_is_a_fix() -> None:
    case = make_case(attempts=(make_attempt("muffler", "remove"),), causes=())
    assert not gets_by(case, case.attempts[0], PROTECTIONS)


def test_all_that_was_done_to_a_set_left_without_a_protection_is_a_get_by() -> None:
    """Whatever its result: the oil switch is unplugged, and new brushes prove nothing."""
    defeated = make_case(defeated=True)
    shown = fixes(weighed([defeated]))
    assert shown[BRUSHES].tried == 0
    assert shown[BRUSHES].repairs == 0
    assert get_bys([defeated])[BRUSHES].protection_defeated


def test_a_bypass_of_what_protects_nothing_is_told_apart() -> None:
    get_by = get_bys([bypassed("fuel-filter")])["fuel-filter", "bypass"]
    assert not get_by.protection_defeated
    assert get_by.risk.startswith("A get-by is not a repair.")


def test_get_bys_name_people_and_the_most_used_first() -> None:
    cases = [bypassed() for _ in range(3)]
    cases = [case._replace(group=i) for i, case in enumerate(cases)]
    cases.append(bypassed("temperature-switch"))
    shown = get_bys(cases)
    assert list(shown) == [("oil-switch", "bypass"), ("temperature-switch", "bypass")]
    assert shown["oil-switch", "bypass"].people == 3


def test_a_look_at_a_bypassed_part_is_no_get_by() -> None:
    looked = make_case(
        causes=(), defeated=True, attempts=(make_attempt("avr", "test", result="found-good"),)
    )
    assert get_bys([looked]) == {}


def test_a_get_by_is_never_a_step_of_the_plan() -> None:
    cases = [
        make_case(
            group=i, terms=("s:stops-running", f"w:a{i}"), symptoms=("stops-running",),
            causes=("oil-switch/failed",), attempts=(make_attempt("oil-switch", "bypass"),),
        )
        for i in range(12)
    ]  # fmt: skip
    answer = asked(
        ENGINE,
        {"machine": {"fuel": "diesel"}, "symptoms": ["stops-running"], "get_by": True},
        cases,
    )
    assert answer.get_bys
    assert not [step for step in answer.plan if step.action == "bypass"]
    assert not [fix for fix in answer.fixes if fix.action == "bypass"]
