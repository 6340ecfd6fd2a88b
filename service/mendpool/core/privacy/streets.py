"""Finds addresses by their shape where the words are of another language, or all capitals."""

import re
from collections.abc import Iterator

from mendpool.core.privacy.lists import Known
from mendpool.core.privacy.patterns import Found

_KIND = (
    r"(?i:rue|chemin|impasse|calle|avenida|carrera|rua|travessa|via|viale|jalan|jl|ulica|ul)"
)
_OF = r"(?:(?:de la|de los|de|del|des|du|da|do|dos|la|le|les|della|di) ){0,2}"
_NAME = r"[^\W\d_]{2,30}(?:[ -][A-ZÀ-Þ][^\W\d_]{1,30}){0,2}"
_STREETS = tuple(
    re.compile(pattern)
    for pattern in (
        rf"(?<![\w.,/-])\d{{1,4}}[a-z]?,? {_KIND}\.? {_OF}{_NAME}(?!\w)",
        rf"(?<![\w-]){_KIND}\.? {_OF}{_NAME},? (?:n[o°º]\.? ?)?\d{{1,4}}[a-z]?(?![\w.,]\d|\w)",
        (
            r"(?<![\w-])[A-ZÄÖÜ][^\W\d_]{2,30}(?:gasse|straße|strasse|str\.|platz|allee|weg|gatan|"
            r"vägen|straat|laan)(?: \d{1,4}[a-z]?(?![\w.,]\d|\w))"
        ),
        (
            r"(?<![\w.,/-])(?:\d{1,5} )?(?:County|State|Farm|Ranch|Forest)"
            r" (?:Road|Rd|Highway|Hwy|Route) \d{1,4}(?!\w)"
        ),
        r"(?<!\w)RR ?\d{1,3},? Box \d{1,5}(?!\w)",
        r"(?<!\w)(?i:flat|apt|unit|suite)\.? \d{1,4}[a-z]?,(?= \d{1,4} [A-Z]| \[address)",
        (
            r"(?<!\w)(?i:stand|erf) \d{3,6} [A-Z][a-z]{2,20}(?: (?:Extension|Ext\.?) \d{1,3})?"
            r"(?!\w)"
        ),
        (
            r"(?<![\w-])(?i:unit|suite|flat|shop|stand) \d{1,4}[a-zA-Z]?,? (?:[A-Z][a-z"
            r"]{1,20} ){1,3}"
            r"(?:Park|Estate|Centre|Center|Yard|Court|House|Mall|Arcade|Works|Trading)(?!\w)"
        ),
    )
)
_LOUD = re.compile(
    r"(?<![\w.,/-])\d{1,4}[A-Z]? ([A-Z]{3,20}) (?:CLOSE|COURT|SQUARE|TERRACE|CRESCENT|GROVE)"
    r"(?!\w)"
)
_DIGIT = re.compile(r"\d")


def streets(text: str, known: Known) -> Iterator[Found]:
    """Give streets with their numbers in the ways of other languages, and in capitals."""
    if not _DIGIT.search(text):
        return
    for pattern in _STREETS:
        for match in pattern.finditer(text):
            yield match.start(), match.end(), "address"
    for match in _LOUD.finditer(text):
        # "2 VALVES CLOSE" is the trade's.
        if match[1].lower() not in known.trade:
            yield match.start(), match.end(), "address"
