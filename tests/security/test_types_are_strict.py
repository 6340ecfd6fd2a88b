"""Row 32 (ASVS 15.3.5): a number in quotes is no number, and true is not one."""

from typing import Any

import pytest

from tests.api.pools import Pool
from tests.factories import make_report

TRIED = {"component": "avr", "action": "replace", "result": "fixed"}
WRONG: dict[str, Any] = {
    "kva in quotes": {"machine": {"fuel": "diesel", "rated_kva": "6.5"}},
    "kva true": {"machine": {"fuel": "diesel", "rated_kva": True}},
    "phases in quotes": {"machine": {"fuel": "diesel", "phases": "1"}},
    "phases with a point": {"machine": {"fuel": "diesel", "phases": 1.5}},
    "minutes true": {"attempts": [{**TRIED, "minutes": True}]},
    "cost in quotes": {"attempts": [{**TRIED, "cost": "60"}]},
    "with_next 1": {"attempts": [{**TRIED, "with_next": 1}]},
    "defeated 'no'": {"protection_defeated": "no"},
    "defeated 0": {"protection_defeated": 0},
    "complaint 7": {"complaint": 7},
    "symptoms a text": {"symptoms": "no-output"},
    "attempts an object": {"attempts": TRIED},
    "outcome true": {"outcome": True},
    "machine a list": {"machine": []},
}


@pytest.mark.parametrize("name", WRONG)
def test_it_is_refused_and_not_made_to_fit(pool: Pool, name: str) -> None:
    body = make_report(**WRONG[name])
    answer = pool.client("alder").post("/v1/reports/preview", json=body)
    assert answer.status_code == 422, answer.text[:200]


def test_limits_of_a_question_too(pool: Pool) -> None:
    for limit in ("5", True, 5.5, 0, 51, None):
        answer = pool.client("alder").post(
            "/v1/ask", json={"complaint": "no power", "limit": limit}
        )
        assert answer.status_code == 422, limit
