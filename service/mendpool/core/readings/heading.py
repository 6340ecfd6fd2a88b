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
_PLAIN_BEFORE = re.compile(
    r"it|its|i|we|they|you|has|have|had|got|gets?|getting|shows?|showing|shown|says|reads?"
    r"|reading|measure[sd]?|measuring|found|finds?|now|only|just|runs?|running|my|still|steady"
    r"|sits|sitting|meter|then|also|where|so|a|sees?|saw|gives|giving|hunting"
)


def headings(
    told: Told, figure: Figure, vocabulary: Vocabulary, words: ReadingWords
) -> frozenset[str]:
    """Return the quantities named right before a number; empty where none surely is."""
    return frozenset().union(
        *(
            heard.groups.intersection(vocabulary.readings)
            for heard in _before(told, figure, vocabulary)
            if stands_alone(told, heard.start, words)
        )
    )


def heading_start(told: Told, figure: Figure, vocabulary: Vocabulary) -> int:
    """Return where a number begins, with its unit and its name if they stand before it."""
    before = _before(told, figure, vocabulary)
    return min([figure.begin, *(heard.start for heard in before)])


def _before(told: Told, figure: Figure, vocabulary: Vocabulary) -> list[Heard]:
    return [
        heard
        for heard in told.heard
        if heard.end <= figure.start
        and not heard.groups.isdisjoint(vocabulary.readings)
        and _close(told, heard, figure)
    ]


def _close(told: Told, heard: Heard, figure: Figure) -> bool:
    end = figure.start
    if figure.lead is not None and heard.end <= figure.lead:
        end = figure.lead
    return bool(_BETWEEN.fullmatch(told.text, heard.end, end))


def stands_alone(told: Told, at: int, words: ReadingWords) -> bool:
    """Whether what begins here is no part of another name, a rating or what should be."""
    if said_before(told, at, (*words.expected_before, *words.mark_before)):
        return False
    if any(f.start < at < f.end for f in told.figures):
        return False
    before = _WORD_BEFORE.search(told.text, max(0, at - 40), at)
    if before is None:
        return True
    word = before[1].lower()
    return (
        bool(_PLAIN_BEFORE.fullmatch(word))
        or word in words.after_number
        or any(h.start <= before.start(1) < h.end for h in told.heard)
        or any(f.start <= before.start(1) < f.end for f in told.figures)
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
