"""How like a past case is to the set in trouble, 0 to 1, with reasons."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from mendpool.core.diagnosis.facts import Facts, terms_of
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


class Liker:
    """Compares cases with one question; the question's side is prepared once."""

    def __init__(self, facts: Facts, weights: Weights) -> None:
        """Take the facts and the weights of the fit in use."""
        self._weights = weights
        self._showing = frozenset(facts.symptoms)
        self._symptoms = weights.bag(f"s:{code}" for code in facts.symptoms)
        self._words = weights.bag(t for t in terms_of(facts) if t.startswith(("w:", "c:")))
        self._found = dict(facts.found or {})
        self._kind = facts.kind
        self._kind_factors = [
            (field, value, _OTHER.get(field, _OTHER_DETAIL))
            for field, value in facts.kind.items()
        ]
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
        places, of = self._shared(held)
        total, weight = np.zeros(len(held)), np.zeros(len(held))
        for squares, ours, share in (
            (symptoms, self._symptoms, _SYMPTOMS),
            (words, self._words, _WORDS),
        ):
            theirs = _sums(squares, held)
            both = np.bincount(of, squares[places], minlength=len(held))
            lengths = ours.length * np.sqrt(theirs)
            alike = np.divide(both, lengths, out=np.zeros(len(held)), where=lengths > 0)
            if ours is self._symptoms:
                speak = (theirs > 0) | bool(ours.terms)
            else:
                speak = (theirs > 0) & bool(ours.terms)
            weight[speak] += share
            total[speak] += share * alike[speak]
        self._count_readings(held, total, weight)
        score = np.divide(total, weight, out=np.zeros(len(held)), where=weight > 0).tolist()
        kinds: dict[int, float] = {}
        scores = []
        for one, case in zip(score, held.cases, strict=True):
            # Cases of an index share what is the same in many of them.
            kind = kinds.get(id(case.kind))
            if kind is None:
                kind = kinds[id(case.kind)] = self._same_kind(case.kind)
            less = one * kind
            if case.absent and not self._showing.isdisjoint(case.absent):
                less *= _DENIED
            less = round(less, 4)
            scores.append(less if less >= _FLOOR else 0.0)
        return scores

    def _shared(self, held: Candidates) -> tuple[Whole, Whole]:
        """Return where the question's terms are among those of the candidates, and in which."""
        ours = held.names.find(self._symptoms.terms | self._words.terms)
        flags = np.zeros(len(held.names), dtype=np.bool_)
        flags[list(ours.values())] = True
        places = np.flatnonzero(flags[held.numbers])
        return places, np.searchsorted(held.starts, places, "right") - 1

    def _count_readings(self, held: Candidates, total: Floats, weight: Floats) -> None:
        """Add the share of looks and readings made on both that showed the same."""
        if not self._found:
            return
        told: dict[str, bool | None] = {}
        for place, case in enumerate(held.cases):
            same = both = 0
            for entry in case.found:
                if entry not in told:
                    check, result = entry.split("=", 1)
                    ours = self._found.get(check)
                    told[entry] = None if ours is None else ours == result
                if (here := told[entry]) is not None:
                    both += 1
                    same += here
            if both:
                weight[place] += _READINGS
                total[place] += _READINGS * same / both

    def _same_kind(self, kind: Mapping[str, str | int]) -> float:
        factor = 1.0
        for field, value, other in self._kind_factors:
            # A field that is not known speaks neither for nor against.
            if kind.get(field, value) != value:
                factor *= other
        return factor

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


_OTHER = {"fuel": _OTHER_FUEL, "excitation": _OTHER_EXCITATION}


def _found(case: Case) -> dict[str, str]:
    return dict(entry.split("=", 1) for entry in case.found)


def _sums(values: Whole, held: Candidates) -> Whole:
    """Return the sum of each case's values, in whole numbers."""
    upto = np.zeros(len(values) + 1, dtype=np.int64)
    np.cumsum(values, out=upto[1:])
    return upto[held.starts[1:]] - upto[held.starts[:-1]]
