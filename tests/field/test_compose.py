"""From what was typed to what is sent."""

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mendpool_field.compose import (
    Ended,
    Told,
    attempt_of,
    body_text,
    cause_of,
    question_of,
    report_of,
    seen_of,
    shared_of,
    without_unshared,
)
from mendpool_field.errors import BadUsage


@pytest.mark.parametrize(
    ("typed", "body"),
    [
        ("spark=none", {"check": "spark", "found": "none"}),
        (" spark = none ", {"check": "spark", "found": "none"}),
        ("spark=none@2", {"check": "spark", "found": "none", "which": 2}),
        ("spark=none@rear", {"check": "spark", "found": "none", "which": "rear"}),
    ],
)
def test_an_observation(typed: str, body: dict[str, Any]) -> None:
    assert seen_of(typed) == body


@pytest.mark.parametrize(
    "typed", ["", "spark", "spark=", "=none", "a=b=c", "a b=c", "a=b@", "a=b@c@d"]
)
def test_what_is_no_observation(typed: str) -> None:
    with pytest.raises(BadUsage):
        seen_of(typed)


def test_an_attempt_with_all_that_can_be_said_of_it() -> None:
    typed = (
        "brushes replace fixed failure=worn minutes=25 cost=18,5 part='brush block' "
        "part-from=new wait-days=3 done-by=self fits='6 x 8' with-next=yes"
    )
    assert attempt_of(typed) == {
        "component": "brushes",
        "action": "replace",
        "result": "fixed",
        "failure": "worn",
        "minutes": 25.0,
        "cost": 18.5,
        "part": "brush block",
        "part_from": "new",
        "wait_days": 3.0,
        "done_by": "self",
        "fits": "6 x 8",
        "with_next": True,
    }


@pytest.mark.parametrize(
    "typed",
    [
        "",
        "avr replace",
        "avr replace no change",
        "avr replace fixed minutes=soon",
        "avr replace fixed colour=red",
        "avr replace 'fixed",
        "avr replace fixed minutes=nan",
        "avr replace fixed minutes=inf",
    ],
)
def test_what_is_no_attempt(typed: str) -> None:
    with pytest.raises(BadUsage):
        attempt_of(typed)


def test_a_cause() -> None:
    assert cause_of("brushes/worn") == {"component": "brushes", "failure": "worn"}
    assert cause_of("brushes") == {"component": "brushes"}
    for typed in ("", "/worn", "brushes/", "a/b/c"):
        with pytest.raises(BadUsage):
            cause_of(typed)


def test_an_earlier_question_is_added_to_and_left_as_it_was() -> None:
    earlier = {"machine": {"fuel": "diesel"}, "complaint": "x", "readings": [{"text": "4 V"}]}
    before = json.dumps(earlier)
    told = Told(readings=["4 V", "50 Hz"], tried=["avr replace no-change"])
    body = question_of(told, {"fuel": "petrol"}, earlier)
    assert body["readings"] == [{"text": "4 V"}, {"text": "50 Hz"}]
    assert body["machine"] == {"fuel": "petrol"}
    assert json.dumps(earlier) == before
    # A second go at the same thing is a second attempt.
    assert len(question_of(told, {}, body)["tried"]) == 2


def test_what_is_only_asked_is_never_reported() -> None:
    earlier = {
        "machine": {"fuel": "diesel"},
        "complaint": "x",
        "tried": [{"component": "avr"}],
        "at_hand": ["lamp"],
        "must_run": 3,
        "limit": 5,
    }
    body = report_of(Told(), Ended(outcome="open"), {}, earlier)
    assert body == {
        "machine": {"fuel": "diesel"},
        "complaint": "x",
        "attempts": [{"component": "avr"}],
        "outcome": "open",
    }


def test_cost_hours_and_region_stay_at_home_unless_shared() -> None:
    report = {
        "machine": {"fuel": "diesel", "hours": 9},
        "region": "river flats",
        "attempts": [{"component": "avr", "cost": 60}, {"component": "brushes"}],
    }
    body, kept = without_unshared(report, ())
    assert body == {
        "machine": {"fuel": "diesel"},
        "attempts": [{"component": "avr"}, {"component": "brushes"}],
    }
    assert kept == ["cost", "hours", "region"]
    assert without_unshared(report, shared_of("cost, hours,region")) == (report, [])
    odd: dict[str, Any] = {"machine": [1], "attempts": {"cost": 1}}
    assert without_unshared(odd, ()) == (odd, [])


def test_a_share_nobody_knows_is_told() -> None:
    with pytest.raises(BadUsage):
        shared_of("cost,name")
    assert shared_of(None) == ()


json_values = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53), 2**53) | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=8,
)


@given(st.dictionaries(st.text(), json_values))
def test_the_same_body_gives_the_same_text_whatever_its_order(body: dict[str, Any]) -> None:
    turned = dict(reversed(body.items()))
    assert body_text(body) == body_text(turned)
    assert json.loads(body_text(body)) == body
