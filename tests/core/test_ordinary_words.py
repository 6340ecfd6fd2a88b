"""The shipped list of ordinary words: clean, large, and without people in it."""

from pathlib import Path

import pytest

import mendpool
from mendpool.core.catalogue.files import packaged_catalogue, packaged_texts
from mendpool.core.catalogue.loader import load_catalogue
from mendpool.core.errors import CatalogueError
from mendpool.core.privacy.cues import ALSO_NAMES
from mendpool.core.privacy.lists import Known, words_in

from tests.core.scrub_words import ordinary_words

pytestmark = pytest.mark.usefixtures("parsed_once")

_FILE = Path(mendpool.__file__).parent / "core" / "catalogue" / "data" / "ordinary-words.txt"
_GIVEN = {
    "aaron", "abdul", "achieng", "adam", "agnes", "ahmed", "alan", "alice", "amina", "andrew",
    "anna", "arthur", "barbara", "brian", "carlos", "catherine", "charles", "david", "diana",
    "edward", "elizabeth", "emma", "fatima", "francis", "george", "gerald", "hannah", "helen",
    "henry", "ivan", "james", "jane", "jennifer", "john", "joseph", "juan", "karen", "kevin",
    "laura", "linda", "luis", "margaret", "maria", "mary", "michael", "mohamed", "nancy",
    "nguyen", "oliver", "otieno", "pablo", "patel", "patrick", "paul", "peter", "rachel",
    "richard", "robert", "ruth", "samuel", "sarah", "singh", "sophia", "stephen", "susan",
    "thomas", "victoria", "wanjiku", "william",
}  # fmt: skip


def test_the_list_is_one_word_a_line_sorted_in_lower_case() -> None:
    lines = [x for x in _FILE.read_text("utf-8").splitlines() if not x.startswith("#")]
    assert lines == sorted(set(lines))
    assert all(word.isascii() and word.isalpha() and word.islower() for word in lines)
    assert len(lines) >= 3000
    assert tuple(lines) == packaged_catalogue().ordinary


def test_no_given_name_is_taken_for_an_ordinary_word() -> None:
    assert ordinary_words().intersection(_GIVEN) == set()
    known = Known(frozenset(), ordinary_words())
    assert [name for name in _GIVEN if known.has(name)] == []


def test_the_names_that_are_words_are_looked_at_though_the_list_has_them() -> None:
    assert {"mark", "rose", "grace", "bill", "jack", "allen"} <= ALSO_NAMES & ordinary_words()


@pytest.mark.parametrize(
    "word",
    ["won't", "can’t", "we've", "it'll", "neighbour's", "rewired", "unbolted", "boxes",
     "non-stop", "re-check", "switches", "hurried"],
)  # fmt: skip
def test_a_form_of_a_known_word_is_known(word: str) -> None:
    assert Known(frozenset(), ordinary_words()).has(word)


def test_the_trades_own_words_are_known_in_their_forms() -> None:
    known = Known(words_in(["a quorbel (the quorbel's zindle)"]), frozenset())
    assert all(known.has(word) for word in ("quorbel", "quorbels", "zindle", "zindled"))
    assert not known.has("quorb")


@pytest.mark.parametrize("word", ["circlip", "pitot", "kondensator", "säkring"])
def test_a_tools_name_and_another_languages_word_are_the_catalogues(word: str) -> None:
    assert word not in packaged_catalogue().ordinary
    assert Known(frozenset(), ordinary_words()).has(word)


@pytest.mark.parametrize("word", ["Quorbel", "quorbel key", '""'])
def test_a_word_that_no_report_could_hold_is_refused(word: str) -> None:
    texts = {**packaged_texts(), "name-nobody.yaml": f"tools-and-parts: [{word}]"}
    with pytest.raises(CatalogueError, match=r"name-nobody\.yaml: tools-and-parts: .*one word"):
        load_catalogue(texts)


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        ("sides: [north,", "sides: [North,", "sides.0.*lower case"),
        ("times: {double: 2", "times: {double: 1", "times.double"),
        ("\ngerman: [", "\ngermans: [", "german"),
        ("points: [point,", "points: [a point,", "points.0.*one word"),
    ],
)
def test_a_fault_in_the_words_of_languages_is_named(before: str, after: str, told: str) -> None:
    whole = packaged_texts()
    assert before in whole["scrub-words.yaml"]
    texts = {**whole, "scrub-words.yaml": whole["scrub-words.yaml"].replace(before, after)}
    with pytest.raises(CatalogueError, match=rf"scrub-words\.yaml: {told}"):
        load_catalogue(texts)
