"""Finds what was dictated: telephone numbers and positions in words.

Seven figures in a row or more are somebody's number; a firing order and a count have fewer, or
go up by one. Figures may be mixed in, as a dictating telephone writes them.
"""

import re
from collections.abc import Collection, Iterator

from mendpool.core.privacy.language import Spelled
from mendpool.core.privacy.patterns import Found

_ONE_BY_ONE = re.compile(r"(?<![\w.,-])(?<!\d )\d(?: \d){8,13}(?![\w.,]| \d)")
_WORD = re.compile(r"[^\W_]+")
_BETWEEN = frozenset((" ", "-", ", "))
_LONGEST_FIGURE = 4
_FEWEST = 7
_FEWEST_SPELLED = 2
"""Words among them, at least: "triple 5 triple 5" has no more."""
_SURE = 9
_NEAR = 40
_DECIMALS = 2
"""So many figures at least between the point and the side of the world."""


def spoken_phones(text: str, said_by: Spelled) -> Iterator[Found]:
    """Give the telephone numbers that are spelled in words, in whatever language."""
    for match in _ONE_BY_ONE.finditer(text):
        yield match.start(), match.end(), "phone"
    if sum(map(said_by.figures.__contains__, _WORD.findall(text.lower()))) < _FEWEST_SPELLED:
        return
    for start, end, said in _runs(text, said_by.figures, (), figures=True):
        spelled = sum(not word.isdigit() for word in said)
        count = sum(said_by.times.get(w, 1) - (w in said_by.times) for w in said)
        if count < _FEWEST - 1 or spelled * 2 < len(said) or _counts_up(said, said_by):
            continue
        near = text[max(0, start - _NEAR) : start]
        cued = said_by.cue.search(near) or said_by.cue.search(text[end : end + _NEAR])
        if cued or said[0] in said_by.noughts or count >= _SURE:
            yield start, end, "phone"


def spoken_positions(text: str, said_by: Spelled) -> Iterator[Found]:
    """Give degrees that are spelled in words, with the side of the world behind."""
    low = text.lower()
    if not any(side in low for side in said_by.sides):
        return
    for start, end, said in _runs(text, said_by.degrees, said_by.sides, figures=False):
        if said[-1] in said_by.sides and not said_by.points.isdisjoint(said[:-_DECIMALS]):
            yield start, end, "position"


def _runs(
    text: str, among: frozenset[str], ends: Collection[str], *, figures: bool
) -> Iterator[tuple[int, int, list[str]]]:
    """Give the longest runs of such words, with only a space, dash or comma between.

    A word among `ends` is the last of a run.
    """
    start = end = 0
    run: list[str] = []
    for match in _WORD.finditer(text):
        word = match.group().lower()
        fits = word in among or (figures and word.isdigit() and len(word) <= _LONGEST_FIGURE)
        joins = bool(run) and text[end : match.start()] in _BETWEEN
        if run and not (fits and joins and run[-1] not in ends):
            yield start, end, run
            run = []
        if fits:
            start = start if run else match.start()
            end = match.end()
            run.append(word)
    if run:
        yield start, end, run


def _counts_up(said: list[str], said_by: Spelled) -> bool:
    """Say whether somebody only counts: one, two, three."""
    return [said_by.steps.get(word) for word in said[:5]] == [0, 1, 2, 3, 4]
