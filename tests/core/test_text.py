"""From a complaint in anyone's words to the trade's terms."""

import pickle
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.record.machine import Machine
from mendpool.core.text.leanings import Leanings
from mendpool.core.text.phrases import PhraseBook, scope_of_negation
from mendpool.core.text.reader import Reader, trade_words
from mendpool.core.text.spelling import Spelling
from mendpool.core.text.words import BREAK, NOT, fold, stem, stems, times_used, words_of

from tests.engines import packaged_engine

SET = Machine(fuel="diesel", phases=1)
READER = packaged_engine().plain_reader


@pytest.fixture(scope="module")
def reader(engine: Engine) -> Reader:
    return engine.plain_reader


def cut(text: str) -> list[str]:
    return [word.text for word in words_of(text)]


def covered(text: str, breakers: frozenset[str] = frozenset({"but"})) -> list[str]:
    words = cut(text)
    return [
        w for w, denied in zip(words, scope_of_negation(words, breakers), strict=True) if denied
    ]


# --- cutting a text up


def test_words_are_folded_and_a_clause_ends_at_its_mark() -> None:
    assert cut("Runs, no LIGHT.") == ["runs", BREAK, "no", "light", BREAK]
    assert cut("hot\ncold") == ["hot", BREAK, "cold"]


def test_accents_and_curled_apostrophes_are_no_matter() -> None:
    assert cut("Génératrice moteur") == ["generatrice", "moteur"]
    assert cut("won’t") == cut("won't") == cut("wont") == ["will", NOT]


def test_shortened_denials_are_two_words() -> None:
    assert cut("can't") == cut("cant") == cut("cannot") == ["can", NOT]
    assert cut("doesn't fire") == ["does", NOT, "fire"]


def test_whose_it_is_does_not_matter_and_hyphens_part_words() -> None:
    assert cut("set's key") == ["set", "key"]
    assert cut("auto-start") == ["auto", "start"]


@given(st.text(max_size=200))
def test_every_word_knows_where_it_stands(text: str) -> None:
    for word in words_of(text):
        assert 0 <= word.start < word.end <= len(text)
        if word.text.isalpha() and word.text not in {NOT, "will", "can"}:
            there = "".join(c for c in fold(text[word.start : word.end]) if c.isalnum())
            assert there.startswith(word.text)


@given(st.lists(st.text("aI9é’'.,\n wont", max_size=12), max_size=6))
def test_words_of_many_texts_are_counted_as_they_are_cut_one_by_one(texts: list[str]) -> None:
    one_by_one = Counter(word for text in texts for word in cut(text) if word != BREAK)
    assert list(times_used(texts).items()) == list(one_by_one.items())


@given(st.text(max_size=200))
def test_folding_keeps_every_character_in_its_place_and_folds_once(text: str) -> None:
    folded = fold(text)
    assert len(folded) == len(text)
    assert fold(folded) == folded


@given(st.text(alphabet="abcdefghijklmnopqrstuvwxyz0123456789", max_size=30))
def test_a_stem_is_never_longer_and_numbers_and_short_words_are_left(word: str) -> None:
    assert len(stem(word)) <= len(word) + 1
    if len(word) <= 3 or not word.isalpha():
        assert stem(word) == word


@pytest.mark.parametrize("forms", ["leak leaks leaking", "brush brushes", "stop stopped stops"])
def test_forms_of_a_word_share_a_stem_and_the_stem_is_its_own(forms: str) -> None:
    assert len(set(stems(forms.split()))) == 1
    assert stems(stems(forms.split())) == stems(forms.split())


@pytest.mark.parametrize(
    "forms",
    [
        "overheat overheats overheated overheating",
        "overspeed overspeeds overspeeding",
        "ran run runs running",
    ],
)
def test_forms_that_no_stemmer_brings_together_are_read_as_one(
    reader: Reader, forms: str
) -> None:
    assert len({reader.read(form, SET).words for form in forms.split()}) == 1


# --- denials and how far they reach


def test_a_denial_reaches_four_words_and_ends_with_its_clause() -> None:
    assert covered("not a b c d e") == ["a", "b", "c", "d"]
    assert covered("not hot, smokes") == ["hot"]
    assert covered("not hot but smokes") == ["hot"]


