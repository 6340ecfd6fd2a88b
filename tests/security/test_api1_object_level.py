"""Row 1 (API1, ASVS 8.2.2): each role, each object of another, each verb.

A pool is closed and its members read each other's reports, so reading is 200; changing what is
another's is 403, as wire.md says of DELETE and follow-ups, and 409 under his id (decision 12);
what is not there is 404, and what was taken back 410.
"""

from typing import Any

import pytest

from tests.api.pools import Pool, rows
from tests.factories import make_id, make_report

LATER = {"happened": "2026-11", "state": "holding"}
BODY = make_report(complaint="another body under the same id")
TABLES = ("report", "followup", "change", "judgement")
NOBODY, GUEST, STEWARD, OWNER = "", "birch", "steward", "alder"


@pytest.fixture(scope="module")
def objects(pool: Pool) -> dict[str, str]:
    """An object of each kind, all of them alder's."""
    held, gone = pool.put(make_report(), OWNER), pool.put(make_report(), OWNER)
    assert pool.client(OWNER).delete(f"/v1/reports/{gone}").status_code == 204
    followed = f"/v1/reports/{held}/followups/{make_id()}"
    assert pool.client(OWNER).put(followed, json=LATER).status_code == 201
    return {
        "report": f"/v1/reports/{held}",
        "new follow-up": f"/v1/reports/{held}/followups/{make_id()}",
        "follow-up": followed,
        "withdrawn": f"/v1/reports/{gone}",
        "follow-up of withdrawn": f"/v1/reports/{gone}/followups/{make_id()}",
        "missing": f"/v1/reports/{make_id()}",
        "follow-up of missing": f"/v1/reports/{make_id()}/followups/{make_id()}",
    }


# By object: by verb what (nobody, another member, a steward) get. Where a steward may, that
# is tried last and in another test, for it changes the object.
MATRIX: dict[str, dict[str, tuple[int, int, int | None]]] = {
    "report": {
        "GET": (401, 200, 200),
        "HEAD": (401, 200, 200),
        "PUT": (401, 409, 409),
        "DELETE": (401, 403, None),
        "POST": (405, 405, 405),
        "PATCH": (405,) * 3,
    },
    "new follow-up": {"PUT": (401, 403, None), "GET": (405,) * 3, "DELETE": (405,) * 3},
    # Another's follow-up is his: a steward's own under the same id would be another.
    "follow-up": {"PUT": (401, 403, 409), "DELETE": (405,) * 3},
    "withdrawn": {
        "GET": (401, 410, 410),
        "HEAD": (401, 410, 410),
        "PUT": (401, 410, 410),
        "DELETE": (401, 403, 204),
    },
    "follow-up of withdrawn": {"PUT": (401, 410, 410)},
    "missing": {"GET": (401, 404, 404), "DELETE": (401, 404, 404)},
    "follow-up of missing": {"PUT": (401, 404, 404)},
}
CELLS = [
    (thing, verb, who, status)
    for thing, verbs in MATRIX.items()
    for verb, statuses in verbs.items()
    for who, status in zip((NOBODY, GUEST, STEWARD), statuses, strict=True)
    if status is not None
]


def sent(pool: Pool, who: str, verb: str, route: str) -> Any:
    body = LATER if "followups" in route else BODY
    more = {"json": body} if verb in ("PUT", "POST", "PATCH") else {}
    return pool.client(who).request(verb, route, **more)


@pytest.mark.parametrize(("thing", "verb", "who", "status"), CELLS)
def test_each_role_on_each_object_of_another_with_each_verb(
    pool: Pool, objects: dict[str, str], thing: str, verb: str, who: str, status: int
) -> None:
    before, shown = rows(pool.store, TABLES), sent(pool, OWNER, "GET", objects["report"])
    answer = sent(pool, who, verb, objects[thing])
    assert answer.status_code == status, answer.text
    assert rows(pool.store, TABLES) == before
    assert sent(pool, OWNER, "GET", objects["report"]).content == shown.content
    if status >= 400 and verb != "HEAD":
        said = answer.text
        assert pool.members[OWNER].member.pseudonym not in said
        assert OWNER not in said


def test_a_steward_may_follow_up_and_withdraw_for_another(fresh: Pool) -> None:
    route = f"/v1/reports/{fresh.put(make_report())}"
    followed = fresh.client(STEWARD).put(f"{route}/followups/{make_id()}", json=LATER)
    assert followed.status_code == 201
    assert fresh.client(STEWARD).delete(route).status_code == 204
    assert fresh.client(GUEST).get(route).status_code == 410


def test_the_database_decides_it_and_not_what_was_fetched() -> None:
    from mendpool.store import reports  # noqa: PLC0415

    # Compiled: the asker is in the very statement that looks the report up.
    assert "member_id = :asker OR :steward" in str(reports._HELD)
