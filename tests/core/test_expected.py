"""What the catalogue expects of many reports at once, beside its own figures for one."""

from collections.abc import Mapping
from math import fsum

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mendpool.core.diagnosis.complaint import UNLISTED
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.diagnosis.facts import KIND_FIELDS
from mendpool.core.diagnosis.knowledge import Knowledge
from mendpool.core.evidence.case import Case
from mendpool.core.evidence.ledger import ledger_of

from tests.factories import make_case

VALUES: dict[str, tuple[str | int, ...]] = {
    "fuel": ("diesel", "petrol", "lpg"),
    "excitation": ("brushed-avr", "brushless-avr", "inverter", "capacitor", "unknown"),
    "cooling": ("air", "liquid"),
    "phases": (1, 3),
    "starting": ("electric", "recoil"),
    "control": ("manual", "auto-start"),
    "governor": ("mechanical", "electronic"),
}


def kinds() -> st.SearchStrategy[dict[str, str | int]]:
    each = {field: st.sampled_from(values) for field, values in VALUES.items()}
    return st.fixed_dictionaries({}, optional=each)


@settings(max_examples=25)
@given(st.lists(kinds(), min_size=1, max_size=6))
def test_figures_of_many_kinds_are_those_of_each(
    engine: Engine, asked: list[dict[str, str | int]]
) -> None:
    """`Knowledge.weights` works each kind out in full."""
    knowledge = engine.knowledge
    at_once = knowledge.kinds_at_once
    found = at_once.of(asked)
    for kind, row in zip(asked, found.row.tolist(), strict=True):
        weights = knowledge.weights(tuple(kind.get(field) for field in KIND_FIELDS))
        assert found.prior[row] == pytest.approx(weights.prior[:-1], abs=1e-12)
        assert found.admitted[row].tolist() == weights.admitted[:-1].tolist()
        pairs = np.arange(len(at_once.cause))
        rates = at_once.rates(found, np.full(len(pairs), row), pairs)
        wanted = weights.joint[:-1] / np.maximum(weights.prior[:-1], 1e-12)[:, None]
        assert rates == pytest.approx(wanted[at_once.cause, at_once.symptom], abs=1e-9)


def test_kinds_that_differ_in_nothing_that_matters_share_a_row(engine: Engine) -> None:
    at_once = engine.knowledge.kinds_at_once
    same = at_once.of([{"fuel": "diesel"}, {"fuel": "diesel", "drive": "unknown"}, {}])
    assert same.row[0] == same.row[1] != same.row[2]


def likelihood(knowledge: Knowledge, case: Case) -> Mapping[int, float]:
    """One report by itself, written down once more in plain words."""
    weights = knowledge.weights(tuple(case.kind.get(field) for field in KIND_FIELDS))
    told = []
    for row in range(len(knowledge.keys)):
        rates = [
            weights.joint[row, knowledge.column[code]] / max(float(weights.prior[row]), 1e-12)
            for code in case.symptoms
            if code in knowledge.column
        ]
        told.append(fsum(rates) if rates else 1.0)
    floor = UNLISTED * fsum(told) / len(told)
    told = [t + floor if weights.admitted[row] else 0.0 for row, t in enumerate(told)]
    for entry in case.found:
        check, result = entry.split("=", 1)
        if check in knowledge.results and result in knowledge.results[check][0]:
            codes, table = knowledge.results[check]
            told = [t * table[codes.index(result), row] for row, t in enumerate(told)]
    return {row: t for row, t in enumerate(told) if t > 0.02 * max(told)}


@settings(max_examples=15)
@given(st.data())
def test_reports_of_a_block_are_as_likely_as_each_by_itself(
    engine: Engine, data: st.DataObject
) -> None:
    knowledge = engine.knowledge
    results = [f"{c}={r}" for c, (rs, _) in list(knowledge.results.items())[:12] for r in rs]
    codes = [*knowledge.symptoms[:9], "a-code-of-some-other-catalogue"]
    cases = [
        make_case(
            kind=data.draw(kinds()),
            symptoms=tuple(
                data.draw(st.lists(st.sampled_from(codes), max_size=3, unique=True))
            ),
            found=tuple(data.draw(st.lists(st.sampled_from(results), max_size=3, unique=True))),
        )
        for _ in range(4)
    ]
    ledger = ledger_of(cases)
    (block,) = ledger.blocks()
    table = engine.expectations.ask(ledger.names).likelihoods(block)
    for case, row in zip(cases, table, strict=True):
        wanted = likelihood(knowledge, case)
        assert {n: row[n] for n in np.flatnonzero(row).tolist()} == pytest.approx(wanted)
