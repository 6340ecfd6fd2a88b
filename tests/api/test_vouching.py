"""Who came by a code counts for less until three of his reports have a follow-up."""

from typing import Any

import pytest

from mendpool.usecases.members import invite, join

from tests.api.pools import Pool
from tests.factories import make_id, make_report

LATER = {"happened": "2026-11", "state": "holding"}
QUESTION = {"machine": make_report()["machine"], "complaint": make_report()["complaint"]}


@pytest.fixture
def guest(fresh: Pool) -> Pool:
    """A pool with one who came by a code and filed four reports, each told apart."""
    code = invite(fresh.store, "rowan", fresh.time[0]).code
    fresh.members["rowan"] = join(fresh.store, code, fresh.time[0])
    return fresh


def report(number: int) -> dict[str, Any]:
    words = ("since the storm", "after lunch it quit", "pump stands still", "lamps are dark")
    return make_report(complaint=f"{make_report()['complaint']} {words[number]}")


def follow_up(pool: Pool, report_id: str) -> None:
    route = f"/v1/reports/{report_id}/followups/{make_id()}"
    assert pool.client("rowan").put(route, json=LATER).status_code == 201


def worth(pool: Pool) -> float:
    answer = pool.client("alder").post("/v1/ask", json=QUESTION).json()
    fixes = {(f["component"], f["action"]): f for f in answer["fixes"]}
    return float(fixes["brushes", "replace"]["worth"])


def test_three_followed_up_reports_vouch_and_two_do_not(guest: Pool) -> None:
    ids = [guest.put(report(number), "rowan") for number in range(4)]
    new = worth(guest)
    follow_up(guest, ids[0])
    follow_up(guest, ids[0])
    follow_up(guest, ids[1])
    assert worth(guest) == new, "three follow-ups of two reports"
    follow_up(guest, ids[2])
    # All reports count fully then, those of before too: 1 in place of 0.3 each.
    assert worth(guest) == pytest.approx(new / 0.3, rel=0.1)


def test_a_report_taken_back_vouches_no_more(guest: Pool) -> None:
    ids = [guest.put(report(number), "rowan") for number in range(4)]
    for name in ids[:3]:
        follow_up(guest, name)
    vouched = worth(guest)
    assert guest.client("rowan").delete(f"/v1/reports/{ids[0]}").status_code == 204
    assert worth(guest) < 0.5 * vouched


def test_a_fit_hears_of_it_too(guest: Pool) -> None:
    ids = [guest.put(report(number), "rowan") for number in range(4)]
    place = guest.service.place
    place.learned.fit_if_due(guest.time[0], at_once=True)
    before = place.learned.newest_fit().cause_total
    for name in ids[:3]:
        follow_up(guest, name)
    place.learned.fit_if_due(guest.time[0], at_once=True)
    after = place.learned.newest_fit().cause_total
    assert after["brushes/worn"] == pytest.approx(before["brushes/worn"] / 0.3, rel=0.05)


def test_a_member_made_here_is_vouched_for_from_the_first(guest: Pool) -> None:
    guest.put(report(0), "rowan")
    new = worth(guest)
    guest.put(report(1), "birch")
    assert worth(guest) > 2 * new
