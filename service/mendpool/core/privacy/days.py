"""Finds exact days. The month stays: a report may say in which month it happened."""

import re
from collections.abc import Iterator, Sequence

from mendpool.core.privacy.language import ANY_DAY, DAY, START, Language

_WRITTEN = tuple(
    re.compile(pattern)
    for pattern in (
        rf"(?<![\w-])(?:19|20)\d{{2}}[-/](?:0[1-9]|1[0-2])[-/]{DAY})(?!\d)",
        rf"{START}{DAY}/{ANY_DAY}/(?:19|20)?\d{{2}})(?![\w/])",
        rf"{START}{DAY}[.-]{ANY_DAY}[.-](?:19|20)\d{{2}})(?![\w-])",
    )
)


def written_days(text: str) -> Iterator[tuple[int, int, str]]:
    """Give the days in figures only, as start, end and kind."""
    return _found(text, _WRITTEN)


def said_days(text: str, language: Language) -> Iterator[tuple[int, int, str]]:
    """Give the days beside a month's name."""
    low = text.casefold()
    near = any(begin in low for begin in language.months)
    return _found(text, language.said_days if near else ())


def feasts(text: str, language: Language) -> Iterator[tuple[int, int, str]]:
    """Give the days that have a name of their own, which is as exact as a date."""
    low = text.lower()
    # Letters beyond ASCII may stand for plain ones whichever way they are made small.
    looked_for = [
        pattern
        for words, pattern in language.named_days
        if not text.isascii() or any(word in low for word in words)
    ]
    return _found(text, looked_for)


def _found(text: str, patterns: Sequence[re.Pattern[str]]) -> Iterator[tuple[int, int, str]]:
    for pattern in patterns:
        for match in pattern.finditer(text):
            yield match.start("day"), match.end("day"), "day"
