"""Finds where somebody is: streets with numbers, boxes, named roads, farms and villages."""

import re
from collections.abc import Iterator, Sequence

from mendpool.core.privacy.cues import (
    MAYBE_ROADS,
    NOT_NAMES,
    NOT_STREETS,
    PLACE_FIRST,
    PLACES,
    ROADS,
)
from mendpool.core.privacy.patterns import Found
from mendpool.core.privacy.tokens import Token

_BOXED = re.compile(
    r"(?<!\w)(?:p\.? ?o\.? ?box|plot|house|apartment|apt|postcode|post code|zip code|zip)"
    r"(?: (?:no|number)\b\.?)?[ :#]{1,2}(?=[a-z]{0,3}\d)[a-z0-9]{1,7}(?:-\d{1,5})?"
    r"(?: \d[a-z]{2})?(?!\w)",
    re.IGNORECASE,
)
_HOUSE = re.compile(r"(?<![\w.,/-])\d{1,5}[a-z]?,? $", re.IGNORECASE)
_LONGEST_NAME = 3
_SHORTEST_LOW = 4


def boxes(text: str) -> Iterator[Found]:
    """Give post boxes, plots and houses by number, postcodes that are called so."""
    for match in _BOXED.finditer(text):
        yield match.start(), match.end(), "address"


def places(text: str, tokens: Sequence[Token]) -> Iterator[Found]:
    """Give the roads and places that are named, with the number of the house if there."""
    for at, token in enumerate(tokens):
        first = at
        named = token.low in PLACES or token.low in MAYBE_ROADS
        if not (named or token.low in PLACE_FIRST) or _goes_on(tokens, at):
            continue
        if named:
            while at - first < _LONGEST_NAME and _names(tokens, first - 1, at):
                first -= 1
            first = _numbered(text, tokens, at, first)
        if first < at:
            house = _HOUSE.search(text, max(0, tokens[first].start - 8), tokens[first].start)
            if house:
                yield house.start(), token.end, "address"
            # Again without: what stood before may be spoken for, such as a plot by number.
            yield tokens[first].start, token.end, "address"
        elif token.low in PLACE_FIRST and _is_named(tokens, at + 1):
            yield token.start, tokens[at + 1].end, "address"


def _goes_on(tokens: Sequence[Token], at: int) -> bool:
    """Say whether the place is only the name of a road: "Quarry" in "Old Quarry Rd"."""
    after = at + 1
    return after < len(tokens) and tokens[after].follows and tokens[after].low in ROADS


def _names(tokens: Sequence[Token], before: int, at: int) -> bool:
    """Say whether the word before belongs to the name of the road or place at `at`."""
    if before < 0 or not tokens[before + 1].follows:
        return False
    word, place = tokens[before], tokens[at]
    if word.low in NOT_NAMES:
        return False
    sure = place.low in PLACES
    if word.strange:
        return (sure and (word.capital or len(word.low) >= _SHORTEST_LOW)) or place.capital
    return word.capital and place.capital and word.low not in NOT_STREETS


def _numbered(text: str, tokens: Sequence[Token], at: int, first: int) -> int:
    """Return where "14 mill lane" begins, though all its words are ordinary."""
    if first < at or tokens[at].low not in ROADS:
        return first
    for back in (1, 2):
        if at - back < 0 or not tokens[at - back + 1].follows:
            return first
        word = tokens[at - back].low
        if word in NOT_NAMES or word in NOT_STREETS:
            return first
        start = tokens[at - back].start
        if _HOUSE.search(text, max(0, start - 8), start):
            return at - back
    return first


def _is_named(tokens: Sequence[Token], at: int) -> bool:
    if at >= len(tokens) or not tokens[at].follows:
        return False
    return tokens[at].capital and tokens[at].strange
