"""What people say: how often each word comes with a symptom, with a cause, or with anything.

Made from the catalogue alone. Each word of a complaint is taken to tell what the set does
(the words of its symptom's aliases), to give the cause away (the words of its voices, its
part's names and how it failed), or to be said with any trouble. The shares of the three are
judgement, chosen by log loss on the bench's tuning worlds.
"""

from collections import defaultdict
from collections.abc import Iterable

import numpy as np

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.knowledge import Array, Knowledge
from mendpool.core.text.reader import Reader

OF_SYMPTOM, OF_CAUSE = 0.35, 0.20
OF_ANYTHING = 1.0 - OF_SYMPTOM - OF_CAUSE
HINT, NAME, FAILURE = 0.5, 0.5, 0.2
"""What a hint of a symptom, a name of a part and a word of a failure count beside one way of
saying it."""

LEAST = 1e-3
"""How often any word at all is expected among the words of a complaint."""

_MIX_SYMPTOMS_ASKED, _MIX_SYMPTOMS, _MIX_CAUSES = 0.5, 0.3, 0.2


Counts = defaultdict[str, float]


class Spoken:
    """The catalogue's words as rates. Make one and keep it."""

    def __init__(self, knowledge: Knowledge, reader: Reader) -> None:
        catalogue = knowledge.catalogue
        self.same = reader.same
        # A part's names stand under each of its causes, so each phrase is cut once.
        self._cut: dict[str, tuple[str, ...]] = {}
        by_symptom = [self._of_symptom(catalogue, c, reader) for c in knowledge.symptoms]
        by_cause = [
            self._of_cause(catalogue, row, reader) for row in range(len(knowledge.keys))
        ]
        self._cut.clear()
        self._place: dict[str, int] = {}
        for counts in (*by_symptom, *by_cause):
            for word in counts:
                self._place.setdefault(word, len(self._place))
        self._with_symptom = self._rates(by_symptom)
        self._with_cause = self._rates(by_cause)
        share = np.array([s.share for s in catalogue.symptoms.values()])
        self._usual = (
            _MIX_SYMPTOMS_ASKED * (share / share.sum()) @ self._with_symptom
            + _MIX_SYMPTOMS * self._with_symptom.mean(axis=0)
            + _MIX_CAUSES * self._with_cause.mean(axis=0)
            + LEAST
        )
        self._no_symptom = np.zeros(len(knowledge.symptoms))
        self._no_cause = np.zeros(len(knowledge.keys))

    def plain(self, words: Iterable[str]) -> list[str]:
        """Return the words with those that mean the same made one."""
        return [self.same.get(word, word) for word in words]

    def knows(self, word: str) -> bool:
        """Tell whether any alias or voice uses the word."""
        return word in self._place

    def with_symptom(self, word: str) -> Array:
        """Return P(a word of the complaint is this one | symptom), by symptom."""
        place = self._place.get(word)
        return self._no_symptom if place is None else self._with_symptom[:, place]

    def with_cause(self, word: str) -> Array:
        """Return P(a word that gives the cause away is this one | cause), by cause."""
        place = self._place.get(word)
        return self._no_cause if place is None else self._with_cause[:, place]

    def usual(self, word: str) -> float:
        """Return how often the word is said whatever the trouble."""
        place = self._place.get(word)
        return LEAST if place is None else float(self._usual[place])

    def _of_symptom(self, catalogue: Catalogue, code: str, reader: Reader) -> Counts:
        symptom = catalogue.symptoms[code]
        counts: Counts = defaultdict(float)
        for said in (*symptom.aliases, symptom.label):
            self._add(counts, said, 1.0, reader)
        for said in symptom.hints:
            self._add(counts, said, HINT, reader)
        return counts

    def _of_cause(self, catalogue: Catalogue, row: int, reader: Reader) -> Counts:
        cause = catalogue.causes[row]
        component = catalogue.components[cause.component]
        counts: Counts = defaultdict(float)
        for said in catalogue.voices.get(cause.key, ()):
            self._add(counts, said, 1.0, reader)
        for said in (component.label, *component.aliases):
            self._add(counts, said, NAME, reader)
        for said in catalogue.words.failures.get(cause.failure, ()):
            self._add(counts, said, FAILURE, reader)
        return counts

    def _add(self, counts: Counts, said: str, weight: float, reader: Reader) -> None:
        words = self._cut.get(said)
        if words is None:
            words = self._cut[said] = tuple(dict.fromkeys(self.plain(reader.telling(said))))
        for word in words:
            counts[word] += weight

    def _rates(self, counted: list[Counts]) -> Array:
        table = np.zeros((len(counted), len(self._place)))
        for row, counts in enumerate(counted):
            for word, count in counts.items():
                table[row, self._place[word]] = count
        return np.asarray(table / np.maximum(table.sum(axis=1, keepdims=True), 1.0))
