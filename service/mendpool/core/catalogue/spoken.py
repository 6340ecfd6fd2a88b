"""Finding known phrases in what a person wrote, word by word."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

_WORD = re.compile(r"[^\W_]+")


@dataclass(frozen=True, slots=True)
class Heard:
    """A phrase found: the groups it belongs to and where it stands."""

    groups: frozenset[str]
    start: int
    end: int
    words: int


@dataclass(frozen=True, slots=True)
class PhraseBook:
    """Phrases by their words, with the length of the longest that each word begins."""

    groups_of: Mapping[tuple[str, ...], frozenset[str]]
    longest: Mapping[str, int]

    def listen(self, text: str) -> list[Heard]:
        """Return the phrases in `text`, in order; one inside a longer one is left out."""
        words = [(m.group().casefold(), m.start(), m.end()) for m in _WORD.finditer(text)]
        found: list[Heard] = []
        reach = 0
        for first in range(len(words)):
            for count in range(
                min(self.longest.get(words[first][0], 0), len(words) - first), 0, -1
            ):
                key = tuple(word for word, _, _ in words[first : first + count])
                groups = self.groups_of.get(key)
                if groups is None:
                    continue
                end = words[first + count - 1][2]
                if end > reach:
                    found.append(Heard(groups, words[first][1], end, count))
                    reach = end
                break
        return found


def phrase_book(heard: Mapping[str, tuple[str, ...]]) -> PhraseBook:
    """Build the book from phrases by group."""
    groups: dict[tuple[str, ...], set[str]] = {}
    for group, phrases in heard.items():
        for phrase in phrases:
            key = words_of(phrase)
            groups.setdefault(key, set()).add(group)
    longest: dict[str, int] = {}
    for key in groups:
        longest[key[0]] = max(longest.get(key[0], 0), len(key))
    return PhraseBook({key: frozenset(names) for key, names in groups.items()}, longest)


def words_of(phrase: str) -> tuple[str, ...]:
    """Return the words of a phrase, in the form they are compared in."""
    return tuple(m.group().casefold() for m in _WORD.finditer(phrase))
