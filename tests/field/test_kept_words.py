"""Words that were put back: kept here, told to the stewards only where the member says so."""

import json
from pathlib import Path
from typing import Any

import pytest

from mendpool.core.record.correction import WORDS_MAX
from mendpool_field.kept_words import is_told, put_back, share_words

from tests.field.conftest import Run
from tests.field.fake_pool import Call, FakePool, Reply, problem
from tests.field.samples import REPAIR
from tests.field.walking import lines

NAMED = (*REPAIR, "--note", "ask Tovrin about the Zimbelring, it squeals")


def kept(run: Run, *more: str) -> dict[str, Any]:
    told = run("kept-words", "--json", *more)
    assert told.exit_code == 0, told.output
    found: dict[str, Any] = json.loads(told.stdout)
    return found


def test_nothing_is_told_unless_the_member_says_so(joined: Run, pool: FakePool) -> None:
    assert joined(*NAMED, typed=lines("p", "2", "", "y")).exit_code == 0
    assert kept(joined) == {"words": ["zimbelring"], "shared": []}
    assert not any("corrections" in call.path for call in pool.calls)


def test_a_yes_tells_the_word_alone_with_the_report(joined: Run, pool: FakePool) -> None:
    told = joined(*NAMED, typed=lines("p", "2", "y", "y"))
    assert told.exit_code == 0, told.output
    (call,) = [call for call in pool.calls if "corrections" in call.path]
    assert call.json == {"words": [{"word": "zimbelring", "kind": "name"}]}
    assert joined("sync", "--send-only").exit_code == 0
    assert sum("corrections" in call.path for call in pool.calls) == 1, "told once"


def test_it_waits_for_signal_and_holds_up_nothing(
    joined: Run, cut_off: Run, pool: FakePool
) -> None:
    assert cut_off(*NAMED, typed=lines("p", "2", "y", "y")).exit_code == 0
    assert kept(cut_off) == {"words": ["zimbelring"], "shared": ["zimbelring"]}
    assert pool.words == set()
    assert joined("sync", "--send-only").exit_code == 0
    assert pool.words == {"zimbelring"}
    assert len(pool.reports) == 1


def test_all_are_shared_at_once_and_dropped_at_the_pool_too(
    joined: Run, pool: FakePool, home: Path
) -> None:
    put_back(home, "Zimbelring")
    put_back(home, "Gehäuse")
    assert kept(joined, "--share")["shared"] == ["gehäuse", "zimbelring"]
    assert pool.words == {"gehäuse", "zimbelring"}
    assert kept(joined, "--drop", "Gehäuse") == {
        "words": ["zimbelring"],
        "shared": ["zimbelring"],
    }
    assert pool.words == {"zimbelring"}
    assert "zimbelring (shared)" in joined("kept-words").stdout


def test_without_a_pool_it_says_when_it_will_be_told(alone: Run, home: Path) -> None:
    put_back(home, "Zimbelring")
    told = alone("kept-words", "--share")
    assert told.exit_code == 0
    assert "next mendpool sync" in told.stderr


@pytest.mark.parametrize("status", [404, 422, 401, 503])
def test_a_pool_that_does_not_take_them_keeps_no_report(
    joined: Run, pool: FakePool, home: Path, status: int
) -> None:
    put_back(home, "Zimbelring")
    share_words(home, ["Zimbelring"])
    pool.instead = lambda c: problem(status, "No") if "corrections" in c.path else None
    assert joined(*REPAIR, "--yes").exit_code == 0
    assert len(pool.reports) == 1
    pool.instead = lambda _: None
    assert joined("sync", "--send-only").exit_code == 0
    assert pool.words == {"zimbelring"}


def many(count: int) -> list[str]:
    return [f"zimbel{a}{b}" for a in "abcdefghijkl" for b in "abcdefghijkl"][:count]


def parts(pool: FakePool) -> list[int]:
    told = [c for c in pool.calls if "corrections" in c.path and c.method != "DELETE"]
    return [len(call.json["words"]) for call in told]


def test_more_than_the_pool_takes_at_once_are_shared_in_parts(
    joined: Run, pool: FakePool, home: Path
) -> None:
    words = many(WORDS_MAX * 2 + 20)
    for word in words:
        put_back(home, word)
    assert kept(joined, "--share")["shared"] == words
    assert parts(pool) == [WORDS_MAX, WORDS_MAX, 20]
    assert pool.words == set(words)
    assert is_told(home)


def test_parts_that_were_taken_are_not_told_again(
    joined: Run, pool: FakePool, home: Path
) -> None:
    words = many(WORDS_MAX + 10)
    for word in words:
        put_back(home, word)

    def once(call: Call) -> Reply | None:
        wanted = "corrections" in call.path and len(call.json["words"]) < WORDS_MAX
        return problem(503, "Not now") if wanted else None

    pool.instead = once
    assert joined("kept-words", "--share").exit_code == 0
    assert pool.words == set(words[:WORDS_MAX])
    assert not is_told(home)
    pool.instead = lambda _: None
    pool.calls.clear()
    assert joined("sync", "--send-only").exit_code == 0
    assert parts(pool) == [10]
    assert pool.words == set(words)
