"""What a number is headed by: voltage 190, temp 105C, battery 11.8.

A group of words called as a quantity holds the words that name that quantity and nothing of
where it was read. It counts only right before a number, and only where the word before it
does not make another thing of it: of "breaker amps 30" nothing is known.
"""

import re

from mendpool.core.catalogue.reading_words import Bare, ReadingWords
from mendpool.core.catalogue.spoken import Heard
from mendpool.core.catalogue.vocabulary import Vocabulary
from mendpool.core.readings.before import BETWEEN
from mendpool.core.readings.figures import Figure
from mendpool.core.readings.words import Told, said_before

NO_DIMENSION = "none"
"""The `dimension` of the entries of `bare` that bound a number without a unit."""
_BETWEEN = re.compile(BETWEEN, re.IGNORECASE)
_WORD_BEFORE = re.compile(r"([^\W\d_]+)[^\S\n]*$")
_PLAIN_BEFORE = frozenset(
    "it its it's i we they you has have had got get gets getting shows showing show shown says"
    " reads reading read measured measuring measure found find now only just at runs running"
    " my still steady sits sitting meter then also where so a see saw gives giving hunting".split()
)


def headings(
    told: Told, figure: Figure, vocabulary: Vocabulary, words: ReadingWords
) -> tuple[frozenset[str], int]:
    """Return the quantities named right before a number, and where their words begin.

    Returns:
        Codes, empty where none heads it; and the place of the first word, or of the number.
    """
    named: set[str] = set()
    begin = figure.begin
    for heard in told.heard:
        codes = heard.groups.intersection(vocabulary.readings)
        if not codes or heard.end > figure.start or not _close(told, heard, figure):
            continue
        if stands_alone(told, heard.start, words):
            named |= codes
            begin = min(begin, heard.start)
    return frozenset(named), begin


def _close(told: Told, heard: Heard, figure: Figure) -> bool:
    end = figure.start
    if figure.lead is not None and heard.end <= figure.lead:
        end = figure.lead
    return bool(_BETWEEN.fullmatch(told.text, heard.end, end))


def stands_alone(told: Told, at: int, words: ReadingWords) -> bool:
    """Whether what begins here is no part of another name, a rating or what should be."""
    if said_before(told, at, (*words.expected_before, *words.mark_before)):
        return False
    before = _WORD_BEFORE.search(told.text, 0, at)
    if before is None:
        return True
    word = before[1].lower()
    return (
        word in _PLAIN_BEFORE
        or word in words.after_number
        or any(h.start <= before.start(1) < h.end for h in told.heard)
    )


def sure_without_unit(
    quantity: str, point: str, value: float | None, words: ReadingWords
) -> bool:
    """Whether a number with no unit, named as this quantity, is surely in its usual unit."""
    return value is not None and any(
        (bare.quantity, bare.point) == (quantity, point) and within(bare, value)
        for bare in words.bare
        if bare.dimension == NO_DIMENSION
    )


def within(bare: Bare, value: float) -> bool:
    """Whether a value lies inside what an entry allows."""
    return (bare.at_least is None or value >= bare.at_least) and (
        bare.at_most is None or value <= bare.at_most
    )