@pytest.mark.parametrize(
    ("text", "there", "denied"),
    [
        ("no smoke, not hot, but won't fire", ["cranks-no-start"], []),
        ("not overheating", [], ["overheats"]),
        ("it is not overheating but there is no output", ["no-output"], ["overheats"]),
        ("no output and no overheating", ["no-output"], ["overheats"]),
        ("never overheats. No power.", ["no-output"], ["overheats"]),
        ("no black smoke, cranks but won't fire", ["cranks-no-start"], ["black-smoke"]),
        ("without any vibration", [], ["vibration"]),
        ("not overheating or vibrating", [], ["overheats", "vibration"]),
        ("no output but engine overheats", ["no-output", "overheats"], []),
        ("does not stop", ["will-not-stop"], []),
    ],
)
def test_what_is_denied_is_absent_and_the_rest_is_there(
    reader: Reader, text: str, there: list[str], denied: list[str]
) -> None:
    read = reader.read(text, SET)
    assert list(read.symptoms) == there
    assert list(read.absent) == denied


def test_what_is_said_and_denied_is_there(reader: Reader) -> None:
    read = reader.read("not overheating at first, then overheats", SET)
    assert "overheats" in read.symptoms
    assert "overheats" not in read.absent


def test_denied_words_are_searched_by_as_denied(reader: Reader) -> None:
    words = reader.read("no smoke, runs warm", SET).words
    assert "not-smoke" in words
    assert "smoke" not in words


# --- spelling


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("genertor", "generator"), ("outlts", "outlets"), ("chargin", "charging"),
        ("overheting", "overheating"), ("brusehs", "brushes"), ("carburettr", "carburettor"),
        ("triping", "tripping"), ("strater", "starter"), ("regulatr", "regulator"),
    ],
)  # fmt: skip
def test_typing_mistakes_are_mended_and_shown(reader: Reader, typed: str, meant: str) -> None:
    read = reader.read(f"the {typed} thing", SET)
    assert read.mended == {typed: meant}
    assert read.new_words == ()


def test_a_mended_complaint_says_the_same(reader: Reader) -> None:
    wrong = reader.read("genertor has no powr at outlts", SET)
    assert wrong.symptoms == reader.read("generator has no power at outlets", SET).symptoms
    assert "no-output" in wrong.symptoms


@pytest.mark.parametrize(
    "word", ["avr", "fip", "rcd", "lpg", "hunts", "tappets", "amf", "elcb"]
)
def test_trade_words_are_left_alone(reader: Reader, word: str) -> None:
    assert reader.read(f"{word} here", SET).mended == {}


@pytest.mark.parametrize("number", ["2034b", "xk4431", "rg30x", "6205", "12v", "4l60e"])
def test_part_numbers_are_left_alone(reader: Reader, number: str) -> None:
    """One edit is a different part."""
    read = reader.read(f"fitted {number}", SET)
    assert read.mended == {}
    assert read.new_words == ()


@pytest.mark.parametrize("word", ["house", "neighbour", "kitchen", "yesterday", "because"])
def test_plain_words_are_no_mistakes(reader: Reader, word: str) -> None:
    read = reader.read(f"{word} thing", SET)
    assert read.mended == {}
    assert read.new_words == ()


def test_every_word_of_the_trade_reads_as_itself(catalogue: Catalogue, reader: Reader) -> None:
    for word in sorted(trade_words(catalogue)):
        assert reader.read(word, SET).mended == {}


def test_the_first_letter_must_stand() -> None:
    spelling = Spelling([("starter", 5)])
    assert spelling.mend("strater") == "starter"
    assert spelling.mend("tsarter") == "tsarter"


def test_one_edit_is_allowed_in_a_short_word_and_two_in_a_long_one() -> None:
    spelling = Spelling([("pump", 1), ("regulator", 1)])
    assert spelling.mend("pupm") == "pump"
    assert spelling.mend("ppm") == "ppm"
    assert spelling.mend("pimpp") == "pimpp"
    assert spelling.mend("regalater") == "regulator"
    assert spelling.mend("regalitar") == "regalitar"


def test_of_two_words_as_near_the_better_known_wins_then_the_earlier() -> None:
    assert Spelling([("belt", 1), ("bolt", 9)]).mend("bilt") == "bolt"
    assert Spelling([("bolt", 4), ("belt", 4)]).mend("bilt") == "belt"


