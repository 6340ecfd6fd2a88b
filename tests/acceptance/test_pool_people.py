"""The operator's commands for people: invite, re-key, look at what is odd, take it back."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx
import pytest
from typer.testing import CliRunner

from mendpool_field.cli import app as field

from tests.acceptance.test_pool_command import (
    REFUSED,
    USAGE,
    Operator,
    beginner,
    operator,
)
from tests.factories import make_id, make_report

pytestmark = pytest.mark.slow
"""Every command here is a process of its own."""

__all__ = ["beginner", "operator"]


def lines(operator: Operator, *arguments: str) -> list[dict[str, object]]:
    told = operator.run(*arguments, "--json").stdout.splitlines()
    return [json.loads(line) for line in told]


def test_an_invited_member_joins_from_another_machine(
    operator: Operator, tmp_path: Path
) -> None:
    code = operator.json("invite", "rowan", "--days", "3")["code"]
    assert operator.run("invite", "rowan", code=REFUSED).stderr
    (waiting,) = lines(operator, "member", "list")
    assert (waiting["member"], waiting["state"]) == ("rowan", "invited")
    env = {"MENDPOOL_HOME": str(tmp_path / "home"), "MENDPOOL_TOKEN": None,
           "MENDPOOL_URL": None, "MENDPOOL_CACHE_DIR": str(tmp_path / "cache")}  # fmt: skip
    with operator.serving() as (_, url):
        joined = CliRunner().invoke(field, ["join", url], input=f"{code}\n", env=env)
        assert joined.exit_code == 0, joined.output
        assert code not in joined.output
        found = CliRunner().invoke(field, ["find", "--json", "power"], env=env)
        assert found.exit_code == 0, found.output
        again = CliRunner().invoke(field, ["join", url], input=f"{code}\n", env=env)
        assert again.exit_code == REFUSED
        assert "used" in again.output
    (member,) = lines(operator, "member", "list")
    assert (member["member"], member["state"]) == ("rowan", "active")
    assert member["vouched"] is False
    assert member["last_used"] == datetime.now(UTC).strftime("%Y-%m-%d")


def test_a_member_signs_in_on_another_phone_by_a_code(operator: Operator) -> None:
    operator.json("member", "add", "alder")
    first = operator.json("member", "code", "alder", "--days", "3")["code"]
    told = operator.run("member", "code", "alder").stdout
    second = next(line for line in told.splitlines() if line.startswith("in"))
    (waiting,) = [one for one in lines(operator, "member", "list") if one["state"] == "code"]
    assert waiting["member"] == "alder"
    page = {"Sec-Fetch-Site": "same-origin"}
    with operator.serving() as (_, url):

        def status(code: str) -> int:
            said = {"code": code}
            return httpx.post(f"{url}/v1/session", json=said, headers=page).status_code

        assert [status(code) for code in (first, second, second)] == [404, 201, 404]
    assert {one["state"] for one in lines(operator, "member", "list")} == {"active"}
    operator.run("member", "revoke", "alder")
    for name in ("alder", "nobody"):
        assert operator.run("member", "code", name, code=REFUSED).stderr


def test_tokens_end_in_a_year_unless_said_otherwise(operator: Operator) -> None:
    year = (datetime.now(UTC) + timedelta(days=365)).strftime("%Y-%m-%d")
    assert operator.json("member", "add", "alder")["expires"] == year
    assert operator.json("member", "add", "birch", "--days", "0")["expires"] is None
    assert operator.json("member", "rotate", "birch", "--days", "9")["expires"] < year


def test_an_old_token_stops_at_once_while_the_service_runs(operator: Operator) -> None:
    first = operator.json("member", "add", "alder")["token"]
    with operator.serving() as (_, url):

        def status(token: str) -> int:
            headers = {"Authorization": f"Bearer {token}"}
            return httpx.get(f"{url}/v1/reports", headers=headers).status_code

        assert status(first) == 200
        second = operator.json("member", "rotate", "alder")["token"]
        assert (status(first), status(second)) == (401, 200)
        operator.run("member", "revoke", "alder")
        assert operator.run("member", "rotate", "alder", code=REFUSED).stderr
        third = operator.json("member", "rotate", "alder", "--readmit")["token"]
        assert (status(second), status(third)) == (401, 200)
    assert operator.run("member", "rotate", "nobody", code=REFUSED).stderr


def test_a_steward_looks_takes_back_and_answers_for_it(operator: Operator) -> None:
    token = operator.json("member", "add", "alder")["token"]
    operator.json("member", "add", "willow", "--steward")
    report, other = str(make_id()), str(make_id())
    with operator.serving() as (_, url):
        headers = {"Authorization": f"Bearer {token}"}
        for name, note in ((report, "bridged the oil switch"), (other, "rcd taped down")):
            body = make_report(note=note)
            answer = httpx.put(f"{url}/v1/reports/{name}", json=body, headers=headers)
            assert answer.status_code == 201
        shown = lines(operator, "review")
        assert [one["report"] for one in shown] == [report, other]
        assert shown[0]["member"] == "alder"
        assert "bridged" not in json.dumps(shown)
        assert report in operator.run("review").stdout
        act = ("--reason", "it kills", "--as")
        operator.run("review", "--withdraw", report, *act, "alder", code=REFUSED)
        operator.run("review", "--withdraw", report, "--as", "willow", code=USAGE)
        operator.run("review", "--withdraw", "x", *act, "willow", code=USAGE)
        operator.run("review", "--withdraw", report, "--keep", other, *act, "willow", code=2)
        operator.run("review", "--withdraw", report, *act, "willow")
        assert operator.json("review", "--keep", other, *act, "willow")["came"] == "kept"
        assert httpx.get(f"{url}/v1/reports/{report}", headers=headers).status_code == 410
    assert lines(operator, "review") == []
    assert [one["report"] for one in lines(operator, "review", "--all")] == [other]
    trail = lines(operator, "review", "--trail")
    assert [(t["by"], t["came"], t["report"], t["reason"]) for t in trail] == [
        ("willow", "withdrawn", report, "it kills"),
        ("willow", "kept", other, "it kills"),
    ]
    assert "it kills" in operator.run("review", "--trail").stdout
