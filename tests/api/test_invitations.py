"""A code makes one member, once; a token can be changed for another."""

import pytest

from mendpool.core.errors import Conflict
from mendpool.usecases.members import digest, invite, rotate_member

from tests.api.pools import Pool
from tests.factories import make_report

UNKNOWN = "in0123456789_" + "x" * 43


def join(pool: Pool, code: str) -> tuple[int, dict[str, object]]:
    answer = pool.client().post("/v1/join", json={"code": code})
    return answer.status_code, answer.json()


def test_a_code_gives_a_token_that_works_once(fresh: Pool) -> None:
    made = invite(fresh.store, "rowan", fresh.time[0])
    answer = fresh.client().post("/v1/join", json={"code": made.code})
    assert answer.status_code == 201
    assert answer.headers["cache-control"] == "no-store"
    told = answer.json()
    assert (told["role"], told["expires"]) == ("member", "2027-11-25T12:00:00Z")
    headers = {"Authorization": f"Bearer {told['token']}"}
    assert fresh.client().get("/v1/reports", headers=headers).status_code == 200
    status, problem = join(fresh, made.code)
    assert (status, problem["type"]) == (404, "/docs#not-found")
    assert [m.name for m in fresh.store.list_members()].count("rowan") == 1


def test_a_code_stops_at_its_hour_and_says_no_more_than_an_unknown_one(fresh: Pool) -> None:
    made = invite(fresh.store, "rowan", fresh.time[0], days=2)
    unknown = join(fresh, UNKNOWN)
    fresh.wait(days=2)
    assert join(fresh, made.code) == unknown
    assert unknown[0] == 404


@pytest.mark.parametrize("code", ["", "x" * 201, 7, None, ["a"]])
def test_what_can_be_no_code_is_refused(pool: Pool, code: object) -> None:
    assert pool.client().post("/v1/join", json={"code": code}).status_code == 422


@pytest.mark.parametrize("code", ["rowan", "in0123456789", UNKNOWN.upper(), "é" * 60, " "])
def test_what_is_no_code_is_not_here(pool: Pool, code: str) -> None:
    assert join(pool, code)[0] == 404


def test_who_came_by_a_code_is_a_member_nobody_vouched_for(fresh: Pool) -> None:
    for name, vouched in (("rowan", False), ("hazel", True)):
        made = invite(fresh.store, name, fresh.time[0], vouched=vouched)
        assert join(fresh, made.code)[0] == 201
        (member,) = [m for m in fresh.store.list_members() if m.name == name]
        assert (member.role, member.vouched) == ("member", vouched)


def test_the_database_keeps_no_code(fresh: Pool) -> None:
    made = invite(fresh.store, "rowan", fresh.time[0])
    with fresh.store.engine.connect() as connection:
        held = repr(connection.exec_driver_sql("SELECT * FROM invitation").all())
    assert digest(made.code) in held
    assert made.code.partition("_")[2] not in held


def test_a_name_is_promised_once(fresh: Pool) -> None:
    invite(fresh.store, "rowan", fresh.time[0], days=1)
    for name in ("rowan", "alder"):
        with pytest.raises(Conflict):
            invite(fresh.store, name, fresh.time[0])
    fresh.wait(days=1)
    invite(fresh.store, "rowan", fresh.time[0])


def test_a_name_given_away_meanwhile_uses_up_no_code(fresh: Pool) -> None:
    made = invite(fresh.store, "rowan", fresh.time[0])
    fresh.join("rowan")
    assert join(fresh, made.code)[0] == 409
    assert [i.used for i in fresh.store.list_invitations()] == [None]


def test_another_token_takes_the_place_of_the_old_one_at_once(fresh: Pool) -> None:
    report = fresh.put(make_report())
    new = rotate_member(fresh.store, "alder", fresh.time[0], 30)
    assert fresh.client("alder").get("/v1/reports").status_code == 401
    headers = {"Authorization": f"Bearer {new.token}"}
    shown = fresh.client().get(f"/v1/reports/{report}", headers=headers)
    assert shown.json()["contributor"] == fresh.members["alder"].member.pseudonym
    fresh.wait(days=30)
    assert fresh.client().get("/v1/reports", headers=headers).status_code == 401
