"""A token that is no longer good: what can be told beside the set is told all the same."""

import json

import pytest

from tests.field.conftest import Run
from tests.field.fake_pool import FakePool, problem


@pytest.fixture(autouse=True)
def _expired(pool: FakePool) -> None:
    pool.instead = lambda _: problem(401, "Sign in first", "This token has expired.")


def test_readings_are_judged_here_and_the_trouble_is_said(joined: Run) -> None:
    told = joined("judge", "residual 0.4 V", "--json")
    assert told.exit_code == 0, told.output
    assert json.loads(told.stdout)["readings"][0]["verdict"] == "low"
    assert "Judged here: this token has expired." in told.stderr


def test_without_a_copy_the_catalogue_answers_and_it_ends_as_not_signed_in(
    joined: Run,
) -> None:
    told = joined("ask", "runs but no power", "--fuel", "petrol")
    assert told.exit_code == 4
    assert "DO THIS NEXT" in told.stdout
    assert "TAKE CARE" in told.stdout
    said = " ".join(told.stderr.split())
    assert "from the trade catalogue alone: this token has expired." in said
    assert "mendpool join URL" in said


def test_as_json_the_answer_is_whole_too(joined: Run) -> None:
    told = joined("ask", "runs but no power", "--fuel", "petrol", "--json")
    assert told.exit_code == 4
    assert json.loads(told.stdout)["evidence"]["from_catalogue_only"] is True
