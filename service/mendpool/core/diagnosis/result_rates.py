"""What a look or a reading showed, under each cause: the catalogue, and what the pool has seen.

Eight pseudo-cases of the catalogue's table against what was counted of that check and cause.
"""

from math import fsum

from mendpool.core.diagnosis.knowledge import Array, Knowledge
from mendpool.core.evidence.fit import Fit

RESULT_CASES = 8.0


class ResultRates:
    """The counts of one fit, ready for questions; a row is worked out when it is first asked.

    Any thread may ask: what two of them work out at once is the same.
    """

    def __init__(self, knowledge: Knowledge, fit: Fit) -> None:
        """Take the catalogue's tables and what a fit has counted."""
        self._knowledge = knowledge
        self._counted = fit.found
        self._rows: dict[tuple[str, str], Array] = {}

    def row(self, check: str, result: str) -> Array | None:
        """Return P(result | cause), to be read only; None for a result the check lacks."""
        held = self._rows.get((check, result))
        if held is None:
            table = self._knowledge.results.get(check)
            if table is None or result not in table[0]:
                return None
            codes, likelihood = table
            held = self._with_counts(check, result, likelihood[codes.index(result)].copy())
            self._rows[check, result] = held
        return held

    def _with_counts(self, check: str, result: str, row: Array) -> Array:
        for i, key in enumerate(self._knowledge.keys):
            counted = self._counted.get(f"{check}|{key}")
            if counted:
                row[i] = (RESULT_CASES * row[i] + counted.get(result, 0.0)) / (
                    RESULT_CASES + fsum(counted.values())
                )
        row.flags.writeable = False
        return row
