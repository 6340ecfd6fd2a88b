"""What a text leans towards when no phrase is said outright.

Each symptom's aliases and hints are taken as bags of words, words that mean the same made
one. A word that few symptoms use tells much, a word that many use tells little (inverse
document frequency over symptoms). A text that holds most of a bag by that weight, in any
order and near together, leans to its symptom.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import fsum, log

import numpy as np
import numpy.typing as npt

from mendpool.core.text.words import BREAK, NOT

_ENOUGH = 0.6
_SUREST = 0.7
_NEAR = 12
_PER_PLACE = 0.06
_TINY = 1e-9
_ROUNDED = 0.01
"""More than the last place of a leaning is worth, by weight: who gets it is decided exactly."""
_LEAST_WEIGHT = 2.0
_NEW = 0.5
_LEANINGS_MOST = 2
"""On the co-op's complaints a third was right one time in eighteen."""

_EACH_ITSELF: Mapping[str, str] = {}

Places = Mapping[str, Sequence[int]]
Weights = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Bag:
    """An alias as a bag of words; `denied` is the word that its "not" belongs to."""

    words: frozenset[str]
    denied: str | None

    @property
    def order(self) -> tuple[list[str], str]:
        """What bags are put in a steady order by."""
        return sorted(self.words), self.denied or ""


class Leanings:
    """Bags of words by code."""

    def __init__(
        self,
        phrases: Mapping[str, Iterable[Sequence[str]]],
        same: Mapping[str, str] = _EACH_ITSELF,
    ) -> None:
        """Take for each code its phrases, each already cut into stems.

        Args:
            phrases: the phrases by code.
            same: stems that mean what another means, each to the one that stands for it.
        """
        self._same = same
        bags = {
            code: {_bag([same.get(w, w) for w in v]) for v in variants if v}
            for code, variants in phrases.items()
        }
        used: dict[str, int] = {}
        for variants in bags.values():
            for word in {word for bag in variants for word in bag.words}:
                used[word] = used.get(word, 0) + 1
        self._weight = {w: log(1 + len(bags) / n) for w, n in used.items()}
        self._bags = [
            (code, bag)
            for code, variants in bags.items()
            for bag in sorted(variants, key=lambda bag: bag.order)
        ]
        self._whole = [fsum(self._weight[w] for w in bag.words) for _, bag in self._bags]
        by_word: dict[str, list[int]] = {}
        for number, (_, bag) in enumerate(self._bags):
            for word in bag.words:
                by_word.setdefault(word, []).append(number)
        self._by_word = {
            word: (np.array(numbers), np.full(len(numbers), self._weight[word]))
            for word, numbers in by_word.items()
        }
        self._enough = np.maximum(_LEAST_WEIGHT, _ENOUGH * np.array(self._whole)) - _TINY
        self._enough_by: dict[float, Weights] = {}

    def lean(
        self,
        words: Sequence[str],
        negated: Sequence[bool],
        taken: Collection[int] = (),
        least: float = 0.0,
    ) -> dict[str, float]:
        """Return how far a text leans to each code, 0 to 0.7; codes it doesn't are left out.

        Args:
            words: stems, breaks and "not" among them.
            negated: for each place, whether it stands in the scope of a negation.
            taken: places whose words already say something outright. They may help, but
                half of what leans, by weight, must be other words.
            least: codes it leans to by less are not wanted; it saves looking at them.
        """
        said: dict[str, list[int]] = {}
        denials: list[dict[str, list[int]]] = []
        for place, word in enumerate(self._same.get(w, w) for w in words):
            if word == NOT:
                denials.append({})
            if word not in self._weight or word == BREAK:
                continue
            within = denials[-1] if negated[place] else said
            within.setdefault(word, []).append(place)
        best: dict[str, float] = {}
        for number in self._near({*said, *(w for denial in denials for w in denial)}, least):
            code, bag = self._bags[number]
            # "Not" in an alias denies a word of it: the text must deny the same one. Words
            # that another "not" denies are not there at all.
            ways = (
                [said]
                if bag.denied is None
                else [_both(said, denial) for denial in denials if bag.denied in denial]
            )
            for places in ways:
                beaten = best.get(code, 0.0)
                best[code] = max(beaten, self._held(number, places, taken, beaten))
        return {code: value for code, value in best.items() if value > 0 and value >= least}

    def _near(self, words: Iterable[str], least: float) -> list[int]:
        """The bags that hold enough of the words, wherever those stand."""
        held = [self._by_word[word] for word in words]
        if not held:
            return []
        numbers = np.concatenate([bags for bags, _ in held])
        weights = np.concatenate([weights for _, weights in held])
        summed = np.bincount(numbers, weights, len(self._bags))
        near: list[int] = np.flatnonzero(summed > self._enough_for(least)).tolist()
        return near

    def _enough_for(self, least: float) -> Weights:
        """What a bag must hold, by weight, to lean so far with all its words together."""
        enough = self._enough_by.get(least)
        if enough is None:
            # `_held` the other way round: what is held, times the lesser of it and twice the
            # least weight, makes up so much of the whole.
            telling, whole = (least / _SUREST) ** 0.5, np.array(self._whole)
            double = 2 * _LEAST_WEIGHT
            needed = np.maximum(telling * whole, np.sqrt(telling * double * whole))
            enough = np.maximum(self._enough, needed - _ROUNDED)
            self._enough_by[least] = enough
        return enough

    def _held(self, number: int, places: Places, taken: Collection[int], least: float) -> float:
        """How far a text leans by one bag; nothing where that can't be more than `least`."""
        bag = self._bags[number][1]
        held = [w for w in bag.words if w in places]
        # One word of many, however rare, is no saying: a part's name alone says no symptom.
        if len(held) < min(2, len(bag.words)):
            return 0.0
        weight = fsum([self._weight[w] for w in held])
        share = weight / self._whole[number]
        telling = share * min(1.0, weight / (2 * _LEAST_WEIGHT))
        at_most = round(_SUREST * telling**2, 4)
        if share < _ENOUGH or weight < _LEAST_WEIGHT or at_most <= least:
            return 0.0
        new = fsum([self._weight[w] for w in held if not all(p in taken for p in places[w])])
        if new < _NEW * weight - _TINY:
            return 0.0
        # Squared: on complaints with a known truth, half as much held was right a quarter
        # as often, and what was held whole in about six cases of ten.
        return round(_SUREST * (telling * _nearness(held, places)) ** 2, 4)


