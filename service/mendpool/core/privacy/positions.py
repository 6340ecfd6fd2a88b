"""Finds where on earth something is, given in figures."""

import re
from collections.abc import Iterator

_START = r"(?<![\w.-])"
_GAP = r"[ ,;]{1,3}"
_SECONDS = "(?: ?\\d{1,2}(?:\\.\\d{1,4})? ?(?:\"|\u2033|''))?"
_SIXTIETHS = "(?: ?\\d{1,2}(?:\\.\\d{1,6})? ?['\u2032\u2019]" + _SECONDS + ")?"
_WITH_DEGREES = r"[-+]?\d{1,3}(?:\.\d{1,10})? ?°" + _SIXTIETHS + r" ?[nsew](?![a-z])"


def _pair(first: str, second: str) -> str:
    return _START + first + _GAP + second + r"(?![\w.])"


def _decimal(least: int, sign: str = "[-+]?") -> str:
    return sign + rf"\d{{1,3}}\.\d{{{least},12}}"


_POSITIONS = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        _START + _WITH_DEGREES + f"(?:{_GAP}{_WITH_DEGREES})?",
        _pair(r"[ns] ?\d{1,2}\.\d{3,10}", r"[ew] ?\d{1,3}\.\d{3,10}"),
        _pair(r"\d{1,2}\.\d{3,10} ?[ns]", r"\d{1,3}\.\d{3,10} ?[ew]"),
        # Five decimals are a metre; nobody measures a shaft so. With a sign four are enough,
        # behind a word that says so two.
        _pair(_decimal(5), _decimal(5)),
        _pair(_decimal(4, "-"), _decimal(4)),
        _pair(_decimal(4, ""), _decimal(4, "-")),
        r"(?<=gps |pin |lat |ion )" + _pair(_decimal(2), "(?:l(?:on|ng) )?" + _decimal(2)),
        # A grid code with its plus; three words behind three slashes.
        r"(?<![\w.+-])[23456789cfghjmpqrvwx]{4,8}\+[23456789cfghjmpqrvwx]{2,3}(?![\w+])",
        r"(?<![\w/])///[a-z]{3,20}\.[a-z]{3,20}\.[a-z]{3,20}(?![\w.])",
    )
)

# What each pattern can't do without, found in a fraction of its time.
_DECIMALS = re.compile(r"\d\.\d{2}")
_MARKS = (
    re.compile("°"), *[_DECIMALS] * (len(_POSITIONS) - 3),
    re.compile(r"\+"), re.compile("///"),
)  # fmt: skip


def positions(text: str) -> Iterator[tuple[int, int, str]]:
    """Give the positions of a text, as start, end and kind."""
    for mark, pattern in zip(_MARKS, _POSITIONS, strict=True):
        if mark.search(text):
            for match in pattern.finditer(text):
                yield match.start(), match.end(), "position"
