"""The numbers in a piece of text, with their units: 59,6 hz; 4k7; 12v4; 238 to 242 V.

A number may be read in more than one way (``1,800`` is eighteen hundred to one writer and
one point eight to another). All the ways are kept, likeliest first; who knows what was
measured throws out the impossible ones.
"""

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from mendpool.core.readings.before import unit_before, unit_then_number
from mendpool.core.readings.units import NOT_A_READING, Unit, spellings, unit_named

Shape = Literal["one", "range", "pair", "plus-minus"]


@dataclass(frozen=True, slots=True)
class Figure:
    """A number in a text.

    Args:
        ways: the values it can stand for, likeliest first.
        unit: None where none was written, or none that is known.
        unit_text: the unit as written, `""` where none was.
        start, end: where it stands, unit included.
        shape: `range` and `plus-minus` have `low` and `high`; `pair` is two numbers with a
            stroke, which are no one reading.
        symbol: a sign typed before it, such as `<` or `~`.
        lead: where the unit begins if it stands before the number (hz 47); `start` is still
            the number's own place.
    """

    ways: tuple[Fraction, ...]
    unit: Unit | None
    unit_text: str
    start: int
    end: int
    shape: Shape = "one"
    low: Fraction | None = None
    high: Fraction | None = None
    symbol: str = ""
    lead: int | None = None

    @property
    def begin(self) -> int:
        """Where it begins, with a unit that stands before it."""
        return self.start if self.lead is None else self.lead


_PLAIN = {
    "\u2212": "-", "\u2010": "-", "\u2011": "-", "\u2012": "-", "\u2013": "-", "\u2014": "-",
    "\uff0b": "+", "µ": "u", "\u03bc": "u", "\u2126": "\u03a9", "\u2103": "C", "\u2109": "F",
    "\uff0c": ",", "\uff0e": ".", "\u066b": ".", "\u201c": '"', "\u201d": '"', "\u2033": '"',
    "\u2019": "'", "\u00ba": "\u00b0",
}  # fmt: skip
"""Dashes, signs and marks as typed on other keyboards, to the plain ones."""

_NUMBER = (
    r"(?:\d{1,3}(?:[ \u00a0\u202f']\d{3}){1,8}(?![\d])(?:[.,]\d+)?"
    r"|\d+(?:[.,]\d+)*|[.,]\d+)(?:[eE][+-]?\d{1,3}(?![\w]))?"
)
_UNIT = "|".join(
    r"[.\s]*".join(re.escape(word).replace(r"\ ", r"\s*") for word in spelling.split())
    for spelling in spellings()
)
_WITH_UNIT = rf"(?:\s*-?\s*(?P<{{name}}>(?:{_UNIT})(?![^\W\d_])(?!\.?\d)))?"
_JOIN = r"\s*(?P<join>-|to|\.\.+|~|and|or|/|\+/-|\+-|±|,?\s*(?:and\s+)?max(?:imum)?\.?)\s*"
_ONE = rf"(?P<first>[+-]?{_NUMBER}){_WITH_UNIT.format(name='unit1')}"
_TWO = rf"{_ONE}{_JOIN}(?P<second>-?{_NUMBER}){_WITH_UNIT.format(name='unit2')}"
_FLAGS = re.IGNORECASE
_EXPONENT = re.compile(r"[eE][+-]?\d+$")
_SPACES = re.compile(r"[ \u00a0\u202f']")
_MOST_DIGITS = 25
"""More digits, or a larger exponent, is no reading; and floats must not overflow."""
_UNIT_HERE = re.compile(_WITH_UNIT.format(name="unit1"), _FLAGS)
_PAIR = re.compile(_TWO, _FLAGS)
_SINGLE = re.compile(_ONE, _FLAGS)
_INFIX = re.compile(r"(?<![\w.,])([+-]?\d+)([vVkKrRM])(\d{1,3})(?![\w.,]?\d|\w)")
_MIXED = re.compile(
    r"(?<![\d.,/])(?:(\d+)[ -])?(\d+)/(2|4|8|16|32|64)(?=\s*(?:in|\")(?!\w*hg))", _FLAGS
)
_START = re.compile(r"(?<![\w.,+-])[+-]?[.,]?\d|(?<=[^\W\d]-)\d")
_STUCK = re.compile(r"\s?([^\W\d_]+|%|°)")
_NEXT_WORD = re.compile(r"\s+(?!at\b|on\b|with\b|when\b|while\b|under\b|and\b|but\b)[a-zA-Z]")
_CLOCK = re.compile(r":\d")
_LOWEST = re.compile(r"\bmin(?:imum)?\.?[\s:=]*$", re.IGNORECASE)
_SYMBOL = re.compile(r"([<>~≈≤≥])\s*=?\s*$")


