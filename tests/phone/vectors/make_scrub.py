"""Make the texts by which the page's own scrub is held to the service's: `scrub.json`.

``python -m tests.phone.vectors.make_scrub`` writes it anew, which is due whenever the scrub or
its corpus is changed; `test_scrub_vectors.py` says so. The page knows shapes and no words, so
only what has one counts here: e-mail, links, positions and numbers of seven figures or more
(decision 24), and whole days in figures, which are such numbers too. The texts are those the
service's scrub is tested with.

Each line has ``text``; ``gone``, words that the service takes out and the page must; ``stays``,
numbers of seven figures or more that the service leaves: those the page leaves too, or asks,
for without a list of words it can't tell a part's number from a neighbour's; ``same``, where
nothing in it has such a shape, and the page has to leave it to the letter.
"""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import yaml

from mendpool.core.privacy.scrub import scrub

from tests.core.scrub_words import language, ordinary_words, trade_words

FILE = Path(__file__).parent / "scrub.json"
_CORPUS = Path(__file__).parents[2] / "core"
_LOTS = ("first_found", "first_traps", "second_found", "second_traps")
_MARKED, _REGION = re.compile(r"<(\w+)\|([^>]*)>"), re.compile(r"\[([A-Z]{2})\] ")
_SHAPED = frozenset({"email", "link", "position"})
_OF_WORDS = frozenset({"name", "address", "handle"})
_LONG = re.compile(r"\d(?:[ ().\-/]{0,3}\d){6,}")
_FIGURES = re.compile(r"[\d +().\-/–]+")
_WORDS = re.compile(r"\w+")
OF_OUR_OWN = (
    "ring 020 7946 0018 and mail ann.other@mill.example or see https://mill.example/x",
    "the gate is at -1.28640, 36.81720, set 12.5 kVA at 1500 rpm",
    "+44 20 7946 0018",
    "voltage 230 230 231, hertz 50.1 50.0 49.9, hours 1 240 500",
    "call 0770 090 0123 after 6, bearing 6203-2RS, seal 25x52x7",
)
"""Several kinds in a line, and nothing but one."""


def lines() -> Iterator[tuple[str, str]]:
    """Give each text with the country its pool is in."""
    for lot in _LOTS:
        blocks = yaml.safe_load((_CORPUS / "scrub_corpus" / f"{lot}.yaml").read_text("utf-8"))
        for line in filter(None, "\n".join(blocks.values()).splitlines()):
            region = _REGION.match(line)
            text = _MARKED.sub(r"\2", line[region.end() :] if region else line)
            yield text.replace("{", "").replace("}", ""), region[1] if region else "GB"
    told = yaml.safe_load((_CORPUS / "scrub_lines.yaml").read_text("utf-8"))
    for entries in told.values():
        for entry in entries:
            yield entry["says"], "GB"
    for text in OF_OUR_OWN:
        yield text, "GB"


def vector(text: str, region: str) -> dict[str, Any]:
    """Return what the service makes of a text, as far as it has a shape."""
    done = scrub(text, trade_words(), ordinary_words(), language(), region)
    shaped = [words for kind, words in done.taken if _has_shape(kind, words)]
    rest = set(_WORDS.findall(_without(text, shaped)))
    gone = [word for words in shaped for word in _WORDS.findall(words) if word not in rest]
    stays = [found.group() for found in _LONG.finditer(done.text)]
    of_words = all(kind in _OF_WORDS for kind, _ in done.taken)
    told = {"text": text, "gone": gone, "stays": stays, "same": of_words and not stays}
    return {name: value for name, value in told.items() if value}


def vectors() -> list[dict[str, Any]]:
    """Return all of them; the same text stands once."""
    return list({text: vector(text, region) for text, region in lines()}.values())


def as_text() -> str:
    """Return the file's text: one line for each."""
    rows = ",\n".join(json.dumps(one, ensure_ascii=False) for one in vectors())
    return f"[\n{rows}\n]\n"


def _has_shape(kind: str, words: str) -> bool:
    """Say whether it has a shape; what is dictated in words has none."""
    figures = sum(c.isdigit() for c in words)
    if kind in {"phone", "number", "day"}:
        return figures >= 7 and _FIGURES.fullmatch(words) is not None
    return kind in _SHAPED and (kind != "position" or figures > 0 or "." in words)


def _without(text: str, pieces: list[str]) -> str:
    for piece in pieces:
        text = text.replace(piece, " ", 1)
    return text


if __name__ == "__main__":
    FILE.write_text(as_text(), "utf-8")
