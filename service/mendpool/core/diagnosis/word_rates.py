"""What the pool has taught of words and causes, counted against what was expected.

One formula for all of it: a count n where E was expected makes something (n + k) / (E + k)
times as likely as the catalogue thought. It is the posterior mean of a rate with a gamma
prior worth k sightings, so that one sighting alone moves little.

Source:
    Gamma-Poisson update, NUREG/CR-6823 section 6.2.2.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from mendpool.core.catalogue.model import Cause
from mendpool.core.diagnosis.knowledge import Array, Knowledge
from mendpool.core.diagnosis.spoken import OF_ANYTHING, OF_CAUSE, OF_SYMPTOM, Spoken
from mendpool.core.evidence.fit import Fit
from mendpool.core.evidence.intervals import unseen_share

COMMON_SIGHTINGS = 5.0
PART_SIGHTINGS, CAUSE_SIGHTINGS = 3.0, 1.5
"""What the catalogue counts for, in sightings: of how common a cause is, and of a word under
a part, and under one of its causes beside the part's others."""

USUAL_WORDS = 3000.0
"""Words of the pool by which the catalogue's usual rate of a word is held."""

TEMPER, LEARNED = 0.55, 0.8
"""Words of one complaint are no independent witnesses; and what was counted is trusted a
little less than it says. Chosen, like the sightings, by log loss on the bench's tuning
worlds; methods section 3 asks for it."""

MOST_WORDS = 200
_TOLD_LEAST = 1.3


@dataclass(frozen=True, slots=True)
class Heard:
    """What the words of a complaint tell.

    Args:
        by_both: times likelier under each cause (rows) and symptom (columns), the
            catalogue's part; tempered.
        by_symptom: the same with nothing given away, by symptom.
        by_cause: what the pool has taught besides, by cause; tempered.
        telling: the words that tell causes apart, strongest first.
    """

    by_both: Array
    by_symptom: Array
    by_cause: Array
    telling: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Tells:
    """One word: shares of its rate over the usual, what the pool taught (log), and how much."""

    by_symptom: Array
    by_cause: Array
    taught: Array | None
    strength: float


