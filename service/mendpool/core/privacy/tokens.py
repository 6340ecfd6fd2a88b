"""Cuts a text into the words that may name somebody, with what stands around each."""

import re
from collections.abc import Sequence
from typing import NamedTuple

from mendpool.core.privacy.cues import SURE_TITLES, TITLES, is_cue
from mendpool.core.privacy.lists import Known
from mendpool.core.privacy.shield import Span

_WORD = re.compile(r"(?<![\w@#&/])[^\W\d_]+(?:['’\-][^\W\d_]+)*(?![\w@])")
_ENDS = '.!?\n:;•"“(*'
_INITIAL = re.compile(r"(?<!\w)[A-Z]\. ?$")
_GAP = 2
_SHORTEST = 3
_CAPITAL_SHARE = 0.7
_FEWEST_WORDS = 4
_TELLS = 2


class Token(NamedTuple):
    """A word; there are many, and a named tuple is made in a third of a dataclass's time.

    Args:
        low: in lower case.
        capital: has a capital that tells something: one first letter, in a text that does
            not write all or most words so, or a second capital within.
        opens: begins a sentence, so that its capital tells nothing.
        strange: neither the trade's word nor the language's.
        follows: only a space, a stop of an abbreviation or a dash since the word before.
    """

    start: int
    end: int
    text: str
    low: str
    capital: bool
    opens: bool
    strange: bool
    follows: bool


def tokens_of(text: str, hidden: Sequence[Span], known: Known) -> list[Token]:
    """Return the words outside the hidden places (in order), first to last."""
    found: list[Token] = []
    german = known.language.german
    ordinary, trade = known.ordinary, known.trade
    place = 0
    last = 0
    capitals = False
    for match in _WORD.finditer(text):
        start, end = match.span()
        while place < len(hidden) and hidden[place][1] <= start:
            place += 1
        if place < len(hidden) and hidden[place][0] < end:
            continue
        word = match.group()
        low = word.lower()
        capital = word[0].isupper() and _one_capital(word)
        capitals = capitals or capital
        opens, follows = False, True
        # A word and a space before it, as is usual, tell that nothing opens here.
        if not (last == start - 1 and last and text[last] == " "):
            opens = _opens(text, start)
            joins = " .-–" if found and _abbreviates(found[-1].low) else " -–"
            gap = text[last:start]
            follows = bool(found) and len(gap) <= _GAP and gap.strip(joins) == ""
        # Most words are listed as they stand; what else `has` knows is looked for after that.
        listed = low.isalpha() and (low in ordinary or low in trade)
        strange = not (listed or known.has(low) or low in german or is_cue(low))
        found.append(Token(start, end, word, low, capital, opens, strange, follows))
        last = end
    if not capitals or _capitals_tell(found, german):
        return found
    return [token._replace(capital=False) for token in found]


def _abbreviates(word: str) -> bool:
    """Say whether a stop behind the word may be no end of a sentence: "Mr.", "J."."""
    return len(word) == 1 or word in SURE_TITLES or word in TITLES


def _one_capital(word: str) -> bool:
    """Say whether a word that begins with a capital is not one of capitals only."""
    return len(word) == 1 or any(c.islower() for c in word)


def _opens(text: str, start: int) -> bool:
    before = text[max(0, start - 5) : start].rstrip(" \t'‘-–")
    if "." in before and _INITIAL.search(before):
        return False
    if "\n" in text[max(0, start - 2) : start]:
        return True
    return before[-1:] in _ENDS if before else start <= 5


def _capitals_tell(tokens: Sequence[Token], german: frozenset[str]) -> bool:
    """Say whether a capital means something in this text: not in ALL CAPS or Title Case.

    Judged by the words that are no names: those have no capital in ordinary writing.
    """
    if sum(t.low in german for t in tokens) >= _TELLS:
        return False
    plain = [t for t in tokens[1:] if not t.strange and len(t.low) >= _SHORTEST]
    if len(plain) < _FEWEST_WORDS:
        return True
    return sum(t.text[0].isupper() for t in plain) < _CAPITAL_SHARE * len(plain)
