"""Take out what names anyone before anything is kept here; the service does it once more."""

import re
from collections import Counter
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from mendpool_field import console
from mendpool_field.kept_words import put_back_words
from mendpool_field.settings import Settings

if TYPE_CHECKING:
    from mendpool.core.privacy.language import Language

Body = dict[str, Any]
_TEXTS = ("complaint", "note")


def scrubbed_here(known: Settings, body: Mapping[str, Any]) -> tuple[Body, dict[str, int]]:
    """Return a record without what names or finds anyone, and how many of each kind went."""
    from mendpool.core.privacy.scrub import scrub_record

    return scrub_record(body, *_words(known), known.region)


def taken_here(known: Settings, body: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return the kinds and words that go, for the eyes of the member alone."""
    from mendpool.core.privacy.scrub import taken_of_record

    return taken_of_record(body, *_words(known), known.region)


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


def _words(known: Settings) -> "tuple[frozenset[str], frozenset[str], Language]":
    from mendpool.core.privacy.language import language_of
    from mendpool.core.text.reader import trade_words

    catalogue = console.catalogue(known)
    ordinary = catalogue.nobodys_words.union(put_back_words(known.home))
    return frozenset(trade_words(catalogue)), ordinary, language_of(catalogue.scrub_words)
