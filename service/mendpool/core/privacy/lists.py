"""Which words are known: the trade's, the language's, and their usual forms."""

import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from mendpool.core.privacy.language import NO_LANGUAGE, Language

_LETTERS = re.compile(r"[a-z]+(?:'[a-z]+)?")
_PREFIXES = ("re", "un", "non", "over", "pre", "mis")
_SHORTEST_REST = 4
_CONTRACTED = ("n't", "'ll", "'re", "'ve", "'d", "'m", "'s")


def words(text: str) -> frozenset[str]:
    """Return the words of a list that is written as one text."""
    return frozenset(text.split())


def words_in(texts: Iterable[str]) -> frozenset[str]:
    """Return every word of some texts in lower case, for use as the trade's lexicon."""
    found: set[str] = set()
    for text in texts:
        for word in _LETTERS.findall(text.lower()):
            found.add(word.replace("'", ""))
            found.add(word.partition("'")[0])
    return frozenset(found)


@dataclass(frozen=True, slots=True)
class Known:
    """The words that name nobody.

    Args:
        trade: the trade's words in lower case.
        ordinary: the language's words in lower case, and whatever else names nobody.
        more: words known in this text only, such as the set's make.
        language: what days, streets and dictated numbers are known by.
    """

    trade: Collection[str]
    ordinary: Collection[str]
    more: frozenset[str] = frozenset()
    language: Language = NO_LANGUAGE

    def has(self, word: str) -> bool:
        """Say whether a word in lower case, or the word it is a form of, is known."""
        word = plain(word)
        if self._listed(word) or len(word) < 2:
            return True
        if "-" in word or "'" in word:
            return all(self.has(part) for part in re.split("[-']", word) if part)
        return any(self._listed(base) for base in _bases(word))

    def _listed(self, word: str) -> bool:
        return word in self.ordinary or word in self.trade or word in self.more


def plain(word: str) -> str:
    """Return the word without a possessive or contracted ending; curly marks made straight."""
    if "'" not in word and "’" not in word:
        return word
    word = word.replace("’", "'")
    joined = word.replace("'", "")
    for ending in _CONTRACTED:
        if word.endswith(ending):
            return joined if ending == "n't" else word.removesuffix(ending)
    return word.removesuffix("'")


def _bases(word: str) -> Iterable[str]:
    """The words that this may be a form of: plural, past, -ing, and re-, un-, non-."""
    if len(word) > _SHORTEST_REST:
        if word.endswith("s"):
            yield word[:-1]
        if word.endswith(("ed", "ses", "xes", "zes", "ches", "shes", "oes")):
            yield word[:-2]
            yield word[:-1]
        if word.endswith("ing"):
            yield word[:-3]
            yield word[:-3] + "e"
    for prefix in _PREFIXES:
        if word.startswith(prefix) and len(word) >= len(prefix) + _SHORTEST_REST:
            yield word.removeprefix(prefix)
