"""What the words around a number say: where, in what state, how sure, which one of several."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from mendpool.core.catalogue.reading_words import ReadingWords
from mendpool.core.catalogue.spoken import Heard
from mendpool.core.readings.figures import Figure, figures, tidy, unit_follows, words_to_digits
from mendpool.core.record.reading import Sign

_SIGN_OF_SYMBOL: dict[str, Sign] = {
    "<": "under", "≤": "under", ">": "over", "≥": "over", "~": "about", "≈": "about"
}  # fmt: skip
_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")
_GAP = re.compile(
    r"[\s:=~<>≤≥≈(]*(?:only|just|a|the|of|is|reads|reading|now|bare|mere)?[\s:=~<>≤≥≈(]*"
)
_FILLER = re.compile(
    r"[\s,:=~<>≤≥≈(]*(?:(?:about|around|only|at|is|a|the|of|it|reads|say)\s+){0,3}"
)

_WORD_AFTER = re.compile(r"\s+([^\W\d_]+)")

Aside = Literal["mark", "expected", "nameplate", "temperature", "time"]


@dataclass(frozen=True, slots=True)
class Told:
    """A piece of text with what was heard in it.

    Args:
        text: tidied, of the length of what was written.
        heard: phrases in order.
        groups: all groups heard.
        figures: numbers in order, without those that only name a thing (leg 1).
        which: the number of the thing measured, if a word gives one.
    """

    text: str
    heard: tuple[Heard, ...]
    groups: frozenset[str]
    figures: tuple[Figure, ...]
    which: int | None
    which_span: tuple[int, int] | None

    def part(self, start: int, end: int) -> "Told":
        """Return what was heard between two places of the text, places kept."""
        heard = tuple(h for h in self.heard if h.start >= start and h.end <= end)
        inside = self.which_span and start <= self.which_span[0] < end
        return Told(
            self.text,
            heard,
            frozenset().union(*(h.groups for h in heard)),
            tuple(f for f in self.figures if f.start >= start and f.end <= end),
            self.which if inside else None,
            self.which_span if inside else None,
        )


def listen(text: str, words: ReadingWords) -> Told:
    """Return what is heard in a text."""
    plain = words_to_digits(tidy(text), words.number_words)
    heard = tuple(words.book.listen(plain))
    which, span = _which(plain, words)
    hidden = [
        (h.start, h.end) for h in heard if any(c.isdigit() for c in plain[h.start : h.end])
    ]
    if span is not None:
        hidden.append(span)
    return Told(
        plain,
        heard,
        frozenset().union(*(h.groups for h in heard)),
        tuple(figures(plain, tuple(hidden))),
        which,
        span,
    )


@lru_cache(maxsize=8)
def _which_pattern(nouns: tuple[str, ...]) -> re.Pattern[str]:
    any_noun = "|".join(
        r"\s+".join(map(re.escape, noun.split()))
        for noun in sorted(nouns, key=len, reverse=True)
    )
    ordinals = "|".join(_ORDINALS)
    return re.compile(
        rf"(?<!\w)(?:(?:{any_noun})\.?\s*(?:no\.?|number|#)?\s*(?P<after>\d{{1,2}})(?![\d.,]*\d)"
        rf"|(?:no\.?\s*|number\s*|#)(?P<number>\d{{1,2}})(?![.,]?\d)(?:\s+(?:{any_noun}))?"
        rf"|(?P<place>\d{{1,2}})(?:st|nd|rd|th)\s+(?:{any_noun})"
        rf"|(?P<word>{ordinals})\s+(?:{any_noun}))(?!\w)",
        re.IGNORECASE,
    )


def _which(text: str, words: ReadingWords) -> tuple[int | None, tuple[int, int] | None]:
    for match in _which_pattern(words.which_nouns).finditer(text):
        digits = match["after"] or match["number"] or match["place"]
        if digits and not match["place"] and unit_follows(text, match.end()):
            continue
        number = int(digits) if digits else _ORDINALS.index(match["word"].lower()) + 1
        if number >= 1:
            return number, match.span()
    return None, None


def condition_of(told: Told, words: ReadingWords) -> str | None:
    """Return the condition the words say, the preferred one if they say several."""
    return _first_named(words.conditions, told.groups)


def stage_of(told: Told, words: ReadingWords) -> Literal["found", "left"] | None:
    """Return whether the words say it was as found or as left."""
    for stage, groups in words.stages.items():
        if told.groups.intersection(groups):
            return stage
    return None


def which_of(told: Told, words: ReadingWords) -> str | None:
    """Return the code of the one thing of several that the words name."""
    return _first_named(words.which_words, told.groups)


def _first_named(codes: Mapping[str, tuple[str, ...]], groups: frozenset[str]) -> str | None:
    for code, names in codes.items():
        if groups.intersection(names):
            return code
    return None


def sign_of(told: Told, figure: Figure, words: ReadingWords) -> Sign | None:
    """Return whether a number is a bound or a rough figure."""
    if figure.symbol:
        return _SIGN_OF_SYMBOL[figure.symbol]
    for heard in told.heard:
        before = heard.end <= figure.start and _GAP.fullmatch(
            told.text, heard.end, figure.start
        )
        after = heard.start >= figure.end and not told.text[figure.end : heard.start].strip(
            " -"
        )
        for sign, groups in words.signs.items():
            if heard.groups.intersection(groups) and (
                before or (after and sign == "about" and not _number_next(told, heard))
            ):
                return sign
    return None


def _number_next(told: Told, heard: Heard) -> bool:
    return any(
        f.start >= heard.end and not told.text[heard.end : f.start].strip()
        for f in told.figures
    )


def aside_of(told: Told, figure: Figure, words: ReadingWords) -> Aside | None:
    """Return what a number is if it is not the reading: a mark, a rating, a temperature..."""
    if figure.unit_text.lower() in words.nameplate_units:
        return "nameplate"
    if figure.unit is not None and figure.unit.dimension == "time":
        return "time"
    if _follows(told, figure, words.mark_before) or _precedes(told, figure, words.mark_before):
        return "mark"
    if _follows(told, figure, words.expected_before) or _was_and_is_no_more(
        told, figure, words
    ):
        return "expected"
    if figure.unit is not None:
        word = re.match(r"[\s-]*([^\W\d_]+)", told.text[figure.end : figure.end + 30])
        if word and word[1].lower() in words.nameplate_after:
            return "nameplate"
    return None


def odd_unit(told: Told, figure: Figure, words: ReadingWords) -> str | None:
    """Return the word after a number, where it is neither its unit nor could stand there."""
    if figure.lead is None and (figure.unit is not None or figure.unit_text):
        return None
    after = _WORD_AFTER.match(told.text, figure.end)
    if after is None or after[1].lower() in words.after_number:
        return None
    known = any(heard.start <= after.start(1) < heard.end for heard in told.heard)
    return None if known else after[1]


def _follows(told: Told, figure: Figure, groups: tuple[str, ...]) -> bool:
    """Whether a word of the groups stands before a number: marked 30 uF, rated volts 240."""
    return said_before(told, figure.start, groups) or (
        figure.lead is not None and said_before(told, figure.lead, groups)
    )


def said_before(told: Told, at: int, groups: tuple[str, ...]) -> bool:
    """Whether a word of the groups stands before a place, with nothing but filler between."""
    return any(
        heard.groups.intersection(groups)
        and heard.end <= at
        and _FILLER.fullmatch(told.text, heard.end, at)
        and not _said_of_the_one_before(told, heard)
        for heard in told.heard
    )


def _precedes(told: Told, figure: Figure, groups: tuple[str, ...]) -> bool:
    """Whether a word of the groups stands right after a number: 25 uF marked."""
    return any(
        heard.groups.intersection(groups)
        and heard.start >= figure.end
        and not told.text[figure.end : heard.start].strip()
        and _said_of_the_one_before(told, heard)
        for heard in told.heard
    )


def _said_of_the_one_before(told: Told, heard: Heard) -> bool:
    """A word right after a number, and not right before another, is said of the first."""
    after = any(
        f.end <= heard.start and not told.text[f.end : heard.start].strip()
        for f in told.figures
    )
    return after and not _number_next(told, heard)


def _was_and_is_no_more(told: Told, figure: Figure, words: ReadingWords) -> bool:
    """Was 230 V, now 210 V: the first is no reading of the fault."""
    later = any(
        heard.start >= figure.end and heard.groups.intersection(words.now_words)
        for heard in told.heard
    )
    return later and _follows(told, figure, words.once_words)
