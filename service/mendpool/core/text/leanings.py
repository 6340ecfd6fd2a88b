"""What a text leans towards when no phrase is said outright.

Each symptom's aliases are taken as bags of words. A word that few symptoms use tells much, a
word that many use tells little (inverse document frequency over symptoms). A text that holds
most of an alias by that weight, in any order within a sentence or two, leans to its symptom.
"""

from collections.abc import Iterable, Mapping, Sequence
from math import log

from mendpool.core.text.words import BREAK, NOT

_ENOUGH = 0.6
_SUREST = 0.7
_NEAR = 12
_LEAST_WEIGHT = 2.0


class Leanings:
    """Bags of words by code."""

    def __init__(self, phrases: Mapping[str, Iterable[Sequence[str]]]) -> None:
        """Take for each code its phrases, each already cut into stems."""
        bags = {
            code: {frozenset(v) for v in variants if v} for code, variants in phrases.items()
        }
        used: dict[str, int] = {}
        for variants in bags.values():
            for word in frozenset().union(*variants) if variants else ():
                used[word] = used.get(word, 0) + 1
        self._weight = {w: log(1 + len(bags) / n) for w, n in used.items()}
        self._by_word: dict[str, list[tuple[str, frozenset[str]]]] = {}
        for code, variants in bags.items():
            for variant in sorted(variants, key=sorted):
                for word in variant:
                    self._by_word.setdefault(word, []).append((code, variant))

    def lean(self, words: Sequence[str], negated: Sequence[bool]) -> dict[str, float]:
        """Return how far a text leans to each code, 0 to 0.7; codes it doesn't are left out."""
        places: dict[str, list[int]] = {}
        for place, word in enumerate(words):
            if word in self._weight and word != BREAK and (word == NOT or not negated[place]):
                places.setdefault(word, []).append(place)
        best: dict[str, float] = {}
        tried: set[tuple[str, frozenset[str]]] = set()
        for word in places:
            for entry in self._by_word[word]:
                if entry not in tried:
                    tried.add(entry)
                    code, bag = entry
                    best[code] = max(best.get(code, 0.0), self._held(bag, places))
        return {code: value for code, value in best.items() if value > 0}

    def _held(self, bag: frozenset[str], places: Mapping[str, Sequence[int]]) -> float:
        held = [w for w in bag if w in places]
        if NOT in bag and NOT not in held:
            return 0.0
        weight = sum(self._weight[w] for w in held)
        share = weight / sum(self._weight[w] for w in bag)
        if share < _ENOUGH or weight < _LEAST_WEIGHT or not _together(held, places):
            return 0.0
        return round(_SUREST * share * min(1.0, weight / (2 * _LEAST_WEIGHT)), 4)


def _together(held: Sequence[str], places: Mapping[str, Sequence[int]]) -> bool:
    """Tell whether the words stand near each other somewhere."""
    first = held[0]
    return any(
        all(any(abs(p - start) <= _NEAR for p in places[w]) for w in held)
        for start in places[first]
    )
