"""Take out what names anyone before anything is kept here; the service does it once more."""

from collections import Counter
from collections.abc import Mapping
from typing import Any

from mendpool_field import console
from mendpool_field.settings import Settings

Body = dict[str, Any]


def scrubbed_here(known: Settings, body: Mapping[str, Any]) -> tuple[Body, dict[str, int]]:
    """Return a record without what names or finds anyone, and how many of each kind went."""
    from mendpool.core.privacy.scrub import scrub_record
    from mendpool.core.text.reader import trade_words

    catalogue = console.catalogue(known)
    words, ordinary = trade_words(catalogue), frozenset(catalogue.ordinary)
    return scrub_record(body, words, ordinary, known.region)


def both(here: Mapping[str, int], there: object) -> dict[str, int]:
    """Return what was removed here and by the service, together."""
    total = Counter(here)
    if isinstance(there, Mapping):
        total.update({k: n for k, n in there.items() if isinstance(n, int)})
    return dict(sorted(total.items()))
