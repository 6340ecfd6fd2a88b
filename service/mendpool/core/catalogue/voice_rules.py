"""The rules that what owners say of causes must keep; each fault names file and entry."""

from collections.abc import Iterator

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.vocabulary import nearest_code

LONGEST = 80
"""Letters a phrase may have: a longer one is a story that tells of everything."""


def broken_voice_rules(catalogue: Catalogue) -> list[str]:
    """Return a line for every broken rule; empty when all is well."""
    return [*_voices_are_of_causes(catalogue), *_phrases_are_short_and_single(catalogue)]


def _voices_are_of_causes(catalogue: Catalogue) -> Iterator[str]:
    for key in catalogue.voices:
        if key not in catalogue.cause_by_key:
            near = nearest_code(key, catalogue.cause_by_key)
            hint = f"; did you mean {near}?" if near else ""
            yield f"voices/: {key}: no such cause{hint}"


def _phrases_are_short_and_single(catalogue: Catalogue) -> Iterator[str]:
    first: dict[str, str] = {}
    for key, said in catalogue.voices.items():
        for phrase in said:
            if len(phrase) > LONGEST:
                yield f"voices/: {key}: over {LONGEST} letters: {phrase!r}"
            plain = " ".join(phrase.casefold().split())
            if plain in first:
                yield f"voices/: {key}: {phrase!r} is said of {first[plain]} already"
            first.setdefault(plain, key)