def tidy(text: str) -> str:
    """Return the text with odd digits, dashes and signs made plain; the length is kept."""
    if text.isascii():
        return text
    return "".join(_tidy_one(c) for c in text)


def _tidy_one(character: str) -> str:
    if character in _PLAIN:
        return _PLAIN[character]
    if not character.isascii():
        digit = unicodedata.decimal(character, None)
        if digit is not None:
            return str(digit)
        plain = unicodedata.normalize("NFKC", character)
        if len(plain) == 1:
            return plain
    return character


def figures(text: str, hidden: tuple[tuple[int, int], ...] = ()) -> list[Figure]:
    """Return the numbers of a tidied text in order; those in a `hidden` span are skipped."""
    found: list[Figure] = []
    at = 0
    while True:
        start = _START.search(text, at)
        if start is None:
            return found
        inside = next((end for begin, end in hidden if begin <= start.start() < end), None)
        if inside is not None:
            at = inside
            continue
        figure = _figure_at(text, start.start(), hidden)
        if figure is None:
            at = start.end()
            continue
        figure = _headed(text, figure, hidden)
        symbol = _SYMBOL.search(text, 0, figure.start)
        found.append(replace(figure, symbol=symbol.group(1)) if symbol else figure)
        at = max(figure.end, start.end())


def _headed(text: str, figure: Figure, hidden: tuple[tuple[int, int], ...]) -> Figure:
    """The number with the unit that stands before it, where it has none after it."""
    if figure.unit is not None or figure.unit_text or _CLOCK.match(text, figure.end):
        return figure
    lead = unit_before(text, figure.start, hidden)
    if lead is None:
        return figure
    return replace(figure, unit=lead.unit, unit_text=lead.text, lead=lead.start)


def _figure_at(text: str, at: int, hidden: tuple[tuple[int, int], ...]) -> Figure | None:
    mixed = _MIXED.match(text, at)
    if mixed:
        whole, over, under = (Fraction(part or 0) for part in mixed.groups())
        return _with_unit_after(text, at, mixed.end(), whole + over / under)
    infix = _INFIX.match(text, at)
    if infix:
        whole_text, letter, decimals = infix.groups()
        value = Fraction(f"{whole_text}.{decimals}")
        return Figure((value,), unit_named(letter), letter, at, infix.end())
    two = _PAIR.match(text, at)
    one = _SINGLE.match(text, at)
    # 1500 min-1 is one number with its unit, not 1500 min to 1.
    whole_unit = two and one and one["unit1"] and one.end() >= two.end()
    if (
        two
        and not whole_unit
        and not any(begin < two.end() and end > two.start("second") for begin, end in hidden)
    ):
        figure = _joined(text, two)
        if figure is not None:
            return figure
    if one is None:
        return None
    return _single(text, one)


def _single(text: str, match: re.Match[str]) -> Figure | None:
    ways = ways_to_read(match["first"])
    if not ways:
        return None
    typed = match["unit1"]
    if typed and _after_words(text, typed, match.end()):
        return Figure(ways, None, "", match.start(), match.end("first"))
    if typed:
        return Figure(ways, _known(typed), typed.strip(), match.start(), match.end())
    stuck = _STUCK.match(text, match.end())
    if stuck and not stuck.group().startswith(" "):
        return Figure(ways, None, stuck.group(1), match.start(), stuck.end())
    return Figure(ways, None, "", match.start(), match.end())


def _joined(text: str, match: re.Match[str]) -> Figure | None:
    first, second = ways_to_read(match["first"]), ways_to_read(match["second"])
    typed1, typed2 = match["unit1"], match["unit2"]
    unit1, unit2 = _known(typed1 or typed2), _known(typed2 or typed1)
    if not (first and second and _joins(text, match) and _alike(unit1, unit2)):
        return None
    join = match["join"].lower()
    if unit1 and unit2 and unit1 != unit2:
        # 500 mV to 1 V: keep the second's unit, bring the first to it.
        first = tuple(unit2.from_base(unit1.to_base(way)) for way in first)
    low, high = first[0], second[0]
    unit_text = (typed2 or typed1 or "").strip()
    one = Figure(first, unit2, unit_text, match.start(), match.end())
    if join in {"/", "or"}:
        return replace(one, ways=(low, high), shape="pair")
    if join in {"+/-", "+-", "±"}:
        return replace(one, shape="plus-minus", low=low - high, high=low + high)
    return replace(one, ways=((low + high) / 2,), shape="range", low=low, high=high)


