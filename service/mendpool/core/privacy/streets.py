"""Finds addresses by their shape where the words are of another language, or all capitals."""

import re
from collections.abc import Iterator

from mendpool.core.privacy.lists import Known
from mendpool.core.privacy.patterns import Found

_STREETS = tuple(
    re.compile(pattern)
    for pattern in (
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
_DIGIT = re.compile(r"\d")


def streets(text: str, known: Known) -> Iterator[Found]:
    """Give streets with their numbers in the ways of other languages, and in capitals."""
    if not _DIGIT.search(text):
        return
    for pattern in (*known.language.streets, *_STREETS):
        for match in pattern.finditer(text):
            yield match.start(), match.end(), "address"
    for match in known.language.loud_streets.finditer(text):
        # "2 VALVES CLOSE" is the trade's.
        if match[1].lower() not in known.trade:
            yield match.start(), match.end(), "address"
