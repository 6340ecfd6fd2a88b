"""How like a past case is to the set in trouble, 0 to 1, with reasons."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from mendpool.core.diagnosis.facts import KIND_FIELDS, Facts, terms_of
from mendpool.core.evidence.candidates import Candidates, Names
from mendpool.core.evidence.case import Case
from mendpool.core.evidence.fit import Fit

_SYMPTOMS, _WORDS, _READINGS = 0.20, 0.60, 0.20
_OTHER_FUEL, _OTHER_EXCITATION, _OTHER_DETAIL = 0.6, 0.55, 0.92
_DENIED = 0.7
_FLOOR = 0.05

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Likeness:
    """How alike two cases are: a score from 0 to 1 and what they share."""

    score: float
    because: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Bag:
    """Terms with the length of their weight vector, for a weighted cosine."""

    terms: frozenset[str]
    length: float


class Weights:
    """How much each term tells, by one fit; by number as well, for many cases at once.

    Only terms that were met are looked up. Any thread may call it: what two of them write
    at once is the same.
    """

    def __init__(self, fit: Fit) -> None:
        """Take the weights of a fit."""
        self._weights = fit.weights
        self._usual = fit.usual_weight
        self._numbered = _Numbered(Names())

    def weight(self, term: str) -> int:
        """Return how much a term tells; one never seen is taken for rare."""
        return self._weights.get(term, self._usual)

    def bag(self, terms: Iterable[str]) -> Bag:
        """Return the terms with their length."""
        held = frozenset(terms)
        return Bag(held, sqrt(sum(self.weight(t) ** 2 for t in held)))

    def squares(self, held: Candidates) -> tuple[Whole, Whole]:
        """Return the squared weight of each term of the candidates, twice.

        First with 0 for what is no symptom, then with 0 for what is neither word nor part.
        """
        known = self._numbered
        if known.names is not held.names or len(known.symptoms) < len(held.names):
            known = self._numbered = _Numbered(held.names)
        symptoms = known.symptoms[held.numbers]
        unmet = symptoms < 0
        if unmet.any():
            for number in np.unique(held.numbers[unmet]).tolist():
                term = held.names.terms[number]
                square = self.weight(term) ** 2
                # Whoever finds the one finds the other.
                known.words[number] = square if term.startswith(("w:", "c:")) else 0
                known.symptoms[number] = square if term.startswith("s:") else 0
            symptoms = known.symptoms[held.numbers]
        return symptoms, known.words[held.numbers]


_ROOM = 4096


class _Numbered:
    """Squared weights by number, with room for terms to come; -1 for one not met yet."""

    def __init__(self, names: Names) -> None:
        self.names = names
        room = len(names) + len(names) // 8 + _ROOM
        self.symptoms = np.full(room, -1, dtype=np.int64)
        self.words = np.zeros(room, dtype=np.int64)


_SHARED, _DENYING, _SAME, _NOT_SAME, _FUEL, _EXCITATION, _DETAIL, _MARKS = range(1, 9)
"""What a term of a case is to the question, and one more than the last of these."""

_OTHER = {"fuel": _FUEL, "excitation": _EXCITATION}
_KIND_MARKS = [_FUEL, _EXCITATION, _DETAIL]
_MOST_KIND = [1, 1, len(KIND_FIELDS)]


def _times_kind() -> Floats:
    """Return what another kind of set multiplies by: other fuel, excitation, other details."""
    times = np.empty([most + 1 for most in _MOST_KIND])
    times[:, :, 0] = np.outer((1.0, _OTHER_FUEL), (1.0, _OTHER_EXCITATION))
    for details in range(len(KIND_FIELDS)):
        times[:, :, details + 1] = times[:, :, details] * _OTHER_DETAIL
    return times


_TIMES_KIND = _times_kind()


class Liker:
    """Compares cases with one question; the question's side is prepared once.

    What is compared are terms alone: they restate what a case says of the set, of what it
    did and did not do, of looks and readings, and of words and parts (`facts.terms_of`).
    """

    def __init__(self, facts: Facts, weights: Weights) -> None:
        """Take the facts and the weights of the fit in use."""
        self._weights = weights
        self._showing = [f"n:{code}" for code in facts.symptoms]
        self._symptoms = weights.bag(f"s:{code}" for code in facts.symptoms)
        self._words = weights.bag(t for t in terms_of(facts) if t.startswith(("w:", "c:")))
        self._found = dict(facts.found or {})
        self._kind = facts.kind
        self._order = sorted(
            self._symptoms.terms, key=lambda term: (-weights.weight(term), term)
        )

    def compare(self, case: Case) -> Likeness:
        """Return how like the case is, and why."""
        (score,) = self.scores([case])
        return Likeness(score, self.because(case) if score else ())

    def scores(self, cases: Sequence[Case]) -> list[float]:
        """Return how like each case is; parts that neither side speaks of do not count.

        Sums of weights are of whole numbers and every other step is one operation on
        doubles, so the scores are the same to the last digit however many are compared.
        """
        held = Candidates.of(cases)
        symptoms, words = self._weights.squares(held)
        places, of, marks = self._marked(held)
        total, weight = np.zeros(len(held)), np.zeros(len(held))
        shared = marks == _SHARED
        for squares, ours, share in (
            (symptoms, self._symptoms, _SYMPTOMS),
            (words, self._words, _WORDS),
        ):
            theirs = _sums(squares, held)
            both = np.bincount(of[shared], squares[places[shared]], minlength=len(held))
            lengths = ours.length * np.sqrt(theirs)
            alike = np.divide(both, lengths, out=np.zeros(len(held)), where=lengths > 0)
            if ours is self._symptoms:
                speak = (theirs > 0) | bool(ours.terms)
            else:
                speak = (theirs > 0) & bool(ours.terms)
            weight[speak] += share
            total[speak] += share * alike[speak]
        count = np.bincount(of * _MARKS + marks, minlength=len(held) * _MARKS)
        count = count.reshape(len(held), _MARKS)
        looks = count[:, _SAME] + count[:, _NOT_SAME]
        looked = looks > 0
        weight[looked] += _READINGS
        total[looked] += _READINGS * count[looked, _SAME] / looks[looked]
        less = np.divide(total, weight, out=np.zeros(len(held)), where=weight > 0)
        less *= _TIMES_KIND[tuple(np.minimum(count[:, _KIND_MARKS], _MOST_KIND).T)]
        less[count[:, _DENYING] > 0] *= _DENIED
        # Not NumPy's rounding, which multiplies first and may miss by one in the last place.
        return [score if (score := round(one, 4)) >= _FLOOR else 0.0 for one in less.tolist()]

    def _marked(self, held: Candidates) -> tuple[Whole, Whole, Whole]:
        """Return where the candidates' terms bear on the question's, in which case, and how.

        A case has one term at most of each check and each field of the set; what one side
        does not know speaks neither for nor against.
        """
        names = held.names
        shared = list(names.find(self._symptoms.terms | self._words.terms).values())
        denying = list(names.find(self._showing).values())
        of_sets: list[tuple[int, int]] = []
        for check, result in self._found.items():
            ours = f"r:{check}={result}"
            for term, number in names.headed(f"r:{check}="):
                of_sets.append((number, _SAME if term == ours else _NOT_SAME))
        for field, value in self._kind.items():
            ours = f"k:{field}={value}"
            for term, number in names.headed(f"k:{field}="):
                if term != ours:
                    of_sets.append((number, _OTHER.get(field, _DETAIL)))
        # Counted last: other threads give names to new terms all the while.
        marks = np.zeros(len(names), dtype=np.uint8)
        marks[shared] = _SHARED
        marks[denying] = _DENYING
        for number, mark in of_sets:
            marks[number] = mark
        marked = marks[held.numbers]
        places = np.flatnonzero(marked)
        of = np.searchsorted(held.starts, places, "right") - 1
        return places, of, marked[places].astype(np.int64)

    def because(self, case: Case) -> tuple[str, ...]:
        """Return what the case shares with the question, the rarest symptom first."""
        theirs, found = frozenset(case.terms), _found(case)
        reasons = [term[2:] for term in self._order if term in theirs]
        reasons += [
            f"{check} {result}"
            for check, result in sorted(self._found.items())
            if found.get(check) == result
        ]
        reasons += [
            str(value)
            for field, value in self._kind.items()
            if field in _OTHER and case.kind.get(field) == value
        ]
        return tuple(reasons[:6])


def _found(case: Case) -> dict[str, str]:
    return dict(entry.split("=", 1) for entry in case.found)


def _sums(values: Whole, held: Candidates) -> Whole:
    """Return the sum of each case's values, in whole numbers."""
    upto = np.zeros(len(values) + 1, dtype=np.int64)
    np.cumsum(values, out=upto[1:])
    return upto[held.starts[1:]] - upto[held.starts[:-1]]