def _bag(phrase: Sequence[str]) -> _Bag:
    after = [word for before, word in pairwise(phrase) if before == NOT]
    return _Bag(frozenset(phrase), after[0] if after else None)


def _both(one: Places, other: Places) -> Places:
    return {word: [*one.get(word, ()), *other.get(word, ())] for word in [*one, *other]}


def _nearness(held: Sequence[str], places: Places) -> float:
    """Tell how near each other the words stand at best: 1 side by side, 0 too far apart."""
    if all(len(places[word]) == 1 for word in held):
        # Each word once, as is usual: the middle one is nearest to the two at the ends.
        stand = sorted(places[word][0] for word in held)
        apart = min(max(place - stand[0], stand[-1] - place) for place in stand)
    else:
        apart = min(
            max(min(abs(place - start) for place in places[word]) for word in held)
            for first in held
            for start in places[first]
        )
    return 0.0 if apart > _NEAR else 1.0 - _PER_PLACE * max(0, apart - len(held))


def floor_of(said: Mapping[str, float]) -> float:
    """Return how far a text must lean to a code to be taken to mean it."""
    return 0.45 if said else 0.2


def with_leanings(
    said: Mapping[str, float], leaning: Mapping[str, float], denied: set[str]
) -> dict[str, float]:
    """Add what the text leans to: much where nothing was said outright, else only near sure."""
    floor = floor_of(said)
    more = sorted(
        (
            (v, c)
            for c, v in leaning.items()
            if c not in said and c not in denied and v >= floor
        ),
        key=lambda pair: (-pair[0], pair[1]),
    )
    return {**said, **{code: value for value, code in more[:_LEANINGS_MOST]}}
