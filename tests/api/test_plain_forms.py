"""The forms without scripts: the same rules as the API, told as pages."""

import html
import re
from typing import Any
from urllib.parse import urlencode

import pytest
from starlette.testclient import TestClient

from mendpool.api.pages.form import FIELDS_MOST

from tests.api.browsers import OWN
from tests.api.pools import Pool, rows
from tests.factories import make_id

FORM = {"Content-Type": "application/x-www-form-urlencoded"}
REPORT = {
    "fuel": "diesel", "complaint": "no output", "outcome": "repaired", "left": "intact",
    "part0": "brushes", "action0": "replace", "result0": "fixed", "happened": "2026-10",
}  # fmt: skip


class Plain:
    """A browser without scripts: it keeps its cookie and sends its forms."""

    def __init__(self, pool: Pool, name: str = "alder") -> None:
        base = "https://testserver"
        self.client = TestClient(pool.app, base_url=base, follow_redirects=False)
        answer = self.post("/plain/sign-in", code=pool.members[name].token)
        assert answer.status_code == 303, answer.text
        self.token = _hidden(self.client.get("/plain/ask").text, "token")

    def post(self, path: str, headers: dict[str, str] | None = None, **fields: Any) -> Any:
        body = urlencode(fields, doseq=True)
        return self.client.post(path, content=body, headers={**FORM, **OWN, **(headers or {})})

    def send(self, path: str, **fields: Any) -> Any:
        return self.post(path, token=self.token, **fields)


def _hidden(page: str, name: str) -> str:
    found = re.search(rf'name="{name}" value="([^"]*)"', page)
    assert found is not None, page
    return html.unescape(found[1])


@pytest.fixture
def plain(pool: Pool) -> Plain:
    """Give a browser of alder's."""
    return Plain(pool)


def test_who_is_not_signed_in_is_shown_where_to(pool: Pool) -> None:
    client = TestClient(pool.app, follow_redirects=False)
    for path in ("/plain/ask", "/plain/report", "/plain/followup"):
        answer = client.get(path)
        assert (answer.status_code, answer.headers["location"]) == (303, "/plain/")
    assert "Code or token" in client.get("/plain/").text


def test_a_wrong_code_is_told_what_to_do(pool: Pool) -> None:
    client = TestClient(pool.app, base_url="https://testserver")
    body = urlencode({"code": "in0123456789_" + "x" * 43})
    answer = client.post("/plain/sign-in", content=body, headers={**FORM, **OWN})
    assert answer.status_code == 422
    assert "ask a steward for another" in answer.text


class TestAForm:
    """OWASP ASVS 3.5.1, 3.5.3: only a form of ours with the page's token changes anything."""

    def test_of_another_origin_is_refused(self, pool: Pool, plain: Plain) -> None:
        before = rows(pool.store)
        for headers in ({"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"}):
            answer = plain.post("/plain/report", headers, token=plain.token, **REPORT)
            assert answer.status_code == 403
        assert rows(pool.store) == before

    def test_of_a_browser_too_old_to_say_is_known_by_its_origin(self, plain: Plain) -> None:
        body = urlencode({"token": plain.token, "complaint": "no output", "fuel": "diesel"})
        for origin, status in (
            ("https://testserver", 200),
            ("https://elsewhere.example", 403),
            (None, 403),
        ):
            headers = {**FORM, **({} if origin is None else {"Origin": origin})}
            answer = plain.client.post("/plain/ask", content=body, headers=headers)
            assert answer.status_code == status, origin

    @pytest.mark.parametrize("token", ["", "0" * 64, "é"])
    def test_without_the_pages_token_is_refused(
        self, pool: Pool, plain: Plain, token: str
    ) -> None:
        before = rows(pool.store)
        answer = plain.post("/plain/report", token=token, go="send", id=make_id(), **REPORT)
        assert answer.status_code == 403
        assert "open it again" in answer.text
        assert rows(pool.store) == before

    def test_with_too_many_fields_is_refused(self, plain: Plain) -> None:
        answer = plain.send("/plain/ask", **{f"x{n}": "1" for n in range(FIELDS_MOST)})
        assert answer.status_code == 415

    def test_that_is_read_changes_nothing(self, pool: Pool, plain: Plain) -> None:
        before = rows(pool.store)
        for path in ("/plain/", "/plain/ask", "/plain/report", "/plain/followup"):
            assert plain.client.get(path).status_code == 200
        assert rows(pool.store) == before


def test_a_report_is_looked_over_then_kept_once(pool: Pool, plain: Plain) -> None:
    name = make_id()
    note = "rang Bob Miller, brush 6203-2RS fits"
    fields = {**REPORT, "id": name, "note": note}
    looked = plain.send("/plain/report", go="look", **fields)
    assert "<del>Bob Miller</del>" in looked.text
    assert pool.client("alder").get(f"/v1/reports/{name}").status_code == 404
    for _ in range(2):
        assert plain.send("/plain/report", go="send", **fields).status_code == 200
    assert "Taken out in all: a name × 1." in looked.text
    for shown in ("diesel", "brushes and holder, replaced the part", "2026-10"):
        assert shown in looked.text, "what would be kept is shown whole"
    kept = pool.client("alder").get(f"/v1/reports/{name}").json()
    assert kept["note"] == "rang [name], brush 6203-2RS fits"
    assert kept["attempts"] == [
        {"component": "brushes", "action": "replace", "result": "fixed"}
    ]
    assert kept["protection"] == {"found": "intact"}


