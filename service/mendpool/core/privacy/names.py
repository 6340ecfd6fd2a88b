"""Finds people's names by what stands beside them, since no list of names is kept.

A word that is neither the trade's nor the language's is taken for a name when it has a
capital within a sentence, or when a title, a kinsman or a person's verb is next to it.
"""

import re
from collections.abc import Collection, Iterator, Sequence

from mendpool.core.privacy import cues
from mendpool.core.privacy.lists import plain
from mendpool.core.privacy.patterns import Found
from mendpool.core.privacy.tokens import Token

_MODEL = re.compile(
    r" ?(?=[a-z-]{0,6}\d)(?=[\d-]{0,6}[a-z])[a-z0-9][a-z0-9-]{1,9}(?!\w)", re.IGNORECASE
)
_ABBREVIATED = 5
_SURNAMES = 2
_LOUD_LETTERS = 4


def names(text: str, tokens: Sequence[Token], trade: Collection[str]) -> Iterator[Found]:
    """Give the names of people, each as one run with its surname and initials."""
    reader = _Reader(text, tokens, trade)
    left: list[int] = []
    told: set[str] = set()
    at = 0
    while at < len(tokens):
        if reader.is_name(at):
            first, last = reader.run(at)
            yield tokens[first].start, reader.end(last), "name"
            told.update(plain(t.low) for t in tokens[first : last + 1] if t.strange)
            at = last
        elif tokens[at].strange:
            left.append(at)
        at += 1
    # Whoever was named once is so wherever else the word has a capital.
    for again in left if told else ():
        token = tokens[again]
        if token.text[0].isupper() and plain(token.low) in told:
            yield token.start, reader.end(again), "name"


