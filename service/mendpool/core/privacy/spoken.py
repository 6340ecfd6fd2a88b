"""Finds what was dictated: telephone numbers and positions in words.

Seven figures in a row or more are somebody's number; a firing order and a count have fewer, or
go up by one. Figures may be mixed in, as a dictating telephone writes them.
"""

import re
from collections.abc import Iterator

from mendpool.core.privacy.lists import words
from mendpool.core.privacy.patterns import Found

_ONES = (
    "zero", "oh", "o", "nought", "naught", "nil", "one", "two", "three", "four", "five", "six",
    "seven", "eight", "nine", "niner",
    "zéro", "un", "deux", "trois", "quatre", "cinq", "sept", "huit", "neuf",
    "cero", "uno", "dos", "tres", "cuatro", "cinco", "seis", "siete", "ocho", "nueve",
    "um", "dois", "três", "quatro", "sete", "oito", "nove", "meia",
    "null", "eins", "zwei", "zwo", "drei", "vier", "fünf", "sechs", "sieben", "acht", "neun",
    "sifuri", "moja", "mbili", "tatu", "nne", "tano", "sita", "saba", "nane", "tisa",
)  # fmt: skip
_TENS = (
    "ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen",
    "eighteen", "nineteen", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty",
    "ninety", "hundred", "dix", "onze", "douze", "treize", "quatorze", "quinze", "seize",
    "vingt",
    "vingts", "trente", "quarante", "cinquante", "soixante",
)  # fmt: skip
_TIMES = {"double": 2, "triple": 3, "treble": 3}


_ONE_BY_ONE = re.compile(r"(?<![\w.,-])(?<!\d )\d(?: \d){8,13}(?![\w.,]| \d)")
_WORD = re.compile(r"[^\W_]+")
_FIGURES = frozenset((*_ONES, *_TENS, *_TIMES, "plus"))
_BETWEEN = frozenset((" ", "-", ", "))
_LONGEST_FIGURE = 4
_FEWEST = 7
_FEWEST_SPELLED = 2
"""Words among them, at least: "triple 5 triple 5" has no more."""
_SURE = 9
_CUE = re.compile(
    r"(?<!\w)(?:call|ring|phone|ph|fone|tel|mob|mobile|cell|text|txt|msg|number|whatsapp|dial|reach|numéro|"
    r"número|nummer|simu|llama|appelez)(?!\w)",
    re.IGNORECASE,
)
_NEAR = 40
_NOUGHTS = words("zero oh o nought naught zéro cero null sifuri plus 0")
_STEPS = {
    word: n
    for n, word in enumerate(("one", "two", "three", "four", "five", "six", "seven", "eight"))
}
_SIDES = ("north", "south", "east", "west")
_POINT = frozenset(("point", "decimal"))
_DEGREES = _FIGURES | _POINT | frozenset((*_SIDES, "minus", "degrees"))
_DECIMALS = 2
"""So many figures at least between the point and the side of the world."""


def spoken_phones(text: str) -> Iterator[Found]:
    """Give the telephone numbers that are spelled in words, in whatever language."""
    for match in _ONE_BY_ONE.finditer(text):
        yield match.start(), match.end(), "phone"
    if sum(map(_FIGURES.__contains__, _WORD.findall(text.lower()))) < _FEWEST_SPELLED:
        return
    for start, end, said in _runs(text, _FIGURES, figures=True):
        spelled = sum(not word.isdigit() for word in said)
        count = sum(_TIMES.get(w, 1) - (w in _TIMES) for w in said)
        if count < _FEWEST - 1 or spelled * 2 < len(said) or _counts_up(said):
            continue
        near = text[max(0, start - _NEAR) : start]
        cued = _CUE.search(near) or _CUE.search(text[end : end + _NEAR])
        if cued or said[0] in _NOUGHTS or count >= _SURE:
            yield start, end, "phone"


def spoken_positions(text: str) -> Iterator[Found]:
    """Give degrees that are spelled in words, with the side of the world behind."""
    low = text.lower()
    if not any(side in low for side in _SIDES):
        return
    for start, end, said in _runs(text, _DEGREES, figures=False):
        if said[-1] in _SIDES and not _POINT.isdisjoint(said[:-_DECIMALS]):
            yield start, end, "position"


def _runs(
    text: str, among: frozenset[str], *, figures: bool
) -> Iterator[tuple[int, int, list[str]]]:
    """Give the longest runs of such words, with only a space, dash or comma between."""
    start = end = 0
    run: list[str] = []
    for match in _WORD.finditer(text):
        word = match.group().lower()
        fits = word in among or (figures and word.isdigit() and len(word) <= _LONGEST_FIGURE)
        joins = bool(run) and text[end : match.start()] in _BETWEEN
        if run and not (fits and joins and run[-1] not in _SIDES):
            yield start, end, run
            run = []
        if fits:
            start = start if run else match.start()
            end = match.end()
            run.append(word)
    if run:
        yield start, end, run


def _counts_up(said: list[str]) -> bool:
    """Say whether somebody only counts: one, two, three."""
    return [_STEPS.get(word) for word in said[:5]] == [0, 1, 2, 3, 4]
