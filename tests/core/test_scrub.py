"""Scrubbing against lines from the shed floor: nothing of the trade goes, no person stays."""

from pathlib import Path
from typing import Any

import pytest
import yaml

from mendpool.core.privacy.scrub import Scrubbed, scrub

from tests.core.scrub_words import language, ordinary_words, trade_words

_LINES: dict[str, list[dict[str, Any]]] = yaml.safe_load(
    (Path(__file__).parent / "scrub_lines.yaml").read_text("utf-8")
)
FICTION = "GB"  # 020 7946 0xxx is valid there and kept free for drama (Ofcom's list)


def scrubbed(text: str, region: str | None = FICTION) -> Scrubbed:
    return scrub(text, trade_words(), ordinary_words(), language(), region)


def test_the_corpus_is_large_and_half_of_it_is_traps() -> None:
    lines = [line["says"] for group in _LINES.values() for line in group]
    assert len(lines) == len(set(lines)) >= 120
    assert len(_LINES["traps"]) >= len(lines) / 2


@pytest.mark.parametrize("line", _LINES["traps"], ids=lambda line: line["says"])
def test_nothing_of_the_trade_is_eaten(line: dict[str, Any]) -> None:
    assert scrubbed(line["says"]) == Scrubbed(line["says"], {})


@pytest.mark.parametrize("line", _LINES["found"], ids=lambda line: line["says"])
def test_what_names_or_finds_anyone_goes(line: dict[str, Any]) -> None:
    done = scrubbed(line["says"])
    assert done.text == line["becomes"]
    assert sum(done.removed.values()) == done.text.count("[")
    for piece in line.get("keeps", ()):
        assert piece in done.text


def test_every_kind_is_counted_by_its_own_name() -> None:
    done = scrubbed(
        "Ask Lorcan or Mr Abery at 14 Mill Lane, ring 020 7946 0123, a@example.org, "
        "@gen_fixer, www.example.net, pin -1.23456, 36.65432, s/n: AB-99120, since 14 March"
    )
    assert done.removed == {
        "address": 1, "day": 1, "email": 1, "handle": 1, "link": 1, "name": 2, "number": 1,
        "phone": 1, "position": 1,
    }  # fmt: skip
    assert list(done.removed) == sorted(done.removed)


@pytest.mark.parametrize(
    "line",
    [
        "ask {}", "{} said it is the capacitor", "my mate {} fixed it", "mr {} wants it",
        "{}'s genset is dead", "then I rang {} and he came", "no spark. {} thinks coil",
        "owner is {}", "borrowed from {} last week", "talked to {}", "it belongs to {}",
    ],
)  # fmt: skip
@pytest.mark.parametrize("name", ["Oskar", "Wanjala", "Mariela", "Jaspreet", "Lindqvist"])
@pytest.mark.parametrize("case", [str, str.lower, str.upper])
def test_a_name_beside_its_cue_goes_in_any_case(line: str, name: str, case: Any) -> None:
    text = case(line.format(name))
    done = scrubbed(text[0].upper() + text[1:] if case is str else text)
    assert name.lower() not in done.text.lower()
    assert done.removed == {"name": 1}


def test_a_word_that_is_also_a_name_needs_a_cue_and_a_capital() -> None:
    assert scrubbed("my neighbour Rose came").removed == {"name": 1}
    assert scrubbed("the level Rose to the mark").removed == {}
    assert scrubbed("it rose, then mark the pulley").removed == {}


def test_a_number_without_a_cue_is_taken_for_a_part() -> None:
    assert scrubbed("stamped 02079460123 on the pump").removed == {}
    assert scrubbed("ring 02079460123").removed == {"phone": 1}


def test_a_weak_cue_counts_only_in_the_pools_country() -> None:
    text = "I am on 020 7946 0123 most days"
    assert scrubbed(text, "GB").removed == {"phone": 1}
    assert scrubbed(text, None).removed == {}
    assert scrubbed(text, "US").removed == {}  # no such number there


def test_a_name_keeps_its_surname_and_initials_together() -> None:
    assert scrubbed("we got J. K. Dunthorne to look").text == "we got [name] to look"


def test_a_month_stays_and_its_day_goes() -> None:
    assert scrubbed("died 3 April 2024").text == "died [day] April 2024"
    assert scrubbed("died 2024-04-03").text == "died 2024-04-[day]"
    assert scrubbed("died 2024-04").removed == {}


def test_brackets_that_a_person_typed_stay() -> None:
    assert scrubbed("[loose] wire at the AVR").removed == {}
    assert scrubbed("[name] said so").text == "[name] said so"
