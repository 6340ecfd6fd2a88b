"""What the catalogue expects of past reports, for the fit to count against."""

import json
from collections.abc import Mapping, Sequence

import numpy as np

from mendpool.core.diagnosis.beliefs import cure_of
from mendpool.core.diagnosis.complaint import UNLISTED
from mendpool.core.diagnosis.kinds_at_once import KindsAtOnce
from mendpool.core.diagnosis.knowledge import Array, Knowledge
from mendpool.core.evidence.attempts_board import CauseTable, Row
from mendpool.core.evidence.expectations import Expectations
from mendpool.core.evidence.ledger import Block, Names

_THINKABLE = 0.02
"""A cause with less than this of the likeliest one's likelihood is not thought of."""


def expectations(knowledge: Knowledge) -> Expectations:
    """Return what this catalogue expects."""
    rows_of: dict[str, list[Row]] = {key: [row] for key, row in knowledge.row.items()}
    rows_of.update(knowledge.rows_of_component)
    usual = knowledge.weights(knowledge.any_kind).prior
    at_once = knowledge.kinds_at_once

    def of_kinds(kinds: Sequence[Mapping[str, str | int]]) -> Array:
        return at_once.of(kinds).prior

    def likelihoods(block: Block, names: Mapping[str, Names]) -> Array:
        told = np.zeros((len(block), len(knowledge.keys) + 1))
        told[:, :-1] = _by_symptoms(knowledge, at_once, block, names)
        _weigh_found(told, knowledge, block, names["found"].names)
        told[told <= _THINKABLE * told.max(axis=1, keepdims=True)] = 0.0
        return told

    return Expectations(
        keys=knowledge.keys,
        of_kinds=of_kinds,
        causes=CauseTable(
            share=usual.tolist(),
            rows_of=rows_of,
            cure=lambda row, action: cure_of(knowledge, row, action),
        ),
        likelihoods=likelihoods,
        protections=frozenset(knowledge.catalogue.sets.protections),
    )


def _by_symptoms(
    knowledge: Knowledge, at_once: KindsAtOnce, block: Block, names: Mapping[str, Names]
) -> Array:
    """How likely each cause makes the symptoms that were told, on such a set."""
    kinds, kind_of = np.unique(block["kind"], return_inverse=True)
    of_kinds = at_once.of([dict(json.loads(names["kind"].names[kind])) for kind in kinds])
    column = [knowledge.column.get(code, -1) for code in names["symptom"].names]
    symptoms = block.ragged("symptom")
    listed = np.array(column, dtype=np.int64)[symptoms.entries]
    times = np.zeros((len(block), len(knowledge.symptoms)))
    np.add.at(times, (symptoms.owners[listed >= 0], listed[listed >= 0]), 1.0)
    told = at_once.by_cause(of_kinds.rate[kind_of] * times[:, at_once.symptom])
    told[times.sum(axis=1) == 0] = 1.0
    told += UNLISTED * told.mean(axis=1, keepdims=True)
    told[~of_kinds.admitted[kind_of]] = 0.0
    return told


def _weigh_found(told: Array, knowledge: Knowledge, block: Block, names: Sequence[str]) -> None:
    """Weigh in what was found, an entry of every report at a time."""
    tables = np.ones((len(names), told.shape[1]))
    for number, entry in enumerate(names):
        check, result = entry.split("=", 1)
        table = knowledge.results.get(check)
        if table is not None and result in table[0]:
            tables[number] = table[1][table[0].index(result)]
    found = block.ragged("found")
    for place in range(int(found.lengths.max(initial=0))):
        rows = np.flatnonzero(found.lengths > place)
        told[rows] *= tables[found.entries[found.begins[rows] + place]]
