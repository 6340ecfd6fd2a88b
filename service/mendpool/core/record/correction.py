"""A word that was taken for somebody's and is the trade's: put back by who wrote it."""

import re
from typing import Annotated, Literal, get_args

from pydantic import AfterValidator, Field

from mendpool.core.record.fields import Record, clean_text

WORD_MAX = 40
WORDS_MAX = 50
"""Of one request; nobody puts back more in a report."""
_WORD = re.compile(r"[^\W\d_]+(?:[-'\u2019][^\W\d_]+){0,3}")

Kind = Literal[
    "address", "day", "email", "handle", "link", "name", "number", "phone", "position"
]
"""What the scrubber took it for."""
KINDS: tuple[Kind, ...] = get_args(Kind)


def one_word(text: str) -> str:
    """Return a word as it is kept: in lower case, in NFC.

    Raises:
        ValueError: it is more than a word. What has a figure in it can be somebody's number,
            plate or address whatever it is called.
    """
    word = clean_text(text.lower())  # which can be longer than the capitals
    if not (1 < len(word) <= WORD_MAX and _WORD.fullmatch(word)):
        raise ValueError("one word of letters, such as o-ring: no figures, no address, no link")
    return word


class PutBack(Record):
    """A word and what it was taken for."""

    word: Annotated[
        str,
        Field(min_length=2, max_length=WORD_MAX),
        AfterValidator(one_word),
    ]
    kind: Kind


class Corrections(Record):
    """Words that a member put back, and lets a steward see."""

    words: Annotated[list[PutBack], Field(min_length=1, max_length=WORDS_MAX)]