def test_the_pools_well_used_words_are_known_too(reader: Reader) -> None:
    assert reader.read("wozzlegrip", SET).new_words == ("wozzlegrip",)
    taught = reader.knowing({"wozzlegrip": 5})
    assert taught.read("wozzlegrip", SET).new_words == ()
    assert taught.read("wozlegrip", SET).mended == {"wozlegrip": "wozzlegrip"}
    assert reader.read("wozzlegrip", SET).new_words == ("wozzlegrip",)


def test_the_pool_cannot_outvote_the_catalogue() -> None:
    spelling = Spelling([("bolt", 1000)]).with_words({"bolt": 1, "belt": 400})
    assert spelling.mend("bilt") == "bolt"


# --- phrases


def find(phrases: dict[str, list[str]], text: str) -> list[tuple[str, bool]]:
    book = PhraseBook({code: [p.split() for p in said] for code, said in phrases.items()})
    words = text.split()
    denied = scope_of_negation(words, frozenset())
    return [(match.code, match.negated) for match in book.find(words, denied)]


def test_a_phrase_is_found_with_up_to_two_words_between() -> None:
    assert find({"x": ["no power"]}, "no power") == [("x", False)]
    assert find({"x": ["loose belt"]}, "loose old fan belt") == [("x", False)]
    assert find({"x": ["loose belt"]}, "loose old worn fan belt") == []


def test_a_phrase_does_not_reach_over_a_break_or_a_denial() -> None:
    assert find({"x": ["loose belt"]}, "loose | belt") == []
    assert find({"x": ["loose belt"]}, "loose not belt") == []


def test_a_phrase_with_a_denial_between_is_denied() -> None:
    book = PhraseBook({"x": [["loose", "belt"]], "y": [["not", "belt"]]})
    found = book.find_denied(["loose", "not", "belt"], set())
    assert [(m.code, m.places, m.negated) for m in found] == [("x", (0, 2), True)]
    assert book.find_denied(["loose", "not", "belt"], {2}) == []
    assert book.find_denied(["loose", "belt", "not"], set()) == []
    assert book.find_denied(["loose", "|", "not", "belt"], set()) == []


def test_what_is_added_is_not_denied() -> None:
    assert scope_of_negation(["not", "a", "b"], frozenset(), ends={2}) == [False, True, False]
    assert scope_of_negation(["not", "a", "not", "b"], frozenset(), ends={2})[3]


def test_the_longer_of_two_wins() -> None:
    phrases = {"short": ["oil"], "long": ["oil switch"], "longest": ["oil switch wire"]}
    assert find(phrases, "oil switch wire") == [("longest", False)]
    assert find(phrases, "oil switch") == [("long", False)]


def test_two_phrases_of_the_same_words_both_stand() -> None:
    assert find({"a": ["not crank"], "b": ["not crank"]}, "not crank") == [
        ("a", False), ("b", False),
    ]  # fmt: skip


def test_a_denial_inside_a_phrase_belongs_to_it() -> None:
    assert find({"x": ["not fire"]}, "not fire") == [("x", False)]
    assert find({"x": ["smoke"]}, "not smoke") == [("x", True)]


def test_room_between_costs_sureness() -> None:
    book = PhraseBook({"x": [["loose", "belt"]]})
    near = book.find(["loose", "belt"], [False] * 2)[0].confidence
    far = book.find(["loose", "old", "belt"], [False] * 3)[0].confidence
    assert near > far


# --- leanings

BAGS = Leanings(
    {
        "hunts": [["revs", "up", "down"]],
        "dead": [["not", "fire"], ["not", "start"]],
        "hot": [["hot", "not", "start"]],
        "shaft": [["shaft", "burnt", "loose"]],
    }
)


def lean(text: str) -> dict[str, float]:
    words = text.split()
    return BAGS.lean(words, scope_of_negation(words, frozenset()))


def test_most_of_the_words_in_any_order_lean_to_it() -> None:
    assert set(lean("down and up it revs")) == {"hunts"}
    assert lean("down") == {}


def test_words_far_apart_do_not_lean() -> None:
    assert lean("revs " + "word " * 30 + "up down") == {}


def test_words_near_together_lean_more_than_words_far_apart() -> None:
    near, far = lean("revs up down"), lean("revs word word word word up word down")
    assert near["hunts"] > far["hunts"] > 0


