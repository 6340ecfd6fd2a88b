"""Readings inside a free complaint: only 3 volts at the plug, runs at 51 hz.

Careful rather than clever: a number must have a unit, and the words near it must say what
was measured. A rating (a 12 volt battery, a 30 amp breaker) or what it should be is no
reading. What could be two things is left alone.
"""

import re
from dataclasses import dataclass
from itertools import pairwise

from mendpool.core.catalogue.reading_words import ReadingWords
from mendpool.core.catalogue.vocabulary import Vocabulary
from mendpool.core.errors import RefusedInput
from mendpool.core.readings.figures import Figure
from mendpool.core.readings.gather import Numbers
from mendpool.core.readings.parse import Settler
from mendpool.core.readings.words import Told, aside_of, listen, sign_of
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Reading, ReadingGiven

_END = re.compile(r"[;!?\n]+|\.(?!\d)|,(?!\d)")
_NEXT_TO = re.compile(r"[\s,/&+-]*(?:and\s*)?")
_STATED_BY_UNIT = frozenset({"frequency", "speed"})
"""Dimensions that only one thing on a set is measured in."""
_MOVED = re.compile(r"\b(?:from|between)\s*$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Found:
    """A reading found in a text, with the part of the text it came from."""

    reading: Reading
    start: int
    end: int
    text: str


def find_readings(
    text: str, vocabulary: Vocabulary, machine: Machine, words: ReadingWords
) -> list[Found]:
    """Return the readings in a free text, in order; none where there is doubt."""
    if not any(character.isdigit() for character in text) and not words.number_words:
        return []
    told = listen(text, words)
    ratings = _ratings(told, words)
    found = []
    for figure in told.figures:
        if figure in ratings or figure.unit is None or figure.shape == "pair":
            continue
        if aside_of(told, figure, words) is not None or _moved(told, figure):
            continue
        reading = _read(told, figure, Settler(vocabulary, machine, words))
        if reading is not None:
            found.append(
                Found(reading, figure.start, figure.end, text[figure.start : figure.end])
            )
    return found


def _ratings(told: Told, words: ReadingWords) -> set[Figure]:
    """Numbers off a nameplate, with those that stand right beside them."""
    ratings = {f for f in told.figures if aside_of(told, f, words) == "nameplate"}
    for order in (told.figures, told.figures[::-1]):
        for one, other in pairwise(order):
            first, second = sorted((one, other), key=lambda f: f.start)
            if one in ratings and _NEXT_TO.fullmatch(told.text, first.end, second.start):
                ratings.add(other)
    return ratings


def _moved(told: Told, figure: Figure) -> bool:
    """From 240 to 190 is two readings in two states; which is which is not ours to guess."""
    if figure.shape != "range":
        return False
    before = told.text[: figure.start]
    return bool(_MOVED.search(before)) and not re.search(r"between\s*$", before, re.IGNORECASE)


def _read(told: Told, figure: Figure, settler: Settler) -> Reading | None:
    words = settler.words
    given = ReadingGiven(value=0.0)
    for start, end in _windows(told, figure, words):
        part = told.part(start, end)
        if not _place_heard(part, figure, words):
            continue
        numbers = Numbers(figure, "/value", sign_of(part, figure, words))
        try:
            return settler.settle(given, part, numbers)
        except RefusedInput:
            continue
    return None


def _place_heard(part: Told, figure: Figure, words: ReadingWords) -> bool:
    if figure.unit is not None and figure.unit.dimension in _STATED_BY_UNIT:
        return True
    return any(part.groups.issuperset(place.said) for place in words.places)


def _windows(told: Told, figure: Figure, words: ReadingWords) -> list[tuple[int, int]]:
    """The clause around a number, then its sentence if no other number stands in it."""
    cut = re.compile(rf"\b(?:{'|'.join(map(re.escape, words.cuts))})\b", re.IGNORECASE)
    sentence = _around(told.text, figure, _END, 0, len(told.text))
    clause = _around(told.text, figure, cut, *sentence)
    alone = sum(1 for f in told.figures if sentence[0] <= f.start < sentence[1]) == 1
    return [clause, sentence] if alone and clause != sentence else [clause]


def _around(
    text: str, figure: Figure, cut: re.Pattern[str], low: int, high: int
) -> tuple[int, int]:
    for match in cut.finditer(text, low, high):
        if match.end() <= figure.start:
            low = match.end()
        elif match.start() >= figure.end:
            return low, match.start()
    return low, high
