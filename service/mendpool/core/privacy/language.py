"""What the scrubber makes of the words of languages: sets, and patterns made once of them."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from mendpool.core.catalogue.scrub_words import ScrubWords

Patterns = tuple[re.Pattern[str], ...]
_FIGURE = r"(?:0?[1-9]|[12]\d|3[01])"
DAY = rf"(?P<day>{_FIGURE}"
ANY_DAY = _FIGURE
START = r"(?<![\w/.-])"
_ENDING = r"(?:st|nd|rd|th)"
_NO_MORE = r"(?![\w/]|[.:,]\d)"
_NAME = r"[^\W\d_]{2,30}(?:[ -][A-ZÀ-Þ][^\W\d_]{1,30}){0,2}"
_HOUSE = r"\d{1,4}[a-z]?(?![\w.,]\d|\w)"
_BEGINS = 3


@dataclass(frozen=True, slots=True)
class Spelled:
    """Words of dictated numbers and positions.

    Args:
        figures: every word of a number; `times` are those that repeat the next.
        noughts: what a spelled telephone number begins with.
        steps: how far one has counted, by word.
        cue: finds what says that a number is somebody's.
        sides, points: of the world; between a degree and its decimals.
        degrees: every word of a spelled position.
    """

    figures: frozenset[str] = frozenset()
    times: Mapping[str, int] = field(default_factory=dict)
    noughts: frozenset[str] = frozenset()
    steps: Mapping[str, int] = field(default_factory=dict)
    cue: re.Pattern[str] = re.compile(r"(?!)")
    sides: tuple[str, ...] = ()
    points: frozenset[str] = frozenset()
    degrees: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Language:
    """Everything that the scrubber takes from `scrub-words.yaml`; empty, it knows no word.

    Args:
        spelled: dictated numbers.
        months: how any month begins; a text without has no day beside one.
        said_days: find a day beside its month.
        named_days: find one by its own name, each with the words it can't do without.
        streets: find streets by the words of other languages.
        loud_streets: finds one in a text of capitals; its name is the first group.
        german: small words that tell a German text.
    """

    spelled: Spelled = Spelled()
    months: tuple[str, ...] = ()
    said_days: Patterns = ()
    named_days: tuple[tuple[tuple[str, ...], re.Pattern[str]], ...] = ()
    streets: Patterns = ()
    loud_streets: re.Pattern[str] = re.compile(r"(?!)")
    german: frozenset[str] = frozenset()


NO_LANGUAGE = Language()
"""It knows no word."""


def language_of(words: ScrubWords) -> Language:
    """Make the patterns; to be kept, for that takes some milliseconds."""
    named = (*words.months, *words.months_abroad, words.month_word)
    return Language(
        spelled=_spelled(words),
        months=tuple(dict.fromkeys(month[:_BEGINS] for month in named)),
        said_days=_said_days(words),
        named_days=_named_days(words),
        streets=_streets(words),
        loud_streets=re.compile(
            r"(?<![\w.,/-])\d{1,4}[A-Z]? ([A-Z]{3,20}) "
            rf"{_any(word.upper() for word in words.loud_streets)}(?!\w)"
        ),
        german=frozenset(words.german),
    )


def _spelled(words: ScrubWords) -> Spelled:
    figures = frozenset((*words.ones, *words.tens, *words.times, "plus"))
    points = frozenset(words.points)
    return Spelled(
        figures=figures,
        times=dict(words.times),
        noughts=frozenset(words.noughts),
        steps={word: n for n, word in enumerate(words.counting)},
        cue=re.compile(rf"(?<!\w){_any(words.number_cues)}(?!\w)", re.IGNORECASE),
        sides=words.sides,
        points=points,
        degrees=figures | points | frozenset((*words.sides, *words.degrees)),
    )


def _said_days(words: ScrubWords) -> Patterns:
    month, abroad, may = _any(words.months), _any(words.months_abroad), words.month_word
    capital = may.capitalize()
    # "May" is a word of its own: a month only with a capital or behind "14th".
    return tuple(
        re.compile(pattern)
        for pattern in (
            rf"(?i:{START}{DAY}{_ENDING}?)(?: of)?[ -]{month}(?!\w))",
            rf"(?i:{START}{DAY}{_ENDING})(?: of)? {may}(?!\w))",
            rf"{START}{DAY}) {capital}(?!\w)",
            rf"(?i:(?<!\w)(?<!\[day\] ){month} (?:the )?{DAY}{_ENDING}?){_NO_MORE})",
            rf"(?<!\w)(?<!\[day\] ){capital} (?:the )?{DAY}{_ENDING}?){_NO_MORE}",
            rf"(?i:{START}{DAY}(?:\.|er)?)(?: de)? {abroad}(?!\w))",
        )
    )


def _named_days(words: ScrubWords) -> tuple[tuple[tuple[str, ...], re.Pattern[str]], ...]:
    month, may = _any(words.months), words.month_word
    tens, ordinals = _any(words.ordinal_tens), _any(words.ordinals)
    feast = re.compile(rf"(?<!\w)(?P<day>{_any(words.feasts)})(?!\w)", re.IGNORECASE)
    counted = re.compile(
        rf"(?<!\w)(?P<day>(?:{tens}[ -])?{ordinals})"
        rf"(?= (?:of )?{month}(?!\w)|(?: of) {may}(?!\w))",
        re.IGNORECASE,
    )
    return (_low(words.feasts), feast), (_low(words.ordinals), counted)


def _low(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(word.lower() for word in words)


def _streets(words: ScrubWords) -> Patterns:
    kind, ends = f"(?i:{_any(words.street_kinds)})", _any(words.street_ends)
    of = rf"(?:{_any(words.street_of)} ){{0,2}}"
    return tuple(
        re.compile(pattern)
        for pattern in (
            rf"(?<![\w.,/-])\d{{1,4}}[a-z]?,? {kind}\.? {of}{_NAME}(?!\w)",
            rf"(?<![\w-]){kind}\.? {of}{_NAME},? (?:n[o°º]\.? ?)?{_HOUSE}",
            rf"(?<![\w-])[A-ZÄÖÜ][^\W\d_]{{2,30}}{ends}(?: {_HOUSE})",
        )
    )


def _any(words: Iterable[str]) -> str:
    """A group of any of them, the longest first, so that none is taken for its beginning."""
    return f"(?:{'|'.join(re.escape(word) for word in sorted(words, key=len, reverse=True))})"
