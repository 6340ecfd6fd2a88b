"""Readings inside a free complaint: only 3 volts at the plug, runs at 51 hz.

Careful rather than clever: a number must have a unit, or come right after the name of what
is read in one unit (voltage 190) and be of its usual size; and the words near it must say
what was measured. A rating (a 12 volt battery, a 30 amp breaker) or what it should be is no
reading. What could be two things is left alone.
"""

import re
from dataclasses import dataclass
from itertools import pairwise

from mendpool.core.catalogue.reading_words import ReadingWords
from mendpool.core.catalogue.vocabulary import Vocabulary
from mendpool.core.errors import RefusedInput
from mendpool.core.readings.figures import Figure, tidy, words_to_digits
from mendpool.core.readings.gather import Numbers, number_right_after
from mendpool.core.readings.heading import (
    heading_start,
    headings,
    stands_alone,
    sure_without_unit,
)
from mendpool.core.readings.parse import Settler
from mendpool.core.readings.words import Told, aside_of, listen, odd_unit, sign_of
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Reading, ReadingGiven

_DIGIT = re.compile("[0-9]")
_END = re.compile(r"[;!?\n]+|\.(?!\d)|,(?!\d)")
_NEXT_TO = re.compile(r"[\s,/&+-]*(?:and\s*)?")
_STATED_BY_UNIT = frozenset({"frequency", "speed"})
"""Dimensions that only one thing on a set is measured in."""
_MEASURED_BY_WORD = frozenset({"voltage"})
"""Dimensions in which "only 190" is a measurement; only 5 kW may well be the set's size."""
_NEVER_LED = frozenset({"power"})
"""Dimensions whose unit before a number (kw 5) is as often the size of a set."""
_ONLY = re.compile(
    r"\b(?:only|just|barely|down\s+to|(?:drops|dropped|falls|fell)\s+to)\s+$", re.IGNORECASE
)
_WHOLE_NUMBER_ENDS = re.compile(r"\s*[:/]\s*\d")
_MOVED = re.compile(r"\b(?:from|between)\s*$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Found:
    """A reading found in a text, with the part of the text it came from."""

    reading: Reading
    start: int
    end: int
    text: str


def find_readings(
    text: str,
    vocabulary: Vocabulary,
    machine: Machine,
    words: ReadingWords,
    most: int | None = None,
) -> list[Found]:
    """Return the readings in a free text, in order, the first `most`; none where in doubt."""
    if not _has_digit(text) and not _has_digit(words_to_digits(tidy(text), words.number_words)):
        return []
    told = listen(text, words)
    settler = Settler(vocabulary, machine, words)
    ratings = _ratings(told, settler)
    found: list[Found] = []
    for figure in told.figures:
        if len(found) == most:
            break
        if figure in ratings or figure.shape == "pair" or _left_alone(told, figure, settler):
            continue
        if aside_of(told, figure, words) is not None or _moved(told, figure):
            continue
        reading = _read(told, figure, settler)
        if reading is not None:
            begin, end = figure.begin, figure.end
            if figure.unit is None:
                begin = heading_start(told, figure, vocabulary)
            found.append(Found(reading, begin, end, text[begin:end]))
    return found


def _has_digit(text: str) -> bool:
    if text.isascii():
        return _DIGIT.search(text) is not None
    return any(map(str.isdigit, text))


def _left_alone(told: Told, figure: Figure, settler: Settler) -> bool:
    """Whether too little stands by a number for it to be a reading at all."""
    words = settler.words
    if figure.unit is not None and figure.lead is None:
        return number_right_after(told, figure)
    if odd_unit(told, figure, words) is not None:
        return True
    if figure.lead is not None:
        unit = figure.unit
        return (
            unit is None
            or unit.dimension in _NEVER_LED
            or not stands_alone(told, figure.lead, words)
        )
    bare = figure.shape == "one" and not figure.unit_text
    return (
        not bare
        or bool(_WHOLE_NUMBER_ENDS.match(told.text, figure.end))
        or not headings(told, figure, settler.vocabulary, words)
    )


def _ratings(told: Told, settler: Settler) -> set[Figure]:
    """Numbers off a nameplate, with those that stand right beside them."""
    words = settler.words
    ratings = {f for f in told.figures if aside_of(told, f, words) == "nameplate"}
    if not ratings:
        return ratings
    begins = {f: heading_start(told, f, settler.vocabulary) for f in told.figures}
    for order in (told.figures, told.figures[::-1]):
        for one, other in pairwise(order):
            first, second = sorted((one, other), key=lambda f: f.start)
            if one in ratings and _NEXT_TO.fullmatch(told.text, first.end, begins[second]):
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
        if not _place_heard(part, figure, settler):
            continue
        numbers = Numbers(figure, "/value", sign_of(part, figure, words))
        try:
            reading = settler.settle(given, part, numbers)
        except RefusedInput:
            continue
        if figure.unit is not None or _sure(part, figure, reading, settler):
            return reading
    return None


def _sure(part: Told, figure: Figure, reading: Reading, settler: Settler) -> bool:
    """Whether a number without a unit is of what heads it, and of its usual size."""
    headed = headings(part, figure, settler.vocabulary, settler.words)
    quantity, point, value = reading.quantity, reading.point, reading.value
    return quantity in headed and sure_without_unit(quantity, point, value, settler.words)


def _place_heard(part: Told, figure: Figure, settler: Settler) -> bool:
    words, known = settler.words, settler.vocabulary
    dimension = None if figure.unit is None else figure.unit.dimension
    if dimension in _STATED_BY_UNIT:
        return True
    if dimension in _MEASURED_BY_WORD and _ONLY.search(part.text, 0, figure.start):
        return True
    headed = headings(part, figure, known, words)
    groups = part.groups.difference(known.readings) | headed
    return any(groups.issuperset(place.said) for place in words.places)


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
