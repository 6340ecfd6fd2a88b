"""Recognise phrases in a run of words: in order, with a little room between.

A phrase is matched word by word. Up to two other words may stand between its words, none
of them a break; a phrase that itself holds "not" is told apart from one that is negated.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from mendpool.core.text.words import BREAK, NOT

ROOM = 2
_CERTAIN, _ONE_WORD, _PER_GAP = 0.97, 0.9, 0.15


@dataclass(frozen=True, slots=True)
class Match:
    """A phrase found: what it stands for, which words, how sure, and whether negated."""

    code: str
    places: tuple[int, ...]
    confidence: float
    negated: bool


class PhraseBook:
    """Phrases by their first word, each standing for a code."""

    def __init__(self, phrases: Mapping[str, Iterable[Sequence[str]]]) -> None:
        """Take for each code its phrases, each already cut into stems."""
        self._by_first: dict[str, list[tuple[str, tuple[str, ...]]]] = {}
        for code, variants in phrases.items():
            for variant in {tuple(v) for v in variants if v}:
                self._by_first.setdefault(variant[0], []).append((code, variant))
        for entries in self._by_first.values():
            entries.sort(key=lambda entry: (-len(entry[1]), entry))

    def find(self, words: Sequence[str], negated: Sequence[bool]) -> list[Match]:
        """Find every phrase; of overlapping ones the longest stands.

        Args:
            words: stems, breaks and "not" among them.
            negated: for each place, whether it stands in the scope of a negation.
        """
        found: list[Match] = []
        for start, word in enumerate(words):
            for code, phrase in self._by_first.get(word, ()):
                places = _follow(words, start, phrase)
                if places is not None:
                    found.append(_match(code, phrase, places, negated))
        return _longest(found)

    def find_denied(self, words: Sequence[str], taken: Collection[int]) -> list[Match]:
        """Find phrases with a "not" between their words ("voltage not low"), as denied.

        Args:
            words: as for `find`.
            taken: places that already say something; a phrase that has one is left out.
        """
        found: list[Match] = []
        if NOT not in words:
            return found
        nowhere = [False] * len(words)
        for start, word in enumerate(words):
            for code, phrase in self._by_first.get(word, ()):
                if NOT in phrase or len(phrase) == 1:
                    continue
                places = _follow(words, start, phrase, over=True)
                if places is not None and NOT in words[start : places[-1]]:
                    found.append(replace(_match(code, phrase, places, nowhere), negated=True))
        return _longest([match for match in found if not set(match.places) & set(taken)])


def scope_of_negation(
    words: Sequence[str],
    breakers: frozenset[str],
    reach: int = 4,
    ends: Collection[int] = (),
) -> list[bool]:
    """Tell for each place whether a "not" before it, in the same clause, covers it.

    A negation covers the next `reach` words and ends at a break, at a word such as "but", and
    before the places of `ends`.
    """
    covered = [False] * len(words)
    left = 0
    for place, word in enumerate(words):
        if word == BREAK or word in breakers or place in ends:
            left = 0
        if word == NOT:
            left = reach
        elif left:
            covered[place] = True
            left -= 1
    return covered


def _follow(
    words: Sequence[str], start: int, phrase: Sequence[str], *, over: bool = False
) -> tuple[int, ...] | None:
    places = [start]
    for wanted in phrase[1:]:
        place = places[-1] + 1
        last = place + ROOM
        while place < len(words) and place <= last and words[place] != wanted:
            # A "not" in between would turn the phrase into its opposite.
            if words[place] == BREAK or (words[place] == NOT and not over):
                return None
            place += 1
        if place >= len(words) or place > last:
            return None
        places.append(place)
    return tuple(places)


def _match(
    code: str, phrase: Sequence[str], places: tuple[int, ...], negated: Sequence[bool]
) -> Match:
    gaps = places[-1] - places[0] + 1 - len(places)
    sure = (_ONE_WORD if len(phrase) == 1 else _CERTAIN) - _PER_GAP * gaps
    outside = NOT not in phrase and negated[places[0]]
    return Match(code, places, round(sure, 4), outside)


def _longest(found: list[Match]) -> list[Match]:
    """Keep the longer of two that share a word; the surer of two as long."""
    if len(found) < 2:
        return found
    taken: set[int] = set()
    kept: list[Match] = []
    for match in sorted(found, key=lambda m: (-len(m.places), -m.confidence, m.places, m.code)):
        same = any(match.places == other.places for other in kept)
        if same or taken.isdisjoint(match.places):
            kept.append(match)
            taken.update(match.places)
    return sorted(kept, key=lambda m: (m.places, m.code))
