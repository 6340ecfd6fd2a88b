"""What single words tell of the part at fault: naive Bayes counts of one fit, as arrays."""

from collections.abc import Iterable
from math import fsum

import numpy as np

from mendpool.core.diagnosis.knowledge import Array, Knowledge
from mendpool.core.evidence.fit import Fit

CASES = 12.0
"""Pseudo-reports by which a word's rate under a part is held to its rate overall."""

TEMPER = 0.3
"""Words of one complaint are no independent witnesses."""

_LEAST_REPORTS = 30
_TOLD = ("w:", "c:", "n:")


class WordRates:
    """Counts of words by component at fault, ready for questions."""

    def __init__(self, knowledge: Knowledge, fit: Fit) -> None:
        self._fit = fit
        self._rows = knowledge.rows_of_component
        self._grand = fsum(fit.component_total.values())
        # A part under which a word never stood holds it down by this much, whatever the word.
        self._unseen = np.ones(len(knowledge.causes) + 1)
        for component, rows in self._rows.items():
            total = fit.component_total.get(component, 0.0)
            self._unseen[rows] = CASES / (total + CASES)

    def of(self, terms: Iterable[str]) -> tuple[str, Array] | None:
        """Return a name and a likelihood by cause for these terms; None if they tell nothing.

        Counting by part beats a vote of neighbours while the pool is small.
        """
        if self._grand < _LEAST_REPORTS:
            return None
        row = np.ones_like(self._unseen)
        told: list[tuple[int, str]] = []
        for term in terms:
            counts = self._fit.terms_of_cause.get(term)
            if not counts or not term.startswith(_TOLD):
                continue
            usual = fsum(counts.values()) / self._grand
            rate = self._unseen.copy()
            for component, count in counts.items():
                rows = self._rows.get(component, [])
                total = self._fit.component_total.get(component, 0.0)
                rate[rows] = (count / usual + CASES) / (total + CASES)
            rate[-1] = 1.0
            row *= rate**TEMPER
            told.append((self._fit.weights.get(term, 0), term[2:]))
        if not told:
            return None
        # Short words are seldom what a person would call a reason.
        telling = [pair for pair in told if len(pair[1]) > 3] or told
        strongest = dict.fromkeys(
            word for _, word in sorted(telling, key=lambda t: (-t[0], t[1]))
        )
        return f"words such as {', '.join(list(strongest)[:3])}", row
