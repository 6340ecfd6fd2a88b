"""What is at hand: tests that can't be made stay out, parts not there are waited for."""

from typing import Any

import pytest

from mendpool.core.catalogue.model import Check
from mendpool.core.diagnosis.hands import Hands, hands_of
from mendpool.core.diagnosis.plan import Plan
from mendpool.core.record.report import Attempt

from tests.core.asking import facts_of, planned
from tests.engines import packaged_engine

ENGINE = packaged_engine()
CATALOGUE = ENGINE.catalogue
WAIT = CATALOGUE.planning.hands.wait_minutes
FOUND = {"walk-round": "all-right"}
WORN = {**FOUND, "brush-length": "low", "brush-to-brush-ohms": "high"}


def check_needing(need: str) -> Check:
    return next(c for c in CATALOGUE.checks.values() if need in c.needs)


def plan(**facts: Any) -> Plan:
    return planned(ENGINE, facts_of(**facts))


# --- codes and words


@pytest.mark.parametrize(
    ("said", "needs", "parts"),
    [
        ("multimeter", {"multimeter"}, set()),
        ("Meter", {"multimeter"}, set()),
        ("a volt meter", {"multimeter"}, set()),
        ("spanner", {"spanners"}, set()),
        ("second person", {"second-person"}, set()),
        ("second-person", {"second-person"}, set()),
        ("helper", {"second-person"}, set()),
        ("brushes", set(), {"brushes"}),
        ("new brush", set(), {"brushes"}),
        ("carbons", set(), {"brushes"}),
        ("avr", set(), {"avr"}),
        ("gasket", {"gasket"}, set()),
    ],
)
def test_tools_parts_and_people_are_known_by_code_and_by_word(
    said: str, needs: set[str], parts: set[str]
) -> None:
    hands = hands_of([said], CATALOGUE)
    assert (hands.needs, hands.parts, hands.not_known) == (needs, parts, ())


def test_what_is_not_known_changes_nothing_and_is_said() -> None:
    hands = hands_of(["a hammer"], CATALOGUE)
    assert hands.not_known == ("a hammer",)
    assert all(hands.can(check) for check in CATALOGUE.checks.values())
    made = plan(found=FOUND, at_hand=("a hammer",))
    assert made.steps == plan(found=FOUND).steps
    (flag,) = made.flags
    assert flag.code == "not-known-at-hand"
    assert "“a hammer”" in flag.says


# --- tests


def test_nothing_said_means_nothing_missing() -> None:
    hands = hands_of([], CATALOGUE)
    assert all(hands.can(check) for check in CATALOGUE.checks.values())
    assert hands.wait("brushes", None, "replace", CATALOGUE) == 0


@pytest.mark.parametrize("need", ["second-person", "insulation-tester", "multimeter"])
def test_a_test_is_kept_out_for_want_of_a_tool_or_a_second_person(need: str) -> None:
    """Naming a tool names all there are; a helper must be named too."""
    check = check_needing(need)
    have = [n for n in {*check.needs, "torch"} if n != need]
    assert not hands_of(have, CATALOGUE).can(check)
    assert hands_of([*have, need], CATALOGUE).can(check)


def test_naming_parts_or_a_helper_says_nothing_of_tools() -> None:
    for said in (["brushes", "avr"], ["second person"], ["brushes", "helper"]):
        hands = hands_of(said, CATALOGUE)
        assert all(hands.can(check) for check in CATALOGUE.checks.values())


def test_what_was_left_out_for_want_of_a_tool_is_said() -> None:
    made = plan(found=FOUND, at_hand=("spanners", "torch"))
    (flag,) = [f for f in made.flags if f.code == "not-at-hand"]
    assert "multimeter" in flag.says
    assert "second person" not in flag.says or "spanners" not in flag.says
    assert plan(found=FOUND).flags == ()


# --- parts


def test_only_parts_not_named_are_waited_for_and_only_by_what_wants_one() -> None:
    hands = hands_of(["avr"], CATALOGUE)
    assert hands.wait("avr", None, "replace", CATALOGUE) == 0
    assert hands.wait("brushes", None, "replace", CATALOGUE) == WAIT
    for action in ("clean", "tighten", "adjust", "set", "reset", "flash", "bleed"):
        assert hands.wait("brushes", None, action, CATALOGUE) == 0
    tools = hands_of(["multimeter", "spanners"], CATALOGUE)
    assert tools.wait("brushes", None, "replace", CATALOGUE) == 0, "no part was named"


def test_a_remedy_that_wants_a_bought_thing_waits_for_it() -> None:
    remedy = next(
        r for cause in CATALOGUE.causes for r in cause.remedies
        if "gasket" in r.needs and r.action not in CATALOGUE.planning.hands.parts_for
    )  # fmt: skip
    assert hands_of(["avr"], CATALOGUE).wait("x", remedy, remedy.action, CATALOGUE) == WAIT
    with_it = Hands(needs=frozenset(remedy.needs), parts_said=True)
    assert with_it.wait("x", remedy, remedy.action, CATALOGUE) == 0


def test_a_part_not_at_hand_is_told_with_its_wait_and_lengthens_the_plan() -> None:
    bad = (Attempt(component="brushes", action="test", result="found-bad"),) * 2
    there = plan(found=WORN, tried=bad, at_hand=("brushes",))
    away = plan(found=WORN, tried=bad, at_hand=("avr",))
    unsaid = plan(found=WORN, tried=bad)
    step = {
        made: next(s for s in m.steps if (s.component, s.action) == ("brushes", "replace"))
        for made, m in (("there", there), ("away", away), ("unsaid", unsaid))
    }
    assert step["there"].wait is None
    assert step["unsaid"].wait is None
    assert step["away"].wait == WAIT
    assert "not at hand" in step["away"].says
    assert step["away"].minutes == step["there"].minutes, "the wait stands beside the work"
    assert there.expected < away.expected
    assert unsaid.expected <= there.expected
