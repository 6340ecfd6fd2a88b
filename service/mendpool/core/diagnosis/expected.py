"""What the catalogue expects of past reports, for the fit to count against."""

import json
from collections.abc import Mapping, Sequence

import numpy as np

from mendpool.core.diagnosis.beliefs import cure_of
from mendpool.core.diagnosis.complaint import UNLISTED
from mendpool.core.diagnosis.kinds_at_once import KindsAtOnce, OfKinds
from mendpool.core.diagnosis.knowledge import Array, Knowledge
from mendpool.core.evidence.attempts_board import CauseTable, Row
from mendpool.core.evidence.expectations import Asked, Expectations
from mendpool.core.evidence.ledger import Block, Names, Numbers, gathered

_THINKABLE = 0.02
"""A cause with less than this of the likeliest one's likelihood is not thought of."""


def expectations(knowledge: Knowledge) -> Expectations:
    """Return what this catalogue expects."""
    rows_of: dict[str, list[Row]] = {key: [row] for key, row in knowledge.row.items()}
    rows_of.update(knowledge.rows_of_component)
    usual = knowledge.weights(knowledge.any_kind).prior
    at_once = knowledge.kinds_at_once

    def ask(names: Mapping[str, Names]) -> Asked:
        of_kinds = at_once.of([dict(json.loads(kind)) for kind in names["kind"].names])
        column = [knowledge.column.get(code, -1) for code in names["symptom"].names]
        columns, tables = np.array(column, np.int64), _tables(knowledge, names["found"].names)

        def likelihoods(block: Block) -> Array:
            told = np.zeros((len(block), len(knowledge.keys) + 1))
            told[:, :-1] = _by_symptoms(at_once, of_kinds, block, columns)
            _weigh_found(told, tables, block)
            told[told <= _THINKABLE * told.max(axis=1, keepdims=True)] = 0.0
            return told

        return Asked(of_kinds.row, of_kinds.prior, likelihoods)

    return Expectations(
        keys=knowledge.keys,
        causes=CauseTable(
            share=usual.tolist(),
            rows_of=rows_of,
            cure=lambda row, action: cure_of(knowledge, row, action),
        ),
        ask=ask,
        protections=frozenset(knowledge.catalogue.sets.protections),
    )


def _by_symptoms(at_once: KindsAtOnce, of: OfKinds, block: Block, columns: Numbers) -> Array:
    """How likely each cause makes the symptoms that were told, on such a set."""
    kind, told = of.row[block["kind"]], block.ragged("symptom")
    known = columns[told.entries] >= 0
    column, owner = columns[told.entries][known], told.owners[known]
    begins, pair = gathered(at_once.begins, column)
    owner = np.repeat(owner, np.diff(begins))
    causes = of.prior.shape[1]
    sums = np.bincount(
        owner * causes + at_once.cause[pair],
        at_once.rates(of, kind[owner], pair),
        minlength=len(block) * causes,
    )
    likely: Array = sums.astype(np.float64).reshape(len(block), causes)
    likely[np.bincount(told.owners[known], minlength=len(block)) == 0] = 1.0
    likely += UNLISTED * likely.mean(axis=1, keepdims=True)
    likely[~of.admitted[kind]] = 0.0
    return likely


def _tables(knowledge: Knowledge, found: Sequence[str]) -> Array:
    """P(what was found | cause) of each ``check=result``; 1 of what says nothing here."""
    tables = np.ones((len(found), len(knowledge.keys) + 1))
    for number, entry in enumerate(found):
        check, result = entry.split("=", 1)
        table = knowledge.results.get(check)
        if table is not None and result in table[0]:
            tables[number] = table[1][table[0].index(result)]
    return tables


def _weigh_found(told: Array, tables: Array, block: Block) -> None:
    """Weigh in what was found, one entry of every report at a time."""
    found = block.ragged("found")
    for place in range(int(found.lengths.max(initial=0))):
        rows = np.flatnonzero(found.lengths > place)
        told[rows] *= tables[found.entries[found.begins[rows] + place]]
