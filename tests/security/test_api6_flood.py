"""Row 15 (API6, ASVS 2.3.2): one token moves no statistic past its cap."""

import pytest

from mendpool.core.evidence.weights import NEW_ACCOUNT, SAME_PERSON, weigh
from mendpool.usecases.members import invite, join
from mendpool.usecases.review import flagged

from tests.api.pools import Pool
from tests.factories import make_case, make_report


@pytest.mark.parametrize("many", [10, 100, 1000])
def test_however_many_reports_of_one_hand_weigh_at_most_so_much(many: int) -> None:
    cases = [make_case(group=1) for _ in range(many)]
    weights = weigh(cases, {case.id: 1.0 for case in cases})
    assert sum(weights.values()) < 1 / SAME_PERSON + 0.01
    fresh = [case._replace(vouched=False) for case in cases]
    weights = weigh(fresh, {case.id: 1.0 for case in fresh})
    assert sum(weights.values()) < NEW_ACCOUNT / SAME_PERSON + 0.01


def test_a_flood_of_a_newcomer_counts_as_one_person_and_is_flagged(fresh: Pool) -> None:
    code = invite(fresh.store, "rowan", fresh.time[0]).code
    fresh.members["rowan"] = join(fresh.store, code, fresh.time[0])
    words = tuple("abcdefghijklmno")
    for one in words:
        for other in words[:4]:
            wrong = [{"component": "stator-winding", "action": "rewind", "result": "fixed"}]
            cause = {"component": "stator-winding", "failure": "short"}
            complaint = f"nothing at the outlets, {one} {other} {one}{other}"
            body = make_report(complaint=complaint, attempts=wrong, cause=cause)
            fresh.put(body, "rowan")
    question = {"machine": make_report()["machine"], "complaint": "nothing at the outlets"}
    answer = fresh.client("alder").post("/v1/ask", json=question).json()
    fixes = {(f["component"], f["action"]): f for f in answer["fixes"]}
    fix = fixes["stator-winding", "rewind"]
    assert fix["people"] == 1
    assert fix["worth"] < 1 / SAME_PERSON
    place = fresh.service.place
    shown = flagged(place.store, place.catalogue, everything=False)
    assert len(shown) == len(words) * 4
    assert all("flood" in {why.code for why in one.why} for one in shown)
