"""Finds where on earth something is, given in figures."""

import re
from collections.abc import Iterator
from itertools import groupby

from mendpool.core.privacy.shield import has_figures

_START = r"(?<![\w.-])"
_GAP = r"[ ,;]{1,3}"
_SECONDS = "(?: ?\\d{1,2}(?:\\.\\d{1,4})? ?(?:\"|\u2033|''))?"
_SIXTIETHS = "(?: ?\\d{1,2}(?:\\.\\d{1,6})? ?['\u2032\u2019]" + _SECONDS + ")?"
_DEGREES = r"\d{1,3}(?:\.\d{1,10})? ?°" + _SIXTIETHS
_WITH_DEGREES = r"[-+]?\d{1,3}(?:\.\d{1,10})? ?°" + _SIXTIETHS + r" ?[nsew](?![a-z])"


def _pair(first: str, second: str) -> str:
    return _START + first + _GAP + second + r"(?![\w.])"


def _decimal(least: int, sign: str = "[-+]?") -> str:
    return sign + rf"\d{{1,3}}\.\d{{{least},12}}"


_POSITIONS = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        r"(?<![\w.\-\"'°\u2032″])[nsew] ?" + _DEGREES + rf"(?:{_GAP}[nsew] ?{_DEGREES})?",
        _START + _WITH_DEGREES + f"(?:[ ,;]{{0,3}}{_WITH_DEGREES})?",
        _pair(r"[ns] ?\d{1,2}\.\d{3,10}", r"[ew] ?\d{1,3}\.\d{3,10}"),
        _pair(r"\d{1,2}\.\d{3,10} ?[ns]", r"\d{1,3}\.\d{3,10} ?[ew]"),
        # Five decimals are a metre; nobody measures a shaft so. With a sign four are enough,
        # behind a word that says so two.
        _pair(_decimal(5), _decimal(5)),
        _pair(_decimal(4, "-"), _decimal(4)),
        _pair(_decimal(4, ""), _decimal(4, "-")),
        r"(?<=gps |pin |lat |ion )" + _pair(_decimal(2), "(?:l(?:on|ng) )?" + _decimal(2)),
        # Degrees and minutes without a sign; each called by its name.
        _pair(r"[ns] ?\d{1,2}[ -]\d{1,2}\.\d{2,5}", r"[ew] ?\d{1,3}[ -]\d{1,2}\.\d{2,5}"),
        (
            r"(?<!\w)(?:lat|long?|lng)(?:itude)?[ :=]{1,3}[-+]?\d{1,3}\.\d{2,12}(?: ?[nsew])?(?"
            r"!\w)"
        ),
        (
            r"(?<!\w)(?:lat|long?|lng)(?:itude)?[ :=]{1,3}\d{1,3} \d{1,2}(?: \d{1,2})?(?:\."
            r"\d{1,4})? "
            r"?[nsew](?!\w)"
        ),
        _pair(
            r"\d{1,2} \d{1,2} \d{1,2}(?:\.\d{1,3})? ?[ns]",
            r"\d{1,3} \d{1,2} \d{1,2}(?:\.\d{1,3})? ?[ew]",
        ),
        # Map grids: zone and band with metres; with the square's letters; a national grid.
        r"(?<![\w.+-])\d{1,2}[c-hj-np-x] ?[1-9]\d{5}(?:\.\d{1,3})? ?\d{7}(?:\.\d{1,3})?(?!\w)",
        (
            r"(?<![\w.+-])\d{1,2}[c-hj-np-x] ?[a-hj-np-z][a-hj-np-v]"
            r"(?: ?\d{5} ?\d{5}| ?\d{4} ?\d{4}| \d{3} \d{3})(?!\w)"
        ),
        (
            r"(?<!\w)(?:grid|os|map)(?: ref(?:erence)?)?[ :]{1,2}[a-hj-z]{1,2} ?\d{3,5} ?"
            r"\d{3,5}(?!\w)"
        ),
        r"(?<!\w)(?:geohash|geo hash)(?: is)?[ :]{1,2}[0-9b-hjkmnp-z]{5,12}(?!\w)",
        (
            r"(?<!\w)(?:what ?(?:3|three) ?words|w3w)(?: is)?[ :]{1,3}/{0,3}"
            r"[^\W\d_]{3,20}(?:\.[^\W\d_]{3,20}){2}(?!\w)"
        ),
        # A grid code with its plus; three words behind three slashes.
        r"(?<![\w.+-])[23456789cfghjmpqrvwx]{4,8}\+[23456789cfghjmpqrvwx]{2,3}(?![\w+])",
        r"(?<![\w/])///[a-z]{3,20}\.[a-z]{3,20}\.[a-z]{3,20}(?![\w.])",
    )
)

_BY_NAME = re.compile("lat|lo|ln", re.IGNORECASE)
_DIGITS = re.compile(r"\d{3}")
_DECIMALS = re.compile(r"\d\.\d{2}")
_MARKS = (
    *[re.compile("°")] * 2, *[_DECIMALS] * 6,
    re.compile(r"\.\d"),
    *[_BY_NAME] * 2, re.compile(r"\d \d"), *[_DIGITS] * 2,
    re.compile("grid|os|map", re.IGNORECASE),
    re.compile("hash", re.IGNORECASE), re.compile("words|w3w", re.IGNORECASE),
    re.compile(r"\+"), re.compile("///"),
)  # fmt: skip
_WITHOUT_FIGURES = 4
"""So many at the end may have none: a code of letters, three words."""
_GROUPS = tuple(
    (mark, tuple(pattern for _, pattern in alike))
    for mark, alike in groupby(zip(_MARKS, _POSITIONS, strict=True), lambda pair: pair[0])
)
"""What patterns can't do without, found in a fraction of their time, and those patterns."""


def positions(text: str) -> Iterator[tuple[int, int, str]]:
    """Give the positions of a text, as start, end and kind."""
    for mark, patterns in _GROUPS if has_figures(text) else _GROUPS[-_WITHOUT_FIGURES:]:
        if mark.search(text):
            for pattern in patterns:
                for match in pattern.finditer(text):
                    yield match.start(), match.end(), "position"
