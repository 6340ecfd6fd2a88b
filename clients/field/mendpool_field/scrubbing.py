"""Take out what names anyone before anything is kept here; the service does it once more."""

import re
from collections import Counter
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from mendpool_field import console
from mendpool_field.disk import read_object, write_object
from mendpool_field.settings import Settings

if TYPE_CHECKING:
    from pathlib import Path

Body = dict[str, Any]
_TEXTS = ("complaint", "note")
_TRADE_WORD = re.compile(r"[^\W\d_]{2,40}(?:[-'][^\W\d_]{1,40}){0,2}")


def scrubbed_here(known: Settings, body: Mapping[str, Any]) -> tuple[Body, dict[str, int]]:
    """Return a record without what names or finds anyone, and how many of each kind went."""
    from mendpool.core.privacy.scrub import scrub_record

    words, ordinary = _words(known)
    return scrub_record(body, words, ordinary, known.region)


def taken_here(known: Settings, body: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return the kinds and words that go, for the eyes of the member alone."""
    from mendpool.core.privacy.scrub import taken_of_record

    words, ordinary = _words(known)
    return taken_of_record(body, words, ordinary, known.region)


def put_back(home: "Path", said: str) -> bool:
    """Remember that a word is the trade's and names nobody; False where it can't be one.

    Only words may be put back: a number or an address names somebody whatever it is called.
    """
    if not _TRADE_WORD.fullmatch(said):
        return False
    words = sorted({*put_back_words(home), said.lower()})
    write_object(_corrections(home), {"words": words})
    return True


def put_back_words(home: "Path") -> list[str]:
    """Return the words that this member put back, in alphabetical order."""
    kept = (read_object(_corrections(home)) or {}).get("words")
    return [word for word in kept if isinstance(word, str)] if isinstance(kept, list) else []


def drop_word(home: "Path", said: str) -> bool:
    """Forget a word that was put back; False where it was none."""
    words = put_back_words(home)
    if said.lower() not in words:
        return False
    write_object(_corrections(home), {"words": [w for w in words if w != said.lower()]})
    return True


def without(body: Mapping[str, Any], said: str) -> tuple[Body, int]:
    """Return a record whose texts have lost a word or words, and how often they stood there."""
    clean, times = dict(body), 0
    for name in _TEXTS:
        if isinstance(clean.get(name), str):
            clean[name], found = cut(clean[name], said)
            times += found
    return clean, times


def cut(text: str, said: str) -> tuple[str, int]:
    """Return a text that has lost a word or words, and how often they stood there."""
    if not said:
        return text, 0
    return re.subn(rf"(?<!\w){re.escape(said)}(?!\w)", "[name]", text, flags=re.IGNORECASE)


def both(here: Mapping[str, int], there: object) -> dict[str, int]:
    """Return what was removed here and by the service, together."""
    total = Counter(here)
    if isinstance(there, Mapping):
        total.update({k: n for k, n in there.items() if isinstance(n, int)})
    return dict(sorted(total.items()))


def _words(known: Settings) -> tuple[frozenset[str], frozenset[str]]:
    from mendpool.core.text.reader import trade_words

    catalogue = console.catalogue(known)
    ordinary = catalogue.nobodys_words.union(put_back_words(known.home))
    return frozenset(trade_words(catalogue)), ordinary


def _corrections(home: "Path") -> "Path":
    return home / "put-back.json"
