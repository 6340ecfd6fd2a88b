"""How like a past case is to the set in trouble, 0 to 1, with reasons."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import sqrt

from mendpool.core.diagnosis.facts import Facts, terms_of
from mendpool.core.evidence.case import Case
from mendpool.core.evidence.fit import Fit

_SYMPTOMS, _WORDS, _READINGS = 0.20, 0.60, 0.20
_OTHER_FUEL, _OTHER_EXCITATION, _OTHER_DETAIL = 0.6, 0.55, 0.92
_DENIED = 0.7
_FLOOR = 0.05
_PROFILES_MOST = 50_000


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


@dataclass(frozen=True, slots=True)
class Profile:
    """A case made ready for comparing: what it shows, what it says, what was found."""

    symptoms: Bag
    words: Bag
    found: Mapping[str, str]
    absent: frozenset[str]


class Profiles:
    """Makes profiles by the weights of one fit and keeps them."""

    def __init__(self, fit: Fit) -> None:
        self._weights = fit.weights
        self._usual = fit.usual_weight
        self._kept: dict[str, Profile] = {}

    def weight(self, term: str) -> int:
        """Return how much a term tells; one never seen is taken for rare."""
        return self._weights.get(term, self._usual)

    def bag(self, terms: Iterable[str]) -> Bag:
        """Return the terms with their length."""
        held = frozenset(terms)
        return Bag(held, sqrt(sum(self.weight(t) ** 2 for t in held)))

    def of(self, case: Case) -> Profile:
        """Return a case's profile; a report never changes, so it is made once."""
        profile = self._kept.get(case.id)
        if profile is None:
            if len(self._kept) >= _PROFILES_MOST:
                self._kept.clear()
            profile = Profile(
                self.bag(t for t in case.terms if t.startswith("s:")),
                self.bag(t for t in case.terms if t.startswith(("w:", "c:"))),
                dict(entry.split("=", 1) for entry in case.found),
                frozenset(case.absent),
            )
            self._kept[case.id] = profile
        return profile


class Liker:
    """Compares cases with one question; the question's side is prepared once."""

    def __init__(self, facts: Facts, profiles: Profiles) -> None:
        """Take the facts and the profiles of the fit in use."""
        self._profiles = profiles
        self._showing = frozenset(facts.symptoms)
        self._symptoms = profiles.bag(f"s:{code}" for code in facts.symptoms)
        self._words = profiles.bag(t for t in terms_of(facts) if t.startswith(("w:", "c:")))
        self._squares = {
            term: profiles.weight(term) ** 2
            for term in self._symptoms.terms | self._words.terms
        }
        self._found = dict(facts.found or {})
        self._kind = facts.kind
        self._kind_factors = [
            (field, value, _OTHER.get(field, _OTHER_DETAIL))
            for field, value in facts.kind.items()
        ]
        self._order = sorted(
            self._symptoms.terms, key=lambda term: (-profiles.weight(term), term)
        )

    def compare(self, case: Case) -> Likeness:
        """Return how like the case is, and why."""
        score = self.score(case)
        return Likeness(score, self.because(case) if score else ())

    def score(self, case: Case) -> float:
        """Return how like the case is; parts that neither side speaks of do not count."""
        their = self._profiles.of(case)
        weight = total = 0.0
        if self._symptoms.terms or their.symptoms.terms:
            weight += _SYMPTOMS
            total += _SYMPTOMS * self._alike(self._symptoms, their.symptoms)
        if self._words.terms and their.words.terms:
            weight += _WORDS
            total += _WORDS * self._alike(self._words, their.words)
        if self._found and (both := self._found.keys() & their.found.keys()):
            same = sum(self._found[check] == their.found[check] for check in both)
            weight += _READINGS
            total += _READINGS * same / len(both)
        score = (total / weight if weight else 0.0) * self._same_kind(case)
        if their.absent and not self._showing.isdisjoint(their.absent):
            score *= _DENIED
        score = round(score, 4)
        return score if score >= _FLOOR else 0.0

    def _alike(self, ours: Bag, theirs: Bag) -> float:
        """Return the weighted cosine of two bags: rare terms weigh more."""
        if not ours.length or not theirs.length:
            return 0.0
        shared = ours.terms & theirs.terms
        if not shared:
            return 0.0
        return sum(map(self._squares.__getitem__, shared)) / (ours.length * theirs.length)

    def _same_kind(self, case: Case) -> float:
        factor = 1.0
        kind = case.kind.get
        for field, value, other in self._kind_factors:
            their = kind(field)
            if their is not None and their != value:
                factor *= other
        return factor

    def because(self, case: Case) -> tuple[str, ...]:
        """Return what the case shares with the question, the rarest symptom first."""
        their = self._profiles.of(case)
        reasons = [term[2:] for term in self._order if term in their.symptoms.terms]
        reasons += [
            f"{check} {result}"
            for check, result in sorted(self._found.items())
            if their.found.get(check) == result
        ]
        reasons += [
            str(value)
            for field, value in self._kind.items()
            if field in _OTHER and case.kind.get(field) == value
        ]
        return tuple(reasons[:6])


_OTHER = {"fuel": _OTHER_FUEL, "excitation": _OTHER_EXCITATION}
