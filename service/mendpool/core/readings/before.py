"""A unit that stands before its number: hz 47, V=231, oil psi 22.

A unit right after a number is that number's own, so it never heads the next one. Words that
are units and more (in, min, a) head nothing, and a lone letter only with a sign between.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from mendpool.core.readings.units import NOT_A_READING, Unit, unit_named

BETWEEN = (
    r"\s*[:=]?\s*(?:(?:is|are|was|were|at|now|only|just|about|around|approx|roughly|nearly|almost"
    r"|reads?|reading|says|shows?|showing|sits|sitting|measures|measured|steady|down|up|to|from"
    r"|between|under|below|over|above|reached|hit|got|went|rose|climbed|drops|dropped|falls|fell|sags|sagged|dips|dipped"
    r")\b[\s:=]*){0,3}"
    r"[<>~≈≤≥]?\s*=?\s*"
)
"""What may stand between a name or a unit and the number it is said of."""

_WORD = r"[^\W\d_]+(?:/[^\W\d_]+\d?)?"
_FILLER_END = re.compile(rf"(?<=[^\W_]){BETWEEN}$", re.IGNORECASE)
_WORDS_END = re.compile(rf"(?<![\w/])(?P<words>(?:{_WORD}[. ]+)?{_WORD})$")
_CLOSE = re.compile(r"(?<!\s)\s*[:=]\s*")
_DIGIT = re.compile(r"\d\s*(?:-\s*)?$")
_NONE_OF_IT = re.compile(
    r"\b(?:no|zero|nil|any|without|lost|loses|losing|loss of)\s+$", re.IGNORECASE
)
_THEN_NUMBER = re.compile(rf"{BETWEEN}\d", re.IGNORECASE)
_REACH = 60
_LONE = frozenset("vVaAwW")
_NO_HEAD = frozenset({"in", "cycle", "cycles"})
_NO_DIMENSION = frozenset({"time", "ratio", "area", "volume"})


@dataclass(frozen=True, slots=True)
class Lead:
    """The unit before a number; `unit` is None for one that is on no meter, such as kVA."""

    unit: Unit | None
    text: str
    start: int


def unit_before(text: str, at: int, hidden: Sequence[tuple[int, int]] = ()) -> Lead | None:
    """Return the unit that stands before the number at a place, None if there is none.

    Args:
        text: tidied.
        at: where the number begins.
        hidden: spans whose digits are no number (leg 1), so that a unit after them is free.
    """
    low = max(0, at - _REACH)
    match = _nearest(text[low:at])
    if match is None:
        return None
    words, between = match
    start = low + words[0]
    typed = text[start : low + words[1]]
    for name, begin in _names(typed, start):
        if not heads(name, between):
            continue
        digit = _DIGIT.search(text, max(0, begin - 20), begin)
        if digit and not any(s <= digit.start() < e for s, e in hidden):
            return None
        if _NONE_OF_IT.search(text, max(0, begin - 20), begin):
            return None
        return Lead(_known(name), name, begin)
    return None


def unit_then_number(text: str, end: int, typed: str) -> bool:
    """Whether the unit that ends here heads a number: the psi of "cylinder 2 psi 150"."""
    return heads(typed, ":") and bool(_THEN_NUMBER.match(text, end))


def heads(name: str, between: str) -> bool:
    """Whether a word is a unit that can stand before its number."""
    folded = name.strip(" .").lower()
    if folded in _NO_HEAD:
        return False
    if len(folded) == 1:
        return name in _LONE and bool(_CLOSE.fullmatch(between))
    if folded in NOT_A_READING:
        return folded.isalpha()
    unit = unit_named(name)
    return unit is not None and unit.dimension not in _NO_DIMENSION


def _known(name: str) -> Unit | None:
    return None if name.strip(" .").lower() in NOT_A_READING else unit_named(name)


def _nearest(before: str) -> tuple[tuple[int, int], str] | None:
    """The last two words before a number that are more than filler, and what follows them."""
    filler = _FILLER_END.search(before)
    end = filler.start() if filler else len(before)
    words = _WORDS_END.search(before, 0, end)
    if words is None:
        return None
    return words.span("words"), before[words.end("words") :]


def _names(typed: str, start: int) -> list[tuple[str, int]]:
    """Two words as one unit (in hg), then the second alone."""
    last = re.search(rf"{_WORD}$", typed)
    alone = [(last.group(), start + last.start())] if last else []
    return alone if last is None or last.start() == 0 else [(typed, start), *alone]