def _joins(text: str, match: re.Match[str]) -> bool:
    """Whether what stands between two numbers makes one figure of them."""
    join = match["join"].lower()
    if join == "and":
        return bool(re.search(r"between\s*$", text[: match.start()], re.IGNORECASE))
    if "max" in join:
        return bool(_LOWEST.search(text, 0, match.start()))
    return not match["second"].startswith("-") or join in {"to", ".."}


def _alike(first: Unit | None, second: Unit | None) -> bool:
    if first is None or second is None:
        return first is second
    return first.dimension == second.dimension


def _with_unit_after(text: str, at: int, end: int, value: Fraction) -> Figure:
    unit = _UNIT_HERE.match(text, end)
    typed = (unit["unit1"] if unit else None) or ""
    return Figure((value,), _known(typed), typed.strip(), at, unit.end() if unit else end)


def _after_words(text: str, typed: str, end: int) -> bool:
    """Whether what looks like a unit is a word: 240 in the shed, 3 a day."""
    return typed.strip().lower() in {"in", "a"} and bool(_NEXT_WORD.match(text, end))


def _known(typed: str | None) -> Unit | None:
    if not typed or typed.strip(" .").lower() in NOT_A_READING:
        return None
    return unit_named(typed)


def ways_to_read(typed: str) -> tuple[Fraction, ...]:
    """Return the values a written number can stand for, likeliest first; none if none.

    A comma with three digits after it may part thousands or decimals; so may a full stop,
    which is more often the decimal one. With both, the last is the decimal one; spaces
    part thousands.
    """
    found = _EXPONENT.search(typed)
    exponent = found.group() if found else ""
    digits = _SPACES.sub("", typed[: found.start()] if found else typed)
    if len(digits) > _MOST_DIGITS or (exponent and abs(int(exponent[1:])) > _MOST_DIGITS):
        return ()
    if "," in digits and "." in digits:
        return _both_marks(digits, exponent)
    mark = "," if "," in digits else "."
    groups = digits.split(mark)
    whole = all(len(group) == 3 for group in groups[1:])
    if len(groups) > 2:
        return (Fraction("".join(groups) + exponent),) if whole else ()
    decimal = Fraction(digits.replace(",", ".").rstrip(".") + exponent)
    spaced = len(digits) < len(typed) - len(exponent)
    if (
        len(groups) == 2
        and whole
        and not spaced
        and re.fullmatch(r"[+-]?[1-9]\d{0,2}", groups[0])
    ):
        thousands = Fraction("".join(groups) + exponent)
        return (thousands, decimal) if mark == "," else (decimal, thousands)
    return (decimal,)


def _both_marks(digits: str, exponent: str) -> tuple[Fraction, ...]:
    """1,234.5 and 1.234,5: the last mark is the decimal one, the others part thousands."""
    last = max(digits.rfind(","), digits.rfind("."))
    groups = re.split("[.,]", digits[:last])
    if any(len(group) != 3 for group in groups[1:]) or digits.count(digits[last]) > 1:
        return ()
    return (Fraction("".join(groups) + "." + digits[last + 1 :] + exponent),)


def words_to_digits(text: str, numbers: Mapping[str, float]) -> str:
    """Put digits for a number in words ("three volts"), where a unit follows it.

    The digits are filled up with spaces, so that the length is kept.
    """
    if not numbers or " " not in text:
        return text
    pattern = _spoken_pattern(tuple(numbers))
    return pattern.sub(lambda m: f"{numbers[m[0].lower()]:g}".ljust(len(m[0])), text)


@lru_cache(maxsize=8)
def _spoken_pattern(numbers: tuple[str, ...]) -> re.Pattern[str]:
    spoken = "|".join(sorted(map(re.escape, numbers), key=len, reverse=True))
    return re.compile(rf"(?<!\w)(?:{spoken})(?=[\s-]+(?:{_UNIT})(?!\w))", _FLAGS)


def unit_follows(text: str, at: int) -> bool:
    """Whether a unit stands right here, so that the number before it is a measurement.

    Not where the unit is that of a number after it: cylinder 2 psi 150.
    """
    match = _UNIT_HERE.match(text, at)
    typed = match and match["unit1"]
    if not match or not typed or _after_words(text, typed, match.end()):
        return False
    return not unit_then_number(text, match.end(), typed.strip())
