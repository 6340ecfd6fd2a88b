"""Words that were put back: members send single words, stewards see counts and never who."""

import json
from typing import Any

import pytest
from typer.testing import CliRunner

from mendpool.admin import app as operator
from mendpool.core.privacy import scrub
from mendpool.core.record.correction import KINDS, WORDS_MAX
from mendpool.usecases import corrections
from mendpool.usecases.follow_up import forget_member

from tests.api.pools import START, Pool
from tests.core.scrub_words import language
from tests.factories import make_report

ROUTE = "/v1/corrections"


def word(said: str, kind: str = "name") -> dict[str, str]:
    return {"word": said, "kind": kind}


def put_back(pool: Pool, name: str, *words: dict[str, str], code: int = 200) -> Any:
    answer = pool.client(name).post(ROUTE, json={"words": list(words)})
    assert answer.status_code == code, answer.text
    return answer.json()


def listed(pool: Pool, monkeypatch: pytest.MonkeyPatch, *more: str) -> list[dict[str, Any]]:
    """What `mendpool pool review --words` tells."""
    url = pool.store.engine.url.render_as_string(hide_password=False)
    monkeypatch.setenv("MENDPOOL_DATABASE_URL", url)
    done = CliRunner().invoke(operator, ["review", "--words", "--json", *more])
    assert done.exit_code == 0, done.output
    return [json.loads(line) for line in done.stdout.splitlines()]


