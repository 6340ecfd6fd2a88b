"""What a text leans towards when no phrase is said outright.

Each symptom's aliases are taken as bags of words. A word that few symptoms use tells much, a
word that many use tells little (inverse document frequency over symptoms). A text that holds
most of an alias by that weight, in any order within a sentence or two, leans to its symptom.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import log

from mendpool.core.text.words import BREAK, NOT

_ENOUGH = 0.6
_SUREST = 0.7
_NEAR = 12
_LEAST_WEIGHT = 2.0

Places = Mapping[str, Sequence[int]]


@dataclass(frozen=True, slots=True)
class _Bag:
    """An alias as a bag of words; `denied` is the word that its "not" belongs to."""

    words: frozenset[str]
    denied: str | None


class Leanings:
    """Bags of words by code."""

    def __init__(self, phrases: Mapping[str, Iterable[Sequence[str]]]) -> None:
        """Take for each code its phrases, each already cut into stems."""
        bags = {code: {_bag(v) for v in variants if v} for code, variants in phrases.items()}
        used: dict[str, int] = {}
        for variants in bags.values():
            for word in {word for bag in variants for word in bag.words}:
                used[word] = used.get(word, 0) + 1
        self._weight = {w: log(1 + len(bags) / n) for w, n in used.items()}
        self._by_word: dict[str, list[tuple[str, _Bag]]] = {}
        for code, variants in bags.items():
            for bag in sorted(variants, key=lambda b: (sorted(b.words), b.denied or "")):
                for word in bag.words:
                    self._by_word.setdefault(word, []).append((code, bag))

    def lean(self, words: Sequence[str], negated: Sequence[bool]) -> dict[str, float]:
        """Return how far a text leans to each code, 0 to 0.7; codes it doesn't are left out."""
        said: dict[str, list[int]] = {}
        denials: list[dict[str, list[int]]] = []
        for place, word in enumerate(words):
            if word == NOT:
                denials.append({})
            if word not in self._weight or word == BREAK:
                continue
            within = denials[-1] if negated[place] else said
            within.setdefault(word, []).append(place)
        best: dict[str, float] = {}
        for code, bag in self._bags_of({*said, *(w for denial in denials for w in denial)}):
            # "Not" in an alias denies a word of it: the text must deny the same one. Words
            # that another "not" denies are not there at all.
            ways = (
                [said]
                if bag.denied is None
                else [_both(said, denial) for denial in denials if bag.denied in denial]
            )
            for places in ways:
                best[code] = max(best.get(code, 0.0), self._held(bag, places))
        return {code: value for code, value in best.items() if value > 0}

    def _bags_of(self, words: Iterable[str]) -> dict[tuple[str, _Bag], None]:
        """The bags that hold any of the words, once each, in a steady order."""
        return {entry: None for word in sorted(words) for entry in self._by_word[word]}

    def _held(self, bag: _Bag, places: Places) -> float:
        held = [w for w in bag.words if w in places]
        weight = sum(self._weight[w] for w in held)
        share = weight / sum(self._weight[w] for w in bag.words)
        # One word of many, however rare, is no saying: a part's name alone says no symptom.
        few = len(held) < min(2, len(bag.words))
        if few or share < _ENOUGH or weight < _LEAST_WEIGHT or not _together(held, places):
            return 0.0
        return round(_SUREST * share * min(1.0, weight / (2 * _LEAST_WEIGHT)), 4)


def _bag(phrase: Sequence[str]) -> _Bag:
    after = [word for before, word in pairwise(phrase) if before == NOT]
    return _Bag(frozenset(phrase), after[0] if after else None)


def _both(one: Places, other: Places) -> Places:
    return {word: [*one.get(word, ()), *other.get(word, ())] for word in [*one, *other]}


def _together(held: Sequence[str], places: Places) -> bool:
    """Tell whether the words stand near each other somewhere."""
    first = held[0]
    return any(
        all(any(abs(p - start) <= _NEAR for p in places[w]) for w in held)
        for start in places[first]
    )
