"""What the catalogue expects of past cases, for the fit to count against."""

from collections.abc import Mapping
from functools import lru_cache

import numpy as np

from mendpool.core.diagnosis.beliefs import cure_of
from mendpool.core.diagnosis.complaint import UNLISTED
from mendpool.core.diagnosis.facts import KIND_FIELDS
from mendpool.core.diagnosis.knowledge import Array, Knowledge
from mendpool.core.evidence.attempts_board import CauseTable, Row
from mendpool.core.evidence.case import Case
from mendpool.core.evidence.expectations import Expectations

_THINKABLE = 0.02
"""A cause with less than this of the likeliest one's likelihood is not thought of."""


def expectations(knowledge: Knowledge) -> Expectations:
    """Return what this catalogue expects."""
    usual = knowledge.weights(knowledge.any_kind).prior
    rows_of: dict[str, list[Row]] = {key: [row] for key, row in knowledge.row.items()}
    rows_of.update(knowledge.rows_of_component)

    @lru_cache(maxsize=4096)
    def by_symptoms(kind: tuple[str | int | None, ...], symptoms: tuple[str, ...]) -> Array:
        weights = knowledge.weights(kind)
        rate = weights.joint[:-1] / np.maximum(weights.prior[:-1], 1e-12)[:, None]
        columns = [knowledge.column[code] for code in symptoms if code in knowledge.column]
        told = rate[:, columns].sum(axis=1) if columns else np.ones(len(knowledge.keys))
        told = told + UNLISTED * float(told.mean())
        return np.where(weights.admitted[:-1], told, 0.0)

    def likelihood(case: Case) -> Mapping[Row, float]:
        kind = tuple(case.kind.get(field) for field in KIND_FIELDS)
        told = by_symptoms(kind, tuple(sorted(case.symptoms)))
        for entry in case.found:
            check, result = entry.split("=", 1)
            table = knowledge.results.get(check)
            if table is not None and result in table[0]:
                told = told * table[1][table[0].index(result), :-1]
        likely = np.flatnonzero(told > _THINKABLE * float(told.max(initial=0.0)))
        return {int(row): float(told[row]) for row in likely}

    return Expectations(
        keys=knowledge.keys,
        of_kind=knowledge.expected,
        causes=CauseTable(
            share=usual.tolist(),
            rows_of=rows_of,
            cure=lambda row, action: cure_of(knowledge, row, action),
        ),
        likelihood=likelihood,
        protections=frozenset(knowledge.catalogue.sets.protections),
    )
