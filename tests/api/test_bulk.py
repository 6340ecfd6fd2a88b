"""Reports in and out by the line: what goes out comes in again, with what was seen later."""

import io
import json
import re
from collections.abc import Generator, Iterable, Iterator
from functools import partial
from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.usecases import bulk_in
from mendpool.usecases.bulk_in import Imported, Lines, Ready, import_lines, lines_of, make_ready
from mendpool.usecases.bulk_out import Exported, json_lines

from tests.api.pools import Pool, rows, running_pool, statements
from tests.databases import Databases
from tests.factories import make_id, make_report

SEEN = {"happened": "2026-11", "state": "holding"}


def line(**changes: Any) -> dict[str, Any]:
    return {"id": str(make_id()), **make_report(**changes)}


def seen(**changes: Any) -> dict[str, Any]:
    return {"id": str(make_id()), **SEEN, **changes}


def bring(
    pool: Pool, lines: Iterable[dict[str, Any] | str], name: str = "alder"
) -> tuple[Imported, list[str]]:
    place = pool.service.place
    member = pool.members[name].member

    def here(chunks: Iterable[Lines]) -> Generator[Ready, None, None]:
        yield from map(partial(make_ready, place, member, pool.time[0]), chunks)

    told: list[str] = []
    raw = [(one if isinstance(one, str) else json.dumps(one)).encode() for one in lines]
    return import_lines(place, raw, pool.time[0], told.append, here), told


def given_out(pool: Pool) -> list[dict[str, Any]]:
    return [json.loads(one) for one in json_lines(pool.store, Exported())]


@pytest.fixture
def other(databases: Databases, catalogue: Catalogue) -> Iterator[Pool]:
    with running_pool(databases, catalogue) as running:
        yield running


def test_what_one_pool_gives_out_another_takes_in(fresh: Pool, other: Pool) -> None:
    noted = seen(note="Seen by Mr Hollis on 5 March, call 01632 960123")
    given = [
        line(followups=[noted, seen(happened="2026-10")]),
        line(note="by Mr Hollis"),
        line(),
    ]
    assert bring(fresh, given) == (Imported(new=3, followups=2), [])
    out = given_out(fresh)
    assert "Hollis" not in json.dumps(out)
    assert [len(one["followups"]) for one in out] == [2, 0, 0]
    assert bring(other, out) == (Imported(new=3, followups=2), [])
    assert given_out(other) == out


def test_a_line_that_the_pool_gave_out_itself_is_there_already(fresh: Pool) -> None:
    bring(fresh, [line(note="by Mr Hollis", followups=[seen(note="Mr Hollis again")])])
    for name in ("alder", "birch"):
        assert bring(fresh, given_out(fresh), name) == (Imported(unchanged=1), [])


def test_what_was_filed_over_the_wire_is_there_already(fresh: Pool) -> None:
    given = line()
    body = {n: v for n, v in given.items() if n != "id"}
    fresh.put(body, at=given["id"])
    answer = fresh.client("alder").put(
        f"/v1/reports/{given['id']}/followups/{(later := seen())['id']}", json=SEEN
    )
    assert answer.status_code == 201
    assert bring(fresh, [{**given, "followups": [later]}]) == (Imported(unchanged=1), [])


def test_a_follow_up_that_came_later_is_added_and_learned_from(fresh: Pool) -> None:
    given, later = line(), seen()
    bring(fresh, [given])
    assert bring(fresh, [{**given, "followups": [later]}])[0] == Imported(
        unchanged=1, followups=1
    )
    kinds = [change.kind for change in fresh.store.changes_after(0, 10)]
    assert kinds == ["report", "followup"]
    assert fresh.client("alder").get(f"/v1/reports/{given['id']}").json()["followups"][0]["id"]


def test_a_bad_follow_up_leaves_its_line_out(fresh: Pool) -> None:
    bad = line(followups=[seen(), seen(state="holdin")])
    nameless = line(followups=[SEEN])
    done, told = bring(fresh, [bad, nameless, line(followups=3)])
    assert done == Imported(left_out=3)
    assert told[0].startswith("line 1 left out: followup 2: /state")
    assert "did you mean holding?" in told[0]
    assert "a follow-up's `id` is needed" in told[1]
    assert "must be a list" in told[2]
    assert rows(fresh.store) == [0, 0, 0]


def test_what_was_taken_back_stays_away(fresh: Pool) -> None:
    given = line(followups=[seen()])
    bring(fresh, [given])
    assert fresh.client("alder").delete(f"/v1/reports/{given['id']}").status_code == 204
    done, told = bring(fresh, [given])
    assert done == Imported(left_out=1)
    assert "taken back" in told[0]
    assert given_out(fresh) == []


def test_bad_lines_are_told_in_words_that_help(fresh: Pool) -> None:
    bad = {
        "{": "not JSON",
        '{"id": 3, "id": 4}': "twice",
        "[]": "one JSON object",
        json.dumps({**line(), "id": "7"}): "a UUIDv7",
        json.dumps(line(outcome="repared")): "/outcome: .*did you mean repaired",
        json.dumps(line(coplaint="x")): "/coplaint: no such field; a typing mistake",
        json.dumps(line(happened="2031-01")): "still to come",
        json.dumps(line(readings=[{"text": "240 V at the moon"}])) + " " * 1_000_000: "longer",
    }
    done, told = bring(fresh, [*bad, line()])
    assert (done.new, done.left_out) == (1, len(bad))
    for number, (said, why) in enumerate(zip(told, bad.values(), strict=True), 1):
        assert said.startswith(f"line {number} left out: ")
        assert re.search(why, said), said


def test_a_line_without_end_is_not_read_whole() -> None:
    endless = b"x" * 5_000_000
    file = io.BytesIO(endless + b"\nsecond\n" + endless + b"\n\nlast")
    assert [len(line) for line in lines_of(file)] == [1_000_001, 7, 1_000_001, 1, 4]


def test_two_lines_with_one_id_are_one_report_or_told(
    fresh: Pool, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, two = line(), line()
    lines = [one, two, one, {**two, "complaint": "another"}]
    done, told = bring(fresh, lines)
    assert done == Imported(new=2, unchanged=1, left_out=1)
    assert told == ["line 4 left out: this id stands for another report; give it a new id"]
    monkeypatch.setattr(bulk_in, "CHUNK", 1)
    assert bring(fresh, lines)[0] == Imported(unchanged=3, left_out=1)


def test_statements_do_not_grow_with_the_lines(fresh: Pool) -> None:
    def asked(count: int) -> int:
        with statements(fresh.store) as seen_there:
            bring(fresh, [line(followups=[seen()]) for _ in range(count)])
        return len(seen_there)

    assert asked(40) == asked(2) <= 18