class TestAMember:
    def test_sends_words_once_and_sees_his_own(self, fresh: Pool) -> None:
        told = put_back(fresh, "alder", word("Zimbelring"), word("gland", "address"))
        assert told == {"words": [word("gland", "address"), word("zimbelring")]}
        assert put_back(fresh, "alder", word("ZIMBELRING")) == told
        assert fresh.client("alder").get(ROUTE).json() == told
        assert fresh.client("birch").get(ROUTE).json() == {"words": []}

    def test_takes_a_word_back_and_only_his_own(self, fresh: Pool) -> None:
        for name in ("alder", "birch"):
            put_back(fresh, name, word("zimbelring"), word("zimbelring", "handle"))
        for _ in range(2):
            answer = fresh.client("alder").delete(f"{ROUTE}/Zimbelring")
            assert (answer.status_code, answer.content) == (204, b"")
        assert fresh.client("alder").get(ROUTE).json() == {"words": []}
        assert len(fresh.client("birch").get(ROUTE).json()["words"]) == 2

    @pytest.mark.parametrize("path", ["%00", "a%00b", "%ED%A0%80", "x" * 400, "two%20words"])
    def test_to_take_back_what_can_be_no_word_changes_nothing(
        self, pool: Pool, path: str
    ) -> None:
        assert pool.client("alder").delete(f"{ROUTE}/{path}").status_code == 204

    @pytest.mark.parametrize(
        "said",
        [
            "", "a", "x" * 41, "two words", "o@p", "jo@barn.example", "www.barn.example",
            "https://barn", "5550142555", "+15305550142", "@mender", "zim_bel",
            "zim\nbel", "İ" * 30, "_", "٠١٢٣٤٥٦", "ab12cde", "as440", "-ring",
        ],
    )  # fmt: skip
    def test_is_refused_what_is_more_than_a_word(self, pool: Pool, said: str) -> None:
        told = put_back(pool, "alder", word("zimbelring"), word(said), code=422)
        assert [error["at"] for error in told["errors"]] == ["/words/1/word"]
        assert pool.client("alder").get(ROUTE).json() == {"words": []}

    @pytest.mark.parametrize("said", ["o-ring", "crow's", "drain’s", "gehäuse", "хомут"])
    def test_may_send_words_as_they_are_written(self, fresh: Pool, said: str) -> None:
        assert put_back(fresh, "alder", word(said)) == {"words": [word(said)]}

    def test_is_refused_what_no_scrubber_takes_it_for(self, pool: Pool) -> None:
        put_back(pool, "alder", word("zimbelring", "colour"), code=422)

    def test_sends_so_many_at_once_and_so_many_in_all(
        self, fresh: Pool, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        letters = "abcdefghijklmnopqrstuvwxyz"
        many = [word(f"zim{a}{b}") for a in letters for b in letters][: WORDS_MAX + 1]
        put_back(fresh, "alder", *many, code=422)
        monkeypatch.setattr(corrections, "OF_A_MEMBER_MOST", 3)
        put_back(fresh, "alder", *many[:3])
        put_back(fresh, "alder", *many[:3])
        told = put_back(fresh, "alder", many[3], code=422)
        assert "at most 3" in json.dumps(told)
        put_back(fresh, "birch", many[3])


class TestTheStewards:
    def test_see_how_many_people_and_never_who(
        self, fresh: Pool, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        put_back(fresh, "alder", word("zimbelring"), word("halden"))
        put_back(fresh, "birch", word("zimbelring"), word("zimbelring", "handle"))
        told = listed(fresh, monkeypatch)
        assert told == [
            {"word": "zimbelring", "kind": "name", "people": 2},
            {"word": "halden", "kind": "name", "people": 1},
            {"word": "zimbelring", "kind": "handle", "people": 1},
        ]

    def test_are_spared_what_the_catalogue_knows_by_now(
        self, fresh: Pool, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        put_back(fresh, "alder", word("alternator"), word("zimbelring"))
        assert [one["word"] for one in listed(fresh, monkeypatch)] == ["zimbelring"]
        assert len(listed(fresh, monkeypatch, "--all")) == 2

    def test_erase_a_word_that_names_somebody(
        self, fresh: Pool, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        for name in ("alder", "birch"):
            put_back(fresh, name, word("Tovrin"))
        listed(fresh, monkeypatch)
        gone = CliRunner().invoke(operator, ["review", "--drop", "tovrin"])
        assert gone.exit_code == 0, gone.output
        assert listed(fresh, monkeypatch) == []
        again = CliRunner().invoke(operator, ["review", "--drop", "tovrin"])
        assert again.exit_code == 3
        assert "--words" in again.output

    def test_read_a_sentence_of_each(
        self, fresh: Pool, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        listed(fresh, monkeypatch)
        assert "No word" in CliRunner().invoke(operator, ["review", "--words"]).output
        put_back(fresh, "alder", word("zimbelring"))
        told = CliRunner().invoke(operator, ["review", "--words"]).output
        assert "zimbelring (name): 1 person" in told
        assert "alder" not in told


def test_a_forgotten_members_words_are_forgotten(fresh: Pool) -> None:
    put_back(fresh, "alder", word("zimbelring"))
    put_back(fresh, "birch", word("zimbelring"))
    forget_member(fresh.service.place, "alder", START)
    assert [(one.word, one.people) for one in fresh.store.corrections()] == [("zimbelring", 1)]


def test_no_other_route_tells_them(fresh: Pool) -> None:
    put_back(fresh, "alder", word("zimbelring"))
    report = fresh.put(make_report())
    for name in ("alder", "birch", "steward"):
        client = fresh.client(name)
        for route in ("/v1/changes", "/v1/reports", f"/v1/reports/{report}", "/v1/catalogue"):
            assert "zimbelring" not in client.get(route).text
    assert "zimbelring" not in fresh.client("steward").get("/v1/parcel").text
    assert fresh.client("").get(ROUTE).status_code == 401


def test_the_kinds_are_those_that_the_scrubber_takes_out() -> None:
    """Each kind is met, and nothing else: from the scrubber's own modules' outcome."""
    text = (
        "Tovrin Halden, ring +44 20 7946 0123 or mend@barn.example, see www.barn.example,"
        " 14 Mill Lane, 51.5074, -0.1278, @mender, account no. 00712345, on 3 March 2025"
    )
    found = scrub.scrub(
        text, frozenset(), frozenset({"ring", "or", "see", "on", "no"}), language()
    )
    assert set(found.removed) == set(KINDS)
