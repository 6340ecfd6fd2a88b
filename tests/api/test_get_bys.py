"""A way round a part is never a fix: it stands apart, with its risk and how to undo it."""

from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue

from tests.api.pools import Pool

SET = {"fuel": "diesel", "excitation": "brushless-avr"}
QUESTION = {"machine": SET, "symptoms": ["cranks-no-start"], "limit": 50, "get_by": True}
WORDS = ("cold morning", "after the flood", "by the barn", "harvest", "mouse nest", "hums")
# Decisions on what protects a set, an owner or the house.
PROTECTIONS = (
    "oil-switch", "temperature-switch", "main-breaker", "rcd", "control-fuse", "stop-button",
    "earth-bond", "radiator-cap", "transfer-switch",
)  # fmt: skip


def fill(pool: Pool, attempt: dict[str, Any], **more: Any) -> None:
    """Have six people report that it worked, each in words of his own."""
    for number, words in enumerate(WORDS):
        name = f"member-{number}"
        pool.join(name)
        pool.put(
            {
                "machine": {**SET, "rated_kva": 5 + number},
                "complaint": f"cranks but will not start, {words}",
                "symptoms": ["cranks-no-start"],
                "attempts": [{"result": "fixed", "minutes": 5, **attempt}],
                "cause": {"component": attempt["component"], "failure": "failed"},
                "outcome": "get-by",
                **more,
            },
            name,
        )


def ask(pool: Pool) -> dict[str, Any]:
    found: dict[str, Any] = pool.client("alder").post("/v1/ask", json=QUESTION).json()
    return found


def advised(answer: dict[str, Any]) -> set[tuple[str, str]]:
    """What an answer calls a fix, in its list or in its plan."""
    steps = [step for step in answer["plan"] if step["do"] == "fix"]
    return {(fix["component"], fix["action"]) for fix in [*answer["fixes"], *steps]}


def test_the_protections_are_those_decided(catalogue: Catalogue) -> None:
    assert sorted(catalogue.sets.protections) == sorted(PROTECTIONS)


def test_a_bypass_that_worked_for_everyone_is_a_get_by_and_no_fix(fresh: Pool) -> None:
    fill(fresh, {"component": "fuel-solenoid", "action": "bypass"})
    answer = ask(fresh)
    assert {action for _, action in advised(answer)}.isdisjoint({"bypass", "test"})
    assert all(
        fix["tried"] == 0 for fix in answer["fixes"] if fix["component"] == "fuel-solenoid"
    )
    (get_by,) = answer["get_bys"]
    assert (get_by["component"], get_by["action"]) == ("fuel-solenoid", "bypass")
    assert get_by["worked"] == get_by["tried"] >= 3
    assert get_by["risk"]
    assert get_by["restore"]
    assert get_by["protection_defeated"] is False


@pytest.mark.parametrize("component", ["oil-switch", "control-fuse", "stop-button"])
def test_a_protection_taken_out_is_no_fix(fresh: Pool, component: str) -> None:
    fill(fresh, {"component": component, "action": "remove"})
    answer = ask(fresh)
    assert (component, "remove") not in advised(answer)
    assert [
        (g["component"], g["action"], g["protection_defeated"]) for g in answer["get_bys"]
    ] == [(component, "remove", True)]


@pytest.mark.parametrize(
    "left", [{"protection_defeated": True}, {"protection": {"left": "defeated"}}]
)
def test_whatever_was_done_on_a_set_left_defeated_is_no_fix(
    fresh: Pool, left: dict[str, Any]
) -> None:
    fill(fresh, {"component": "fuel-filter", "action": "clean"}, outcome="repaired", **left)
    answer = ask(fresh)
    counted = {(f["component"], f["action"]): f for f in answer["fixes"]}
    assert counted["fuel-filter", "clean"]["tried"] == 0, "by the catalogue alone"
    assert counted["fuel-filter", "clean"]["rate"] is None
    assert [(g["component"], g["protection_defeated"]) for g in answer["get_bys"]] == [
        ("fuel-filter", True)
    ]


@pytest.mark.parametrize("found", ["intact", "defeated"])
def test_a_set_that_was_put_right_counts_among_the_fixes(fresh: Pool, found: str) -> None:
    fill(
        fresh,
        {"component": "fuel-filter", "action": "clean"},
        outcome="repaired",
        protection={"found": found, "left": "proved"},
    )
    answer = ask(fresh)
    counted = {(f["component"], f["action"]): f for f in answer["fixes"]}
    assert counted["fuel-filter", "clean"]["fixed"] >= 3
    assert answer["get_bys"] == []


def test_a_report_of_a_bypass_carries_its_caution(fresh: Pool) -> None:
    body = {
        "machine": SET,
        "symptoms": ["low-oil-pressure"],
        "attempts": [{"component": "oil-switch", "action": "bypass", "result": "fixed"}],
        "outcome": "get-by",
        "protection_defeated": True,
    }
    report = fresh.put(body)
    stored = fresh.client("birch").get(f"/v1/reports/{report}").json()
    assert "protection-defeated" in {caution["code"] for caution in stored["cautions"]}
