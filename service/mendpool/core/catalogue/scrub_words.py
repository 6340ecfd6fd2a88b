"""The words of languages that the scrubber goes by: `scrub-words.yaml`."""

from collections.abc import Mapping
from typing import Annotated

from pydantic import AfterValidator, Field

from mendpool.core.catalogue.model import Entry


def _low(word: str) -> str:
    if word != word.lower() or word != " ".join(word.split()):
        raise ValueError(f"{word!r} must be in lower case, with single spaces")
    return word


def _whole(word: str) -> str:
    if " " in word:
        raise ValueError(f"{word!r} must be one word")
    return word


Phrase = Annotated[str, Field(min_length=1), AfterValidator(_low)]
Word = Annotated[Phrase, AfterValidator(_whole)]
Words = Annotated[tuple[Word, ...], Field(min_length=1)]
Phrases = Annotated[tuple[Phrase, ...], Field(min_length=1)]


class ScrubWords(Entry):
    """Lists by what they tell; the file says what each is for."""

    ones: Words
    tens: Words
    times: Mapping[Word, Annotated[int, Field(ge=2, le=4)]]
    noughts: Words
    counting: Words
    number_cues: Words
    sides: Words
    points: Words
    degrees: Words
    months: Words
    months_abroad: Words
    month_word: Word
    ordinals: Words
    ordinal_tens: Words
    feasts: Phrases
    street_kinds: Words
    street_of: Phrases
    street_ends: Words
    loud_streets: Words
    german: Words
