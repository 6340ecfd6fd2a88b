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
_HOUSE = re.compile(
    r"(?<![\w.,/-])(?:(?:lot|no\.?|number|unit|flat) )?\d{1,5}[a-z]?,? $", re.IGNORECASE
)
_HOUSE_MOST = 15
_LONGEST_NAME = 3
_SHORTEST_LOW = 4


def boxes(text: str) -> Iterator[Found]:
    """Give post boxes, plots and houses by number, postcodes that are called so."""
    for match in _BOXED.finditer(text):
        yield match.start(), match.end(), "address"


def places(text: str, tokens: Sequence[Token]) -> Iterator[Found]:
    """Give the roads and places that are named, with the number of the house if there."""
    for at, token in enumerate(tokens):
        named = token.low in PLACES or token.low in MAYBE_ROADS
        if not (named or token.low in PLACE_FIRST) or _goes_on(tokens, at):
            continue
        first = _begins(text, tokens, at) if named else at
        if first < at:
            house = _house(text, tokens[first].start)
            if house:
                yield house.start(), token.end, "address"
            # Again without: what stood before may be spoken for, such as a plot by number.
            yield tokens[first].start, token.end, "address"
        elif token.low in PLACE_FIRST and (words := _named_by(tokens, at + 1)):
            yield token.start, tokens[at + words].end, "address"


def _begins(text: str, tokens: Sequence[Token], at: int) -> int:
    """Return the first word of the road or place that ends at `at`; itself where it is none."""
    first = at
    while at - first < _LONGEST_NAME and _names(tokens, first - 1, at):
        first -= 1
    if first == at and _is_housed(text, tokens, at):
        return at - 1
    return _numbered(text, tokens, at, first)


def _house(text: str, start: int) -> re.Match[str] | None:
    """Return the number of a house that stands right before."""
    return _HOUSE.search(text, max(0, start - _HOUSE_MOST), start)


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
        if _house(text, start):
            return at - back
    return first


def _is_housed(text: str, tokens: Sequence[Token], at: int) -> bool:
    """Say whether an unknown word stands between a number and what may be a road.

    So it is in capitals and in lower case, where the road itself tells nothing: "12 OAKMERE
    DRIVE" is one, "2 BELT DRIVE" is none.
    """
    if at < 1 or not tokens[at].follows or tokens[at].low not in MAYBE_ROADS:
        return False
    word = tokens[at - 1]
    long = len(word.low) >= _SHORTEST_LOW
    return word.strange and long and _house(text, word.start) is not None


def _named_by(tokens: Sequence[Token], at: int) -> int:
    """Return how many words from `at` name a place, the last of them unknown; 0 if none."""
    for words in (1, 2):
        one = at + words - 1
        if one >= len(tokens) or not tokens[one].follows or not tokens[one].capital:
            return 0
        if tokens[one].strange:
            return words
    return 0