class _Reader:
    """One text's words, and what is known of them."""

    def __init__(self, text: str, tokens: Sequence[Token], trade: Collection[str]) -> None:
        self._text = text
        self._tokens = tokens
        self._trade = trade

    def is_name(self, at: int) -> bool:
        token = self._tokens[at]
        if token.low in cues.NOT_NAMES or cues.is_cue(token.low):
            return False
        if self._back(at, 1) in cues.SURE_TITLES:
            return True
        if token.strange:
            return self._strange_is_name(at, token)
        return self._ordinary_is_name(at, token)

    def run(self, at: int) -> tuple[int, int]:
        """Return the first and last word of the name around `at`."""
        first = last = at
        while first > 0 and self._tokens[first].follows and self._joins(first - 1):
            first -= 1
        titled = self._back(at, 1) in cues.SURE_TITLES | cues.TITLES | cues.CLOSE_KIN
        while self._forth(last, 1) and (
            self._joins(last + 1)
            or (last == at and self._is_surname(last + 1))
            or (titled and last - at < _SURNAMES and self._tokens[last + 1].strange)
            or (last - at < _SURNAMES and self._both_loud(last))
        ):
            last += 1
        return first, last

    def _is_surname(self, at: int) -> bool:
        """Say whether an ordinary word right behind a first name is a surname."""
        token, first = self._tokens[at], self._tokens[at - 1]
        if not (token.capital and first.capital and first.strange) or token.opens:
            return False
        known = plain(token.low)
        return known not in self._trade and not cues.is_cue(known) and known not in cues.TIMES

    def _both_loud(self, at: int) -> bool:
        """Say whether this word and the next are in capitals only, the next one unknown."""
        one, next_ = self._tokens[at], self._tokens[at + 1]
        return one.strange and next_.strange and one.text.isupper() and next_.text.isupper()

    def end(self, last: int) -> int:
        """Return where the name ends; "'s" is no part of it."""
        token = self._tokens[last]
        base = plain(token.low)
        return token.start + len(base) if token.low.startswith(base) else token.end

    def _joins(self, at: int) -> bool:
        token = self._tokens[at]
        if not token.capital or token.low in cues.NOT_NAMES or cues.is_cue(token.low):
            return False
        return self._tokens[at].strange or len(token.text) == 1 or token.low in cues.ALSO_NAMES

    def _strange_is_name(self, at: int, token: Token) -> bool:
        if token.capital and not token.opens and not self._is_make(at):
            return True
        if token.capital and self._with_another(at):
            return True
        if self._loud_pair(at):
            return True
        if self._sure_cue(at) or self._owns(at, token):
            return True
        if token.opens and token.text[0].isupper() and self._does(at):
            return True
        return (token.capital or token.opens or self._has_room(at)) and self._cue_after(at)

    def _with_another(self, at: int) -> bool:
        """Say whether it is "Yorath and Elspet": two that open a sentence together."""
        if self._forth(at, 1) != "and" or self._forth(at, 2) == "":
            return False
        other = self._tokens[at + 2]
        return other.strange and other.capital

    def _ordinary_is_name(self, at: int, token: Token) -> bool:
        """Judge a word such as Mark or Grace, or Allen, which may be the key."""
        if not token.capital or plain(token.low) not in cues.ALSO_NAMES:
            return False
        if self._back(at, 1) in cues.CLOSE_KIN or self._owns(at, token):
            return True
        if token.low in cues.MONTHS and self._back(at, 1) in cues.BEFORE_CAPITAL:
            return self._cue_after(at)
        return self._cue_after(at) or (self._sure_cue(at) and not self._thing_next(at))

    def _sure_cue(self, at: int) -> bool:
        one, two, three = (self._back(at, n) for n in (1, 2, 3))
        pair = f"{two} {one}"
        token = self._tokens[at]
        # In a text of capitals a name of some length is all there is to go by.
        capital = token.capital or (token.text.isupper() and len(token.text) > _ABBREVIATED)
        if one in cues.CLOSE_KIN or one in cues.BEFORE or pair in cues.BEFORE_TWO:
            return True
        if capital and (one in cues.BEFORE_CAPITAL or pair in cues.BEFORE_CAPITAL_TWO):
            return True
        if one in cues.TITLES | cues.ROLES:
            return capital
        if one in ("ring", "call", "rings", "rung"):
            return two in cues.CALLERS or (two == "" and three == "")
        return one == "called" and (two in cues.CALLED or three in cues.CALLED)

    def _cue_after(self, at: int) -> bool:
        one, two = self._forth(at, 1), self._forth(at, 2)
        return one in cues.AFTER or f"{one} {two}" in cues.AFTER_TWO

    def _loud_pair(self, at: int) -> bool:
        """Say whether it is "ALMA QUIST" in a text of capitals: two unknown words together."""
        if not self._forth(at, 1) or not self._both_loud(at):
            return False
        pair = (self._tokens[at].text, self._tokens[at + 1].text)
        return all(len(word) >= _LOUD_LETTERS and word.isalpha() for word in pair)

    def _does(self, at: int) -> bool:
        """Say whether what follows is said of people only, or tells who it is."""
        one, two = self._forth(at, 1), self._forth(at, 2)
        if one in cues.DOES_TO and two in cues.DONE_TO:
            return True
        if one in cues.DOES or f"{one} {two}" in cues.DOES_TWO:
            return True
        if one in cues.WHERE and two == "the":
            return self._forth(at, 3) in cues.WHERE_PEOPLE_ARE
        return one == "the" and two in cues.ROLES

    def _owns(self, at: int, token: Token) -> bool:
        possessive = token.low.endswith(("'s", "’s"))
        sure = token.capital and token.strange
        return possessive and (sure or self._forth(at, 1) in cues.OWNED)

    def _has_room(self, at: int) -> bool:
        before = self._back(at, 1)
        return before == "" or before in cues.OPENERS

    def _is_make(self, at: int) -> bool:
        """Say whether it is an abbreviation, or a make with its model behind it."""
        token = self._tokens[at]
        if token.text.isupper() and len(token.text) <= _ABBREVIATED:
            return True
        return bool(_MODEL.match(self._text, token.end))

    def _thing_next(self, at: int) -> bool:
        after = self._forth(at, 1)
        return after in self._trade and after not in cues.AFTER | cues.NOT_NAMES

    def _back(self, at: int, steps: int) -> str:
        """Return the word so many steps before, empty where the sentence is cut between."""
        for step in range(steps):
            if at - step < 1 or not self._tokens[at - step].follows:
                return ""
        return plain(self._tokens[at - steps].low)

    def _forth(self, at: int, steps: int) -> str:
        for step in range(1, steps + 1):
            if at + step >= len(self._tokens) or not self._tokens[at + step].follows:
                return ""
        return plain(self._tokens[at + steps].low)
