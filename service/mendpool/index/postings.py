"""Postings by canonical term: the candidates of a question by summed integer weights."""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from mendpool.core.evidence.case import Case, Seen

Rows = NDArray[np.int64]

_NONE: Rows = np.zeros(0, dtype=np.int64)


class Postings:
    """The cases held, found by their terms. Not safe for writers and readers at once."""

    def __init__(self) -> None:
        self._cases: list[Case | None] = []
        self._row_of: dict[str, int] = {}
        self._postings: dict[str, list[int]] = {}
        self._frozen: dict[str, Rows] = {}

    def __len__(self) -> int:
        return len(self._row_of)

    def add(self, case: Case) -> None:
        """Hold a case; the same id again changes nothing (reports never change)."""
        if case.id in self._row_of:
            return
        row = len(self._cases)
        self._cases.append(case)
        self._row_of[case.id] = row
        for term in case.terms:
            self._postings.setdefault(term, []).append(row)
            self._frozen.pop(term, None)

    def follow_up(self, report_id: str, seen: Seen) -> None:
        """Add what was seen later; follow-ups stay in the order of their months."""
        row = self._row_of.get(report_id)
        case = None if row is None else self._cases[row]
        if row is not None and case is not None:
            followups = tuple(sorted((*case.followups, seen)))
            self._cases[row] = case._replace(followups=followups)

    def remove(self, report_id: str) -> None:
        """Forget a withdrawn case."""
        row = self._row_of.pop(report_id, None)
        case = None if row is None else self._cases[row]
        if row is None or case is None:
            return
        self._cases[row] = None
        for term in case.terms:
            self._postings[term].remove(row)
            self._frozen.pop(term, None)

    def get(self, report_id: str) -> Case | None:
        """Return a case by its report's id."""
        row = self._row_of.get(report_id)
        return None if row is None else self._cases[row]

    def cases(self) -> Iterable[Case]:
        """Return every case held, in the order of coming."""
        return (case for case in self._cases if case is not None)

    def search(self, weights: Mapping[str, int], limit: int = 300) -> Sequence[Case]:
        """Return at most `limit` cases by score (highest first), then id.

        The score is the sum of the weights of the terms a case shares with the question:
        integers, so that it is the same in every process.
        """
        scores = np.zeros(len(self._cases), dtype=np.int64)
        for term, weight in weights.items():
            scores[self._rows(term)] += weight
        rows = np.flatnonzero(scores)
        if len(rows) > limit:
            # Everything that ties with the last place stays in until ids have decided.
            floor = np.partition(scores[rows], len(rows) - limit)[len(rows) - limit]
            rows = rows[scores[rows] >= floor]
        found = [
            (int(scores[row]), case) for row in rows if (case := self._cases[row]) is not None
        ]
        found.sort(key=lambda pair: (-pair[0], pair[1].id))
        return [case for _, case in found[:limit]]

    def _rows(self, term: str) -> Rows:
        rows = self._frozen.get(term)
        if rows is None:
            held = self._postings.get(term)
            if not held:
                # Not kept: a question may hold any word at all.
                return _NONE
            rows = np.array(held, dtype=np.int64)
            self._frozen[term] = rows
        return rows
