"""Finds exact days. The month stays: a report may say in which month it happened."""

import re
from collections.abc import Iterator

_MONTH = (
    r"(?:january|february|march|april|june|july|august|september|october|november|december|"
    r"jan|feb|mar|apr|jun|jul|aug|sept?|oct|nov|dec)"
)
_BEGINNINGS = (
    "jan", "feb", "fév", "fev", "mar", "mär", "mae", "maa", "abr", "avr", "apr", "may", "mai",
    "maj", "mag", "mei", "gen", "ene", "jun", "jui", "giu", "lug", "ago",
    "aoû", "aou", "jul", "aug", "sep", "oct",
    "nov", "dec", "déc", "dez", "dic", "out", "ott", "okt", "set",
)  # fmt: skip
_ABROAD = (
    r"(?:janvier|février|fevrier|mars|avril|mai|juin|juillet|août|aout|septembre|octobre|"
    r"novembre|décembre|decembre|enero|febrero|marzo|abril|mayo|junio|julio|agosto|septiembre|"
    r"octubre|noviembre|diciembre|januar|februar|märz|maerz|juni|juli|august|oktober|dezember|"
    r"janeiro|fevereiro|março|maio|junho|julho|setembro|outubro|novembro|dezembro|"
    r"januari|februari|maart|augusti|augustus|maj|mei|gennaio|febbraio|aprile|maggio|giugno|"
    r"luglio|settembre|ottobre|dicembre)"
)
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
        rf"(?i:{_START}{_DAY}(?:\.|er)?)(?: de)? {_ABROAD}(?!\w))",
    )
)
_SPOKEN = re.compile(
    r"(?<!\w)(?P<day>(?:(?:twenty|thirty)[ -])?(?:first|second|third|fourth|fifth|sixth|sev"
    r"enth|"
    r"eighth|ninth|tenth|eleventh|twelfth|\w{4,6}teenth|twentieth|thirtieth))(?= (?:of )?"
    + _MONTH
    + r"(?!\w)|(?: of) may(?!\w))",
    re.IGNORECASE,
)
_FEASTS = re.compile(
    r"(?<!\w)(?P<day>(?:christmas|new year'?s?)(?: (?:eve|day))|boxing day|good friday|"
    r"easter (?:sunday|monday))(?!\w)",
    re.IGNORECASE,
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


def feasts(text: str) -> Iterator[tuple[int, int, str]]:
    """Give the days that have a name of their own, which is as exact as a date."""
    low = text.lower()
    return _found(text, (_FEASTS, _SPOKEN) if "day" in low or "eve" in low else (_SPOKEN,))


def _found(text: str, patterns: tuple[re.Pattern[str], ...]) -> Iterator[tuple[int, int, str]]:
    for pattern in patterns:
        for match in pattern.finditer(text):
            yield match.start("day"), match.end("day"), "day"