def test_half_an_alias_leans_far_less_than_half_as_much() -> None:
    bags = Leanings({"x": [["red", "lamp", "wink"]], "y": [["lamp"]], "z": [["lamp"]]})
    words = ["red", "lamp", "wink"]
    whole, part = (bags.lean(w, [False] * len(w))["x"] for w in (words, words[1:]))
    assert part < 0.6 * whole


def test_words_that_mean_the_same_lean_the_same() -> None:
    phrases = {"x": [["engine", "stop", "hot"]], "y": [["smoke"]], "z": [["noise"]]}
    same = Leanings(phrases, {"quit": "stop"})
    assert same.lean(["quit", "engine", "hot"], [False] * 3) == same.lean(
        ["stop", "engine", "hot"], [False] * 3
    )
    alone = Leanings(phrases)
    assert alone.lean(["quit", "hot"], [False] * 2) == {}


def test_no_word_means_the_same_as_two_others(catalogue: Catalogue) -> None:
    synonyms = catalogue.words.synonyms
    listed = [stem(w) for one, others in synonyms.items() for w in {one, *others}]
    twice = {w for w in listed if listed.count(w) > 1}
    own = {w for w in twice if sum(w in stems({o, *m}) for o, m in synonyms.items()) == 1}
    assert twice == own


def test_what_is_said_outright_leans_to_nothing_else_alone() -> None:
    words = ["revs", "up", "down"]
    assert BAGS.lean(words, [False] * 3, taken={0, 1, 2}) == {}
    assert BAGS.lean(words, [False] * 3, taken={0, 1}) == {}
    assert "hunts" in BAGS.lean(words, [False] * 3, taken={0})


def test_a_hint_leans_and_is_never_said_outright(reader: Reader) -> None:
    assert "low voltage" in packaged_catalogue().symptoms["low-voltage"].aliases
    assert "weak voltage" in packaged_catalogue().symptoms["low-voltage"].hints
    said = reader.read("low voltage", SET).symptoms["low-voltage"]
    hinted = reader.read("weak voltage", SET).symptoms["low-voltage"]
    assert hinted <= 0.7 < said


def test_denied_words_lean_to_nothing() -> None:
    assert "hunts" not in lean("not revs up down")


def test_a_denial_leans_only_where_it_denies_the_same_word() -> None:
    assert "dead" in lean("today it not really start")
    assert "dead" not in lean("start | not smoke")
    assert "hot" in lean("hot | not start")
    assert "hot" not in lean("not hot | not start")


def test_one_rare_word_of_many_is_no_saying() -> None:
    assert lean("shaft") == {}
    assert set(lean("shaft burnt")) == {"shaft"}


def test_a_leaning_is_never_as_sure_as_a_phrase(reader: Reader) -> None:
    assert all(sure <= 0.7 for sure in lean("revs up down").values())
    read = reader.read("engine stops, not overheating", SET)
    assert "will-not-stop" not in read.symptoms


def test_what_is_denied_outright_is_not_leant_to(reader: Reader) -> None:
    read = reader.read("no oil leak, oil stays clean, leaks nothing", SET)
    assert "oil-leak" not in read.symptoms


# --- any text at all


@given(st.text(max_size=300))
def test_reading_never_fails(text: str) -> None:
    read = READER.read(text, SET)
    assert all(0 < sure <= 1 for sure in read.symptoms.values())
    assert not set(read.symptoms) & set(read.absent)
    assert read == READER.read(text, SET)


TRADE = sorted(trade_words(packaged_catalogue()) | {"not", ",", ".", "but", "|", "no"})


@given(st.lists(st.sampled_from(TRADE), max_size=25))
def test_reading_any_run_of_trade_words_never_fails(words: list[str]) -> None:
    text = " ".join(words)
    read = READER.read(text, SET)
    assert not set(read.symptoms) & set(read.absent)
    assert read.mended == {}
    # Case and space are no matter.
    assert READER.read(text.upper().replace(" ", "  "), SET) == read


def test_a_reader_can_be_kept_and_reads_as_before(engine: Engine) -> None:
    text = "brushs worn, voltage not low; swapped the regulator, no change"
    kept = pickle.loads(pickle.dumps(engine.plain_reader))  # noqa: S301 - our own bytes
    assert kept.read(text, Machine()) == engine.plain_reader.read(text, Machine())
    assert kept.knowing({"zorgle": 3}).read("zorgel", Machine()).mended == {"zorgel": "zorgle"}
