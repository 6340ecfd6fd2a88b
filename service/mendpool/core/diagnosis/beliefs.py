"""P(cause | set, symptoms, readings, words, past cases): every factor kept to be shown.

Catalogue prior and banded likelihoods as pseudo-counts, weighted cases, tempered
likelihoods of readings, and always "something else" (the last row).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum

import numpy as np

from mendpool.core.catalogue.admits import admits
from mendpool.core.diagnosis.facts import Facts, terms_of
from mendpool.core.diagnosis.knowledge import Array, Knowledge, Weights, possible_kinds
from mendpool.core.diagnosis.word_rates import WordRates
from mendpool.core.evidence.bayes import times_likelier, update
from mendpool.core.evidence.case import Case
from mendpool.core.evidence.fit import Fit, components_at_fault
from mendpool.core.evidence.intervals import unseen_share
from mendpool.core.record.machine import Machine
from mendpool.core.record.report import Attempt

PRIOR_CASES = 12.0
RESULT_CASES = 8.0
TEMPER = 0.7
OTHER_LEAST = 0.02
MENTION = 1.4
NAMED = 5.0
JUST_BEFORE = 4.0
UNLISTED = 0.1
FOUND_GOOD, FOUND_BAD = 0.15, 5.0
MIXED_FIELD = "excitation"


@dataclass(frozen=True, slots=True)
class Evidence:
    """One piece of evidence: its name, and its likelihood under each cause."""

    of: str
    likelihood: Array


@dataclass(frozen=True, slots=True)
class Beliefs:
    """What is believed of each cause.

    Args:
        probability: by row, sums to 1, the last "something else".
        catalogue_share: by row, how much of it is catalogue rather than reports.
        evidence: the pieces, for the factors.
        kinds: P(kind) by code where the kind of set is not known, else empty.
        kind_given_cause: P(kind | cause), kinds in rows in the order of `kinds`.
    """

    probability: Array
    catalogue_share: Array
    evidence: tuple[Evidence, ...]
    kinds: Mapping[str, float]
    kind_given_cause: Array | None

    def factors(self, row: int) -> list[tuple[str, float]]:
        """Return what speaks for or against a cause, strongest first, 1.0 left out."""
        told = []
        for piece in self.evidence:
            times = times_likelier(piece.likelihood, self.probability, row)
            if not 0.9 < times < 1.1:
                told.append((piece.of, float(f"{times:.2g}")))
        return sorted(told, key=lambda t: (-max(t[1], 1 / t[1]) if t[1] else -99.0, t[0]))


def believe(
    facts: Facts,
    knowledge: Knowledge,
    fit: Fit,
    word_rates: WordRates,
    cases: Sequence[tuple[Case, float]],
) -> Beliefs:
    """Weigh every cause.

    Args:
        facts: the set in trouble.
        knowledge: the catalogue as arrays.
        fit: what the pool taught.
        word_rates: the same fit's words by cause.
        cases: past cases like this one with their weights.
    """
    catalogue, kinds, given = _from_catalogue(facts, knowledge)
    labels = [(_label(case, catalogue, knowledge), weight) for case, weight in cases]
    known = [(label, weight) for label, weight in labels if label is not None]
    mass = fsum(weight for _, weight in known)
    seen = np.zeros_like(catalogue)
    for label, weight in known:
        seen += weight * label
    prior = (PRIOR_CASES * catalogue + seen) / (PRIOR_CASES + mass)
    share = PRIOR_CASES * catalogue / np.maximum(PRIOR_CASES * catalogue + seen, 1e-12)
    # Counting by cause, not by case: Good and Turing want how many causes came up once.
    once = unseen_share(_counts(known), pseudo=PRIOR_CASES)
    other = max(OTHER_LEAST, min(0.3, once))
    prior[-1] = 0.0
    prior = prior / max(prior.sum(), 1e-12) * (1.0 - other)
    prior[-1] = other
    share[-1] = PRIOR_CASES / (PRIOR_CASES + mass)
    words = word_rates.of(terms_of(facts))
    evidence = [
        *_from_results(facts, knowledge, fit),
        *_from_attempts(facts.tried, knowledge),
        *([Evidence(*words)] if words is not None else []),
    ]
    posterior = update(prior, (piece.likelihood for piece in evidence))
    return Beliefs(posterior, share, tuple(evidence), kinds, given)


def _from_catalogue(
    facts: Facts, knowledge: Knowledge
) -> tuple[Array, Mapping[str, float], Array | None]:
    """P(cause | symptoms) by the catalogue, over the mix where the kind is not known."""
    kinds = _kinds_left(facts, knowledge)
    if not kinds:
        return _of_kind(facts, knowledge, facts.machine), {}, None
    joint = np.array(
        [
            share
            * _unnormalised(facts, knowledge, facts.machine.model_copy(update={MIXED_FIELD: k}))
            for k, share in kinds.items()
        ]
    )
    total = max(joint.sum(), 1e-300)
    by_cause = joint.sum(axis=0)
    prior_of_kind = np.array(list(kinds.values()))[:, None]
    given = np.where(by_cause > 0, joint / np.maximum(by_cause, 1e-300), prior_of_kind)
    now = {k: float(p) for k, p in zip(kinds, joint.sum(axis=1) / total, strict=True)}
    return by_cause / total, now, given


def _kinds_left(facts: Facts, knowledge: Knowledge) -> dict[str, float]:
    """The kinds this set may be: those that have the parts somebody has had in his hands."""
    kinds = possible_kinds(knowledge.catalogue, facts.machine, MIXED_FIELD)
    parts = [
        knowledge.catalogue.components[attempt.component].only
        for attempt in facts.tried
        if attempt.component in knowledge.catalogue.components
    ]
    left = {
        kind: share
        for kind, share in kinds.items()
        if all(
            admits(only, facts.machine.model_copy(update={MIXED_FIELD: kind})) for only in parts
        )
    }
    total = fsum(left.values())
    # Parts that no one kind has together tell that one was named wrongly, not which.
    return {kind: share / total for kind, share in left.items()} if left else kinds


def _of_kind(facts: Facts, knowledge: Knowledge, machine: Machine) -> Array:
    values = _unnormalised(facts, knowledge, machine)
    return np.asarray(values / max(values.sum(), 1e-300))


def _unnormalised(facts: Facts, knowledge: Knowledge, machine: Machine) -> Array:
    weights = knowledge.weights(knowledge.kind_key(machine))
    rate = weights.joint / np.maximum(weights.prior, 1e-12)[:, None]
    values = _with_symptoms(weights.prior.copy(), facts, knowledge, weights, rate)
    for code in facts.absent:
        column = knowledge.column.get(code)
        if column is not None:
            values = values * (1 - 0.85 * np.minimum(rate[:, column], 1.0)) ** TEMPER
    for row, cause in enumerate(knowledge.causes):
        if facts.before and set(cause.follows) & set(facts.before):
            values[row] *= JUST_BEFORE
        if cause.component in facts.components:
            values[row] *= MENTION
        if cause.key in facts.faults:
            values[row] *= NAMED
    values = np.where(weights.admitted, values, 0.0)
    values[-1] = 0.0
    return values


def _with_symptoms(
    values: Array, facts: Facts, knowledge: Knowledge, weights: Weights, rate: Array
) -> Array:
    """Weigh in the symptoms: the surest in full, the others tempered (they go together).

    A symptom that is not sure counts as a mixture of being there and not being known.
    """
    first = True
    for code, sure in sorted(facts.symptoms.items(), key=lambda item: (-item[1], item[0])):
        column = knowledge.column.get(code)
        usual = 0.0 if column is None else float(weights.share_of_symptom[column])
        if usual <= 0:
            continue
        given = rate[:, column] + UNLISTED * usual
        mixed = sure * given + (1 - sure) * usual
        values = values * (mixed if first else (mixed / usual) ** TEMPER)
        first = False
    return values


def _label(case: Case, catalogue: Array, knowledge: Knowledge) -> Array | None:
    """Spread a case's cause over the rows it may mean; None when it names none of them."""
    label = np.zeros_like(catalogue)
    named = case.causes or components_at_fault(case)
    for key in named:
        rows = knowledge.rows_of(key)
        mass = catalogue[rows] if rows else np.zeros(0)
        if not rows or mass.sum() <= 0:
            continue
        label[rows] += mass / mass.sum()
    total = label.sum()
    return label / total if total > 0 else None


