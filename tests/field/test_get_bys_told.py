"""A set that runs because nothing stops it is told as a get-by, however it was typed."""

import json
from typing import Any

import pytest

from tests.field.conftest import Run
from tests.field.fake_pool import FakePool
from tests.field.samples import BARN
from tests.field.walking import BRUSHES, LOOK, PROVE, SWITCH, Planner, lines

REPORT = ("report", "stops by itself", "--on", "barn", "--yes")
STEPS = ("ask", "--on", "barn", "--steps", "stops by itself")


@pytest.fixture(autouse=True)
def _barn(joined: Run) -> None:
    assert joined(*BARN).exit_code == 0


def stored(pool: FakePool) -> dict[str, Any]:
    (report,) = pool.reports.values()
    return report


class TestTypedOnALine:
    @pytest.mark.parametrize("action", ["remove", "bypass"])
    def test_a_protection_taken_out_is_a_get_by_and_left_defeated(
        self, joined: Run, pool: FakePool, action: str
    ) -> None:
        told = joined(*REPORT, "--tried", f"oil-switch {action} fixed")
        assert told.exit_code == 0, told.output
        report = stored(pool)
        assert report["outcome"] == "get-by"
        assert report["protection_defeated"] is True
        assert report["protection"] == {"left": "defeated"}
        assert "nothing stops or trips it" in " ".join(told.stderr.split())

    def test_a_later_repair_does_not_put_it_back(self, joined: Run, pool: FakePool) -> None:
        tried = ("--tried", "oil-switch remove fixed", "--tried", "brushes replace fixed")
        assert joined(*REPORT, *tried).exit_code == 0
        assert stored(pool)["outcome"] == "get-by"
        assert stored(pool)["protection_defeated"] is True

    def test_one_that_was_replaced_afterwards_is_back(
        self, joined: Run, pool: FakePool
    ) -> None:
        tried = ("--tried", "oil-switch remove fixed", "--tried", "oil-switch replace fixed")
        assert joined(*REPORT, *tried).exit_code == 0
        assert stored(pool)["outcome"] == "repaired"
        assert "protection_defeated" not in stored(pool)

    def test_a_fixed_part_on_a_set_left_defeated_is_no_repair(
        self, joined: Run, pool: FakePool
    ) -> None:
        assert joined(*REPORT, "--defeated", "--tried", "brushes replace fixed").exit_code == 0
        assert stored(pool)["outcome"] == "get-by"

    def test_a_part_that_is_no_protection_may_be_taken_off(
        self, joined: Run, pool: FakePool
    ) -> None:
        assert joined(*REPORT, "--tried", "muffler remove fixed").exit_code == 0
        assert stored(pool)["outcome"] == "repaired"

    def test_a_file_that_says_what_is_left_is_believed(
        self, joined: Run, pool: FakePool
    ) -> None:
        body = {
            "machine": {"fuel": "diesel"}, "complaint": "stops by itself",
            "attempts": [{"component": "avr", "action": "replace", "result": "fixed"}],
            "protection": {"left": "defeated"},
        }  # fmt: skip
        told = joined("report", "--file", "-", "--yes", typed=json.dumps(body))
        assert told.exit_code == 0, told.output
        assert stored(pool)["outcome"] == "get-by"

    def test_called_repaired_it_is_told_as_what_it_is(
        self, joined: Run, pool: FakePool
    ) -> None:
        tried = ("--tried", "oil-switch remove improved", "--tried", "avr replace fixed")
        told = joined(*REPORT, *tried, "--outcome", "repaired")
        assert told.exit_code == 0, told.output
        assert "--left proved" in told.stderr
        assert stored(pool)["outcome"] == "get-by"
        assert stored(pool)["protection_defeated"] is True

    @pytest.mark.parametrize("left", ["proved", "untested"])
    def test_one_that_is_back_is_said_to_be(
        self, joined: Run, pool: FakePool, left: str
    ) -> None:
        tried = ("--tried", "oil-switch remove improved", "--tried", "avr replace fixed")
        assert joined(*REPORT, *tried, "--left", left).exit_code == 0
        assert stored(pool)["outcome"] == "repaired"
        assert stored(pool)["protection"]["left"] == left

    def test_a_bypass_called_a_repair_is_said_to_be_none(
        self, joined: Run, pool: FakePool
    ) -> None:
        tried = ("--tried", "fuel-solenoid bypass fixed", "--outcome", "repaired")
        told = joined(*REPORT, *tried)
        assert "told as a get-by" in told.stderr
        assert stored(pool)["outcome"] == "get-by"