class WordRates:
    """The counts of one fit, ready for questions."""

    def __init__(self, knowledge: Knowledge, fit: Fit, spoken: Spoken) -> None:
        self.spoken = spoken
        self._rows = len(knowledge.keys)
        self._part = _part_of_row(knowledge.causes)
        self._usually = knowledge.symptoms_of_causes()
        self._spread = _Spread(knowledge)
        self._total = self._spread.over_rows(fit.cause_total)
        self._length = self._spread.over_rows(fit.cause_length)
        self._counts: dict[str, dict[str, float]] = {}
        self._words: dict[str, float] = defaultdict(float)
        for word, count in fit.word_count.items():
            self._words[spoken.same.get(word, word)] += count
        for word, counts in fit.words_of_cause.items():
            held = self._counts.setdefault(spoken.same.get(word, word), defaultdict(float))
            for cause, count in counts.items():
                held[cause] += count
        self._all = sum(self._words.values())
        self._told: dict[str, _Tells] = {}
        self.commonness = self._commonness(fit)
        listed = knowledge.row
        unlisted = [v for k, v in fit.cause_total.items() if "/" in k and k not in listed]
        self.unlisted = unseen_share(
            unlisted, pseudo=sum(fit.cause_total.values()) + self._rows
        )

    def _commonness(self, fit: Fit) -> Array:
        """How many times commoner than the catalogue thought each cause has proved."""
        if not fit.cause_expected:
            return np.ones(self._rows)
        expected = self._spread.over_rows(fit.cause_expected)
        return np.asarray((self._total + COMMON_SIGHTINGS) / (expected + COMMON_SIGHTINGS))

    def usual(self, word: str) -> float:
        """Return how often the word is said whatever the trouble, catalogue and pool."""
        expected = USUAL_WORDS * self.spoken.usual(word)
        return (expected + self._words.get(word, 0.0)) / (USUAL_WORDS + self._all)

    def hear(self, words: Iterable[str]) -> Heard:
        """Return what the words of a complaint tell of causes and symptoms."""
        both = np.ones((self._rows, self._usually.shape[1]))
        times = np.empty_like(both)
        symptom = np.ones(self._usually.shape[1])
        learned = np.zeros(self._rows)
        told: list[tuple[float, str]] = []
        for word in self.spoken.plain(words)[:MOST_WORDS]:
            known = self.spoken.knows(word)
            if not known and word not in self._words:
                continue
            tells = self._tells(word)
            if known:
                np.add(OF_ANYTHING + tells.by_symptom, tells.by_cause[:, None], out=times)
                both *= times
                symptom *= OF_ANYTHING + OF_CAUSE + tells.by_symptom
            if tells.taught is not None:
                learned += tells.taught
            told.append((tells.strength, word))
        strongest = sorted(told, key=lambda t: (-t[0], t[1]))
        np.power(both, TEMPER, out=both)
        return Heard(
            both,
            symptom**TEMPER,
            np.exp(TEMPER * LEARNED * learned),
            tuple(word for times, word in strongest if times > _TOLD_LEAST),
        )

    def _tells(self, word: str) -> "_Tells":
        """What one word tells: the same for every question, so it is worked out once."""
        held = self._told.get(word)
        if held is None:
            usual = self.usual(word)
            by_symptom = OF_SYMPTOM / usual * self.spoken.with_symptom(word)
            by_cause = OF_CAUSE / usual * self.spoken.with_cause(word)
            taught = self._taught(word, usual)
            times = OF_ANYTHING + OF_SYMPTOM + by_cause
            strength = float((times if taught is None else times * taught).max())
            log_taught = None if taught is None else np.log(taught)
            held = self._told[word] = _Tells(by_symptom, by_cause, log_taught, strength)
        return held

    def _taught(self, word: str, usual: float) -> Array | None:
        """How many times oftener than expected the word came with each cause."""
        held = self._counts.get(word)
        if held is None:
            return None
        count = self._spread.over_rows(held)
        expected = self._length * (
            OF_SYMPTOM * (self._usually @ self.spoken.with_symptom(word))
            + OF_CAUSE * self.spoken.with_cause(word)
            + OF_ANYTHING * usual
        )
        part = (np.bincount(self._part, count) + PART_SIGHTINGS) / (
            np.bincount(self._part, expected) + PART_SIGHTINGS
        )
        return np.asarray(
            (count + CAUSE_SIGHTINGS) / (expected + CAUSE_SIGHTINGS / part[self._part])
        )


class _Spread:
    """Puts counts by cause onto rows; a part named alone is spread over its causes."""

    def __init__(self, knowledge: Knowledge) -> None:
        self._rows = len(knowledge.keys)
        self._row = knowledge.row
        usual = knowledge.weights(knowledge.any_kind).prior[:-1]
        self._parts: dict[str, tuple[list[int], Array]] = {}
        for component, rows in knowledge.rows_of_component.items():
            share = usual[rows] + 1e-9
            self._parts[component] = (rows, share / share.sum())

    def over_rows(self, counts: Mapping[str, float]) -> Array:
        """Return the counts by row; a cause the catalogue does not list goes to its part."""
        by_row = np.zeros(self._rows)
        for cause, count in counts.items():
            row = self._row.get(cause)
            if row is not None:
                by_row[row] += count
                continue
            rows, share = self._parts.get(cause.split("/", 1)[0], ([], np.zeros(0)))
            if rows:
                by_row[rows] += count * share
        return by_row


def _part_of_row(causes: Sequence[Cause]) -> "np.typing.NDArray[np.intp]":
    parts = {c: i for i, c in enumerate(sorted({cause.component for cause in causes}))}
    return np.array([parts[cause.component] for cause in causes], dtype=np.intp)