@pytest.mark.parametrize(
    "more",
    [{"left": "defeated"}, {"action0": "bypass"}, {"part0": "oil-switch", "action0": "remove"}],
)
def test_what_runs_without_a_protection_is_no_repair(
    pool: Pool, plain: Plain, more: dict[str, str]
) -> None:
    name = make_id()
    fields = {**REPORT, **more, "id": name}
    assert "runs for now" in plain.send("/plain/report", go="look", **fields).text
    plain.send("/plain/report", go="send", **fields)
    assert pool.client("alder").get(f"/v1/reports/{name}").json()["outcome"] == "get-by"


def test_a_protection_out_before_the_cure_is_out_still(pool: Pool, plain: Plain) -> None:
    tried = {"did": ["oil-switch:bypass:improved", "avr:replace:fixed"]}
    fields = {k: v for k, v in REPORT.items() if k[-1] != "0"} | tried
    for left, outcome in (("intact", "get-by"), ("", "get-by"), ("proved", "repaired")):
        name = make_id()
        plain.send("/plain/report", go="send", **{**fields, "left": left, "id": name})
        kept = pool.client("alder").get(f"/v1/reports/{name}").json()
        assert kept["outcome"] == outcome, left


def test_hours_and_district_go_only_where_ticked(pool: Pool, plain: Plain) -> None:
    told = {"hours": "1240", "region": "river flats"}
    for ticked in (False, True):
        name = make_id()
        ticks = {"tell_hours": "1", "tell_region": "1"} if ticked else {}
        plain.send("/plain/report", go="send", **REPORT, **told, **ticks, id=name)
        kept = pool.client("alder").get(f"/v1/reports/{name}").json()
        assert ("region" in kept, "hours" in kept["machine"]) == (ticked, ticked)


def test_what_is_refused_comes_back_with_what_was_typed(plain: Plain) -> None:
    answer = plain.send("/plain/report", go="look", id=make_id(), complaint="no <b>output</b>")
    assert answer.status_code == 422
    assert "What does it burn" in html.unescape(answer.text)
    assert "no &lt;b&gt;output&lt;/b&gt;" in answer.text


def test_another_result_is_another_step(plain: Plain) -> None:
    fields = {"complaint": "engine runs but no output", "fuel": "diesel"}
    first = plain.send("/plain/ask", **fields).text
    seen = re.search(r'name="saw" value="([^"]*)"', first)
    assert seen is not None
    second = plain.send("/plain/ask", **fields, saw=seen[1]).text
    heads = [
        re.search(r'class="next".*?<strong>(.*?)</strong>', page, re.DOTALL)
        for page in (first, second)
    ]
    assert heads[0] is not None
    assert heads[1] is not None
    assert heads[0][1] != heads[1][1]


def test_only_the_one_who_told_it_follows_up(pool: Pool, plain: Plain) -> None:
    mine, other = (
        pool.put(
            {"machine": {"fuel": "diesel"}, "complaint": "no output", "outcome": "repaired"},
            who,
        )
        for who in ("alder", "birch")
    )
    fields = {"state": "holding", "happened": "2026-11"}
    answer = plain.send(f"/plain/followup/{mine}", id=make_id(), **fields)
    assert answer.status_code == 200, answer.text
    assert [
        f["state"] for f in pool.client("alder").get(f"/v1/reports/{mine}").json()["followups"]
    ] == ["holding"]
    assert plain.send(f"/plain/followup/{other}", id=make_id(), **fields).status_code == 403


def test_it_speaks_the_language_that_is_asked_for(plain: Plain) -> None:
    page = plain.client.get("/plain/ask", headers={"Accept-Language": "es-AR,es;q=0.9"})
    assert page.headers["content-language"] == "es"
    assert '<html lang="es">' in page.text
    assert plain.client.get("/plain/ask?language=en").headers["content-language"] == "en"
    other = plain.client.get("/plain/ask", headers={"Accept-Language": "xx"})
    assert other.headers["content-language"] == "en"


def test_signing_out_ends_it(pool: Pool, plain: Plain) -> None:
    assert plain.send("/plain/sign-out").status_code == 303
    assert plain.client.get("/plain/ask").status_code == 303


@pytest.mark.parametrize("hours", ["1,500", "1.500", "12 V", "1.5.2"])
def test_a_figure_that_can_be_read_two_ways_is_asked_again(plain: Plain, hours: str) -> None:
    given = {**REPORT, "id": make_id(), "hours": hours, "tell_hours": "1"}
    answer = plain.send("/plain/report", **given)
    assert answer.status_code == 422, answer.text
    assert ("two ways" in answer.text) is bool(re.fullmatch(r"\d[.,]\d{3}", hours))
