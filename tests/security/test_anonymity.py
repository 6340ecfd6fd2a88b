"""Row 34: who wrote a report is seen by himself and by stewards alone."""

from tests.api.pools import Pool
from tests.factories import make_report


def test_nobody_else_sees_who_wrote_it_anywhere(fresh: Pool) -> None:
    report = fresh.put(make_report(), "alder")
    fresh.put(make_report(complaint="another one of his"), "alder")
    member = fresh.members["alder"].member
    hidden = (member.pseudonym, member.name, member.token_prefix)
    for address in (
        f"/v1/reports/{report}",
        "/v1/reports",
        "/v1/reports?q=power",
        "/v1/changes",
    ):
        told = fresh.client("birch").get(address).text
        assert not [one for one in hidden if one in told], address
        if address != "/v1/changes":
            assert str(member.group) not in told
    assert fresh.client("steward").get(f"/v1/reports/{report}").json()["contributor"]


def test_no_day_and_no_hour_of_a_repair_is_kept(pool: Pool) -> None:
    body = make_report(happened="2026-10-14")
    assert pool.client("alder").post("/v1/reports/preview", json=body).status_code == 422
