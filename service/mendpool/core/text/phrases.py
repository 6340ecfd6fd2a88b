"""Recognise phrases in a run of words: in order, with a little room between.

A phrase is matched word by word. Up to two other words may stand between its words, none
of them a break; a phrase that itself holds "not" is told apart from one that is negated.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import NamedTuple

from mendpool.core.text.words import BREAK, NOT

ROOM = 2
_CERTAIN, _ONE_WORD, _PER_GAP = 0.97, 0.9, 0.15


class Match(NamedTuple):
    """A phrase found: what it stands for, which words, how sure, and whether negated."""

    code: str
    places: tuple[int, ...]
    confidence: float
    negated: bool


Phrase = tuple[str, ...]
_Ended = tuple[str, Phrase, tuple[int, ...]]


class _Step:
    """A word of phrases: the words that may follow, and the phrases that end with it."""

    __slots__ = ("after", "ends")

    def __init__(self) -> None:
        self.after: dict[str, _Step] = {}
        self.ends: list[tuple[str, Phrase]] = []


class PhraseBook:
    """Phrases as a tree of their words, each standing for a code.

    All phrases are followed at once, so that what begins alike is looked at once.
    """

    def __init__(self, phrases: Mapping[str, Iterable[Sequence[str]]]) -> None:
        """Take for each code its phrases, each already cut into stems."""
        root = _Step()
        for code, variants in phrases.items():
            for variant in {tuple(v) for v in variants if v}:
                step = root
                for word in variant:
                    step = step.after.setdefault(word, _Step())
                step.ends.append((code, variant))
        self._first = root.after

    def find(self, words: Sequence[str], negated: Sequence[bool]) -> list[Match]:
        """Find every phrase; of overlapping ones the longest stands.

        Args:
            words: stems, breaks and "not" among them.
            negated: for each place, whether it stands in the scope of a negation.
        """
        return _longest(
            [
                _match(code, phrase, places, negated)
                for code, phrase, places in self._followed(words, over=False)
            ]
        )

    def find_denied(self, words: Sequence[str], taken: Collection[int]) -> list[Match]:
        """Find phrases with a "not" between their words ("voltage not low"), as denied.

        Args:
            words: as for `find`.
            taken: places that already say something; a phrase that has one is left out.
        """
        if NOT not in words:
            return []
        nowhere = [False] * len(words)
        return _longest(
            [
                _match(code, phrase, places, nowhere)._replace(negated=True)
                for code, phrase, places in self._followed(words, over=True)
                if NOT not in phrase
                and NOT in words[places[0] : places[-1]]
                and not any(place in taken for place in places)
            ]
        )

    def _followed(self, words: Sequence[str], *, over: bool) -> list[_Ended]:
        found: list[_Ended] = []
        # Many books have no phrase that begins with any word of a text.
        if not self._first.keys().isdisjoint(words):
            for start, word in enumerate(words):
                if word in self._first:
                    _follow(self._first[word], words, (start,), found, over)
        return found


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
    step: _Step,
    words: Sequence[str],
    places: tuple[int, ...],
    found: list[_Ended],
    over: bool,  # noqa: FBT001 - called for every word
) -> None:
    """Add every phrase that ends here or further on, each by the nearest of its words."""
    for code, phrase in step.ends:
        found.append((code, phrase, places))
    if not step.after:
        return
    first = places[-1] + 1
    for place in range(first, min(first + ROOM + 1, len(words))):
        word = words[place]
        after = step.after.get(word)
        if after is not None and word not in words[first:place]:
            _follow(after, words, (*places, place), found, over)
        # A "not" in between would turn the phrase into its opposite.
        if word == BREAK or (word == NOT and not over):
            return


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
    same: set[tuple[int, ...]] = set()
    for match in sorted(found, key=lambda m: (-len(m.places), -m.confidence, m.places, m.code)):
        if match.places in same or taken.isdisjoint(match.places):
            kept.append(match)
            taken.update(match.places)
            same.add(match.places)
    return sorted(kept, key=lambda m: (m.places, m.code))
