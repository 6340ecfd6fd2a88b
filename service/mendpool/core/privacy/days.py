"""Finds exact days. The month stays: a report may say in which month it happened."""

import re
from collections.abc import Iterator

_MONTH = (
    r"(?:january|february|march|april|june|july|august|september|october|november|december|"
    r"jan|feb|mar|apr|jun|jul|aug|sept?|oct|nov|dec)"
)
_BEGINNINGS = (
    "jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec",
)  # fmt: skip
_FIGURE = r"(?:0?[1-9]|[12]\d|3[01])"
_DAY = rf"(?P<day>{_FIGURE}"
_ENDING = r"(?:st|nd|rd|th)"
_START = r"(?<![\w/.-])"
_NO_MORE = r"(?![\w/]|[.:,]\d)"

# "May" is a word of its own: a month only with a capital or behind "14th".
_SAID = tuple(
    re.compile(pattern)
    for pattern in (
        rf"(?i:{_START}{_DAY}{_ENDING}?)(?: of)?[ -]{_MONTH}(?!\w))",
        rf"(?i:{_START}{_DAY}{_ENDING})(?: of)? may(?!\w))",
        rf"{_START}{_DAY}) May(?!\w)",
        rf"(?i:(?<!\w)(?<!\[day\] ){_MONTH} (?:the )?{_DAY}{_ENDING}?){_NO_MORE})",
        rf"(?<!\w)(?<!\[day\] )May (?:the )?{_DAY}{_ENDING}?){_NO_MORE}",
    )
)
_WRITTEN = tuple(
    re.compile(pattern)
    for pattern in (
        rf"(?<![\w-])(?:19|20)\d{{2}}[-/](?:0[1-9]|1[0-2])[-/]{_DAY})(?!\d)",
        rf"{_START}{_DAY}/{_FIGURE}/(?:19|20)?\d{{2}})(?![\w/])",
        rf"{_START}{_DAY}[.-]{_FIGURE}[.-](?:19|20)\d{{2}})(?![\w-])",
    )
)


def written_days(text: str) -> Iterator[tuple[int, int, str]]:
    """Give the days in figures only, as start, end and kind."""
    return _found(text, _WRITTEN)


def said_days(text: str) -> Iterator[tuple[int, int, str]]:
    """Give the days beside a month's name."""
    low = text.casefold()
    return _found(text, _SAID if any(begin in low for begin in _BEGINNINGS) else ())


def _found(text: str, patterns: tuple[re.Pattern[str], ...]) -> Iterator[tuple[int, int, str]]:
    for pattern in patterns:
        for match in pattern.finditer(text):
            yield match.start("day"), match.end("day"), "day"
