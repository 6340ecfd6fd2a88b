"""The page's texts: each language whole, each key used, the trade's words for every code."""

import json
import re
from collections.abc import Iterator
from functools import cache
from hashlib import sha256
from pathlib import Path

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis import get_bys

ROOT = Path(__file__).parents[2]
PHONE = ROOT / "clients" / "phone"
PAGES = ROOT / "service" / "mendpool" / "api" / "pages"
NAME = re.compile(r"\{(\w+)\}")
FIGURE = re.compile(r"\d+(?:\.\d+)?")
PLURALS = ("none", "one", "other")
# Said to be made of a part that stands in the code and one that is known when it runs only.
MADE = (
    "aside.", "attempt.", "check.at-", "end.protection-", "gone.", "language.", "phone.count-",
    "phone.figures-", "phone.light-", "plain.left-", "plain.text-", "plate.", "removed.",
    "share.", "state.", "trouble.", "verdict.", "waiting.",
)  # fmt: skip


@cache
def words(name: str) -> dict[str, str]:
    """Read a file of words."""
    read: dict[str, str] = json.loads((PHONE / "words" / f"{name}.json").read_text("utf-8"))
    return read


def languages() -> list[str]:
    """Return the languages there are beside English."""
    return [path.stem for path in (PHONE / "words").glob("??.json") if path.stem != "en"]


def stem(key: str) -> str:
    """Return a key without the form of its count."""
    first, _, form = key.rpartition(".")
    return first if form in PLURALS else key


def sources() -> Iterator[str]:
    """Give everything that may name a key."""
    for folder, kind in ((PHONE, "*.js"), (PHONE / "plain", "*.j2"), (PAGES, "*.py")):
        for path in sorted(folder.rglob(kind)):
            yield path.read_text("utf-8")


def test_there_is_spanish() -> None:
    assert languages() == ["es"]


@pytest.mark.parametrize("language", languages())
class TestALanguage:
    def test_it_has_the_keys_of_english_and_no_others(self, language: str) -> None:
        assert set(words(language)) == set(words("en"))

    def test_its_texts_hold_the_same_names(self, language: str) -> None:
        for key, text in words("en").items():
            own = words(language)[key]
            assert sorted(NAME.findall(own)) == sorted(NAME.findall(text)), key
            assert own.strip(), key

    def test_every_count_has_its_forms(self, language: str) -> None:
        there = set(words(language))
        counted = {stem(key) for key in there if key.endswith(".one")}
        assert counted
        assert {f"{key}.{form}" for key in counted for form in ("one", "other")} <= there

    def test_every_code_has_a_word(self, language: str, catalogue: Catalogue) -> None:
        told = json.loads((PHONE / "words" / f"{language}-codes.json").read_text("utf-8"))
        known = catalogue.vocabulary
        wanted = {field: set(codes) for field, codes in known.machine.items()} | {
            "symptoms": set(known.symptoms),
            "symptom_groups": set(known.symptom_groups.values()),
            "components": set(known.components),
            "component_groups": set(known.component_groups.values()),
            "failures": set(known.failure_modes),
            "actions": set(known.actions),
            "results": set(known.results),
            "outcomes": set(known.outcomes),
            "states": set(known.followups),
            "before": set(known.before),
            "readings": set(known.readings),
            "points": {point for entry in known.readings.values() for point in entry.points},
            "conditions": set(known.conditions),
            "stages": set(known.stages),
            "topics": set(known.cautions),
            "openings": set(catalogue.openings),
        }
        assert {kind: set(codes) for kind, codes in told.items()} == wanted
        assert all(text.strip() for codes in told.values() for text in codes.values())


# A text asked for: by its key, by one of two, or (ending in a dot or a dash) by a beginning.
ASKED = re.compile(
    r"""\b(t|tn|has)\((?:[^()'"`]*\?\s*)?['"]([\w.-]+)['"](?:\s*:\s*'([\w.-]+)')?"""
)


class TestKeys:
    def test_every_key_that_is_asked_for_is_there(self) -> None:
        there = set(words("en"))
        asked = [found for text in sources() for found in ASKED.findall(text)]
        assert len(asked) > 100
        for way, *keys in asked:
            for key in filter(None, keys):
                if key.endswith((".", "-")):
                    assert key.startswith(MADE), key
                else:
                    assert (f"{key}.other" if way == "tn" else key) in there, key

    def test_what_is_made_begins_like_a_key(self) -> None:
        assert [made for made in MADE if not any(k.startswith(made) for k in words("en"))] == []

    def test_no_key_is_left_that_nothing_asks_for(self) -> None:
        named = {n for text in sources() for n in re.findall(r"""['"`]([\w.-]+)['"`]""", text)}
        left = [
            key
            for key in words("en")
            if not {key, stem(key)} & named and not key.startswith(MADE)
        ]
        assert left == []

    def test_they_stand_in_order(self) -> None:
        for language in ("en", *languages()):
            assert list(words(language)) == sorted(words(language)), language


def sayings(catalogue: Catalogue) -> dict[str, set[str]]:
    """Return what the catalogue says in an answer on which safety hangs, by kind."""
    checks = catalogue.checks.values()
    return {
        "cautions": {caution.says for caution in catalogue.cautions},
        "gates": {text for gate in catalogue.gates for text in (gate.says, gate.how) if text},
        "labels": {check.label for check in checks},
        "how": {check.how for check in checks},
        "expect": {check.expect for check in checks},
        "found": {found.says for check in checks for found in check.found.values()},
        "limits of get-bys": {entry.time_limit for entry in catalogue.get_bys},
        "ways back": {entry.restore for entry in catalogue.get_bys},
        "readings offered": {reading.says for reading in catalogue.sheet.readings},
        "remedies": {r.says for cause in catalogue.causes for r in cause.remedies},
    }


def digest(text: str) -> str:
    """Return what a text is known by, as digest.js works it out."""
    return sha256(text.encode()).hexdigest()[:12]


# What is put before a get-by's risk and before its way back, in the code that words them.
PREFIXES = (get_bys._AT_ONCE, "A get-by is not a repair.")
WHOLE = {
    "cautions", "gates", "labels", "how", "expect", "found", "limits of get-bys", "ways back",
    "readings offered",
}  # fmt: skip
"""What no language may leave in English."""


@pytest.mark.parametrize("language", languages())
class TestWhatTheServiceSays:
    """A changed text has another digest: it falls back to English until it is told anew."""

    def test_all_that_safety_hangs_on_is_told(
        self, language: str, catalogue: Catalogue
    ) -> None:
        told = words(f"{language}-trade")
        left = {
            kind: [text for text in texts if digest(text) not in told]
            for kind, texts in sayings(catalogue).items()
        }
        assert {kind: texts for kind, texts in left.items() if kind in WHOLE and texts} == {}

    def test_nothing_is_told_of_a_text_that_is_gone(
        self, language: str, catalogue: Catalogue
    ) -> None:
        known = {digest(text) for texts in sayings(catalogue).values() for text in texts}
        known |= {digest(text) for text in PREFIXES}
        assert set(words(f"{language}-trade")) - known == set()

    def test_figures_and_names_are_the_same(self, language: str, catalogue: Catalogue) -> None:
        told = words(f"{language}-trade")
        for texts in sayings(catalogue).values():
            for text in texts:
                own = told.get(digest(text), text)
                assert sorted(FIGURE.findall(own)) == sorted(FIGURE.findall(text)), text
                assert NAME.findall(own) == NAME.findall(text), text


def test_the_prefix_of_a_risk_is_still_said_so() -> None:
    assert PREFIXES[1] in Path(get_bys.__file__).read_text("utf-8")
