"""Row 36 (ASVS 14.3.1 to 14.3.3): what a browser keeps goes when its member signs out."""

from tests.api.browsers import OWN, signed_in
from tests.api.pools import Pool, rows
from tests.factories import make_report


def test_signing_out_has_the_browser_forget_all_of_this_address(fresh: Pool) -> None:
    browser = signed_in(fresh)
    answer = browser.ask("DELETE", "/v1/session")
    # W3C Clear Site Data, section 3.1: quoted names in a list.
    assert answer.headers["clear-site-data"] == '"cache", "cookies", "storage"'
    assert "Max-Age=0" in answer.headers["set-cookie"]
    assert rows(fresh.store, ("session",)) == [0]


def test_nothing_else_has_it_forget_what_waits_to_be_sent(fresh: Pool) -> None:
    browser = signed_in(fresh)
    answers = [
        browser.client.get("/"),
        browser.client.get("/v1/session", headers=OWN),
        browser.ask("DELETE", "/v1/session", headers={"Mendpool-Token": "x"}),
        browser.ask("DELETE", "/v1/session", headers={"Sec-Fetch-Site": "cross-site"}),
    ]
    fresh.store.revoke_member("alder", fresh.time[0])
    # Signed out by others: reports that wait stay on the phone until a steward gives a code.
    answers += [browser.ask("DELETE", "/v1/session"), browser.ask("GET", "/v1/reports")]
    assert [a.status_code for a in answers] == [200, 200, 403, 403, 401, 401]
    assert not [a for a in answers if "clear-site-data" in a.headers]


def test_no_answer_with_anyones_words_is_kept_for_another_who_signs_in(fresh: Pool) -> None:
    report = fresh.put(make_report())
    browser = signed_in(fresh)
    answer = browser.ask("GET", f"/v1/reports/{report}")
    assert answer.headers["cache-control"] == "private, no-cache"
    assert answer.headers["vary"] == "Authorization, Cookie"
    for address in ("/v1/reports", "/v1/session"):
        told = browser.ask("GET", address)
        assert told.headers["cache-control"] == "no-store"