def _counts(known: Sequence[tuple[Array, float]]) -> list[float]:
    counts: dict[int, float] = {}
    for label, _ in known:
        row = int(np.argmax(label))
        counts[row] = counts.get(row, 0.0) + 1.0
    return list(counts.values())


def _from_results(facts: Facts, knowledge: Knowledge, fit: Fit) -> list[Evidence]:
    evidence = []
    for check, result in sorted((facts.found or {}).items()):
        table = knowledge.results.get(check)
        if table is None or result not in table[0] or knowledge.catalogue.checks[check].tells:
            continue
        codes, likelihood = table
        row = likelihood[codes.index(result)].copy()
        for i, key in enumerate(knowledge.keys):
            counted = fit.found.get(f"{check}|{key}")
            if counted:
                total = fsum(counted.values())
                row[i] = (RESULT_CASES * row[i] + counted.get(result, 0.0)) / (
                    RESULT_CASES + total
                )
        label = knowledge.catalogue.checks[check].label
        evidence.append(Evidence(f"{label}: {result}", row**TEMPER))
    return evidence


def _from_attempts(tried: Sequence[Attempt], knowledge: Knowledge) -> list[Evidence]:
    """What was tried rules down, or up, and never to nothing."""
    evidence = []
    for attempt in tried:
        row = np.ones(len(knowledge.causes) + 1)
        for i in knowledge.rows_of_component.get(attempt.component, ()):
            row[i] = _after(attempt, knowledge, i)
        if not np.all(row == 1.0):
            said = f"{attempt.component} {attempt.action}: {attempt.result}"
            evidence.append(Evidence(said, row))
    return evidence


def _after(attempt: Attempt, knowledge: Knowledge, row: int) -> float:
    if attempt.result == "found-good":
        return FOUND_GOOD
    if attempt.result == "found-bad":
        return FOUND_BAD
    works = cure_of(knowledge, row, attempt.action)
    if attempt.result in ("no-change", "worse"):
        return max(0.03, 1.0 - works)
    if attempt.result == "improved":
        return 1.0 + works
    if attempt.result == "fixed":
        return 1.0 + 4.0 * works
    return 1.0


def cure_of(knowledge: Knowledge, row: int, action: str) -> float:
    """Return how often an action on the cause's own part cures it, by the catalogue.

    An action no remedy names is taken for half as good as the best one that is listed.
    """
    remedies = knowledge.causes[row].remedies
    same = [r.works for r in remedies if r.action == action]
    if same:
        return max(same)
    return 0.5 * max(r.works for r in remedies) if action not in ("test", "bypass") else 0.0