class TestWalked:
    TRIED = ("--tried", "oil-switch bypass improved")

    @pytest.mark.parametrize(("key", "left"), [("1", "proved"), ("2", "untested")])
    def test_what_was_bridged_before_is_asked_for_by_name(
        self, joined: Run, pool: FakePool, key: str, left: str
    ) -> None:
        Planner(BRUSHES).at(pool)
        told = joined(*STEPS, *self.TRIED, typed=lines("1", "", key, "1", "", "", "", "y"))
        assert told.exit_code == 0, told.output
        assert "bridged or taken out: oil pressure or level switch" in told.stderr
        assert stored(pool)["outcome"] == "repaired"
        assert stored(pool)["protection"] == {"left": left}

    @pytest.mark.parametrize("key", ["3", ""])
    def test_a_cure_beside_a_bridge_left_in_is_no_repair(
        self, joined: Run, pool: FakePool, key: str
    ) -> None:
        Planner(BRUSHES).at(pool)
        typed = lines("1", "", key, "repaired", *[""] * 5, "y")
        told = joined(*STEPS, *self.TRIED, typed=typed)
        assert told.exit_code == 0, told.output
        assert "that is no repair" in told.stderr
        assert stored(pool)["outcome"] == "get-by"

    def test_a_get_by_after_a_cure_is_what_it_ends_by(
        self, joined: Run, pool: FakePool
    ) -> None:
        Planner(BRUSHES, LOOK).at(pool)
        bridged = ("d", "fuel-solenoid", "bypass", "fixed", "")
        told = joined(*STEPS, typed=lines("2", "", *bridged, "e", *[""] * 6, "y"))
        assert told.exit_code == 0, told.output
        assert stored(pool)["outcome"] == "get-by"

    @pytest.mark.parametrize(
        ("part", "action", "proof"),
        [("fuel-solenoid", "bypass", ()), ("oil-switch", "remove", ("2",))],
    )
    def test_what_only_gets_by_is_proposed_as_such_and_names_no_cause(
        self, joined: Run, pool: FakePool, part: str, action: str, proof: tuple[str, ...]
    ) -> None:
        Planner(LOOK).at(pool)
        typed = lines("d", part, action, "fixed", "", *proof, "e", "", "", *([""] * 4), "y")
        told = joined(*STEPS, typed=typed)
        assert told.exit_code == 0, told.output
        assert stored(pool)["outcome"] == "get-by"
        assert "cause" not in stored(pool)

    def test_a_new_switch_left_out_of_action_is_no_repair(
        self, joined: Run, pool: FakePool
    ) -> None:
        Planner(SWITCH, PROVE).at(pool)
        told = joined(*STEPS, typed=lines("1", "25", "3", "", "", "", "", "y"))
        assert told.exit_code == 0, told.output
        assert stored(pool)["outcome"] == "get-by"
        assert stored(pool)["protection_defeated"] is True

    def test_told_at_the_end_that_one_is_out_the_outcome_is_asked_again(
        self, joined: Run, pool: FakePool
    ) -> None:
        Planner(BRUSHES).at(pool)
        told = joined(*STEPS, typed=lines("1", "", "1", "", "4", "", "", "y"))
        assert told.exit_code == 0, told.output
        assert "that is no repair" in told.stderr
        assert stored(pool)["outcome"] == "get-by"
