"""A proving run that was not passed: no repair, and no good readings of this set."""

from pathlib import Path
from typing import Any

import pytest

from mendpool_field.past import past_of

from tests.field.conftest import Run
from tests.field.fake_pool import FakePool
from tests.field.samples import BARN
from tests.field.walking import BRUSHES, Planner, lines

REPORT = (
    "report", "no power", "--on", "barn", "--tried", "brushes replace fixed",
    "--prove", "--yes",
)  # fmt: skip
STEPS = ("ask", "--on", "barn", "--steps", "no power")
TOO_HIGH = ("y", "61.5", "310", "")


@pytest.fixture(autouse=True)
def _barn(joined: Run) -> None:
    assert joined(*BARN).exit_code == 0


def stored(pool: FakePool) -> dict[str, Any]:
    (report,) = pool.reports.values()
    return report


def test_unattended_it_is_told_as_not_repaired(joined: Run, pool: FakePool, home: Path) -> None:
    told = joined(*REPORT, typed=lines(*TOO_HIGH))
    assert told.exit_code == 0, told.output
    assert stored(pool)["outcome"] == "not-repaired"
    assert [r["value"] for r in stored(pool)["readings"]] == ["61.5", "310"]
    assert "told as not repaired" in told.stderr
    assert past_of(home, "barn") == []


def test_walked_the_end_is_asked_for_again(joined: Run, pool: FakePool, home: Path) -> None:
    Planner(BRUSHES).at(pool)
    typed = lines("1", "", "1", "", "1", "y", *TOO_HIGH, "", "", "y")
    told = joined(*STEPS, typed=typed)
    assert told.exit_code == 0, told.output
    assert "It did not pass the proving run." in told.stderr
    assert stored(pool)["outcome"] == "not-repaired"
    assert past_of(home, "barn") == []


def test_whoever_calls_it_repaired_all_the_same_keeps_no_good_readings(
    joined: Run, pool: FakePool, home: Path
) -> None:
    Planner(BRUSHES).at(pool)
    typed = lines("1", "", "1", "", "1", "y", *TOO_HIGH, "repaired", "", "y")
    assert joined(*STEPS, typed=typed).exit_code == 0
    assert stored(pool)["outcome"] == "repaired"
    assert past_of(home, "barn") == []
