"""What a complaint makes of the causes: the set, its symptoms and the words, weighed at once.

A complaint is never taken for one symptom alone. Every cause is weighed with every symptom,
what was recognised makes a symptom so many times likelier, each word adds what it tells, and
the symptoms are summed out.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import exp, fsum

import numpy as np

from mendpool.core.catalogue.admits import admits
from mendpool.core.diagnosis.facts import Facts
from mendpool.core.diagnosis.knowledge import Array, Knowledge, possible_kinds
from mendpool.core.diagnosis.word_rates import WordRates

UNLISTED = 0.05
"""Share of what comes together without being listed together."""

DENIED = exp(-2.0)
SUREST, RECOGNISED = 0.97, 0.7
"""Nobody is surer of a symptom than this; one that was recognised in the words is tempered,
since the words count by themselves as well."""

MIXED_FIELD = "excitation"
_SHORT = 3


@dataclass(frozen=True, slots=True)
class Complaint:
    """What the set, its symptoms and the words of the complaint make of the causes.

    Args:
        prior: P(cause) on such a set, catalogue and pool.
        by_symptoms: likelihood of what it does, by row, "something else" last.
        by_words: likelihood of the words besides.
        words: what the words are called among the factors.
        kinds: P(kind) by code where the kind of set is not known, else empty.
        kind_given_cause: P(kind | cause), kinds in rows in the order of `kinds`.
    """

    prior: Array
    by_symptoms: Array
    by_words: Array
    words: str
    kinds: Mapping[str, float]
    kind_given_cause: Array | None


def weigh_complaint(facts: Facts, knowledge: Knowledge, word_rates: WordRates) -> Complaint:
    """Weigh every cause with every symptom; the symptoms are summed out."""
    kinds = _kinds_left(facts, knowledge)
    joint = _joint(facts, knowledge, kinds)
    joint *= word_rates.commonness[None, :, None]
    whole = joint.sum(axis=0)
    of_cause = whole.sum(axis=1)
    total = max(float(whole.sum()), 1e-300)
    heard = word_rates.hear(facts.words)
    recognised = _recognised(facts, knowledge)
    showing = recognised * heard.by_symptom
    prior = of_cause / total
    safe = np.maximum(of_cause, 1e-300)
    by_symptoms = whole @ showing / safe
    both = heard.by_both * recognised
    by_both = (whole * both).sum(axis=1) / safe * heard.by_cause
    words = np.divide(by_both, by_symptoms, out=np.ones_like(safe), where=by_symptoms > 0)
    usually = float(whole.sum(axis=0) @ showing) / total
    telling = [word for word in heard.telling if len(word) > _SHORT] or list(heard.telling)
    named = f"words such as {', '.join(telling[:3])}" if telling else "the words"
    known: dict[str, float] = {}
    given = None
    if kinds:
        joint *= both
        by_kind = joint.sum(axis=2)
        mass = by_kind * heard.by_cause
        sums = by_kind.sum(axis=0)
        shares = np.array(list(kinds.values()))[:, None]
        given = np.where(sums > 0, by_kind / np.maximum(sums, 1e-300), shares)
        # "Something else" may be on any kind of set.
        given = np.column_stack([given, shares])
        now = mass.sum(axis=1) / max(float(mass.sum()), 1e-300)
        known = {kind: float(p) for kind, p in zip(kinds, now, strict=True)}
    return Complaint(
        prior,
        np.append(by_symptoms, usually),
        np.append(words, 1.0),
        named,
        known,
        given,
    )


def _joint(facts: Facts, knowledge: Knowledge, kinds: Mapping[str, float]) -> Array:
    """P(kind, cause, symptom): what is not listed together may still come together."""
    machines = [
        (share, facts.machine.model_copy(update={MIXED_FIELD: kind}))
        for kind, share in kinds.items()
    ] or [(1.0, facts.machine)]
    weights = [knowledge.weights(knowledge.kind_key(machine)) for _, machine in machines]
    tables = np.empty((len(machines), len(knowledge.causes), len(knowledge.symptoms)))
    for place, ((share, _), known) in enumerate(zip(machines, weights, strict=True)):
        table = tables[place]
        np.multiply.outer(known.prior[:-1], known.share_of_symptom, out=table)
        table *= UNLISTED
        table += known.joint[:-1]
        table *= share
    return tables


def _recognised(facts: Facts, knowledge: Knowledge) -> Array:
    """How many times likelier each symptom is made by being recognised, or denied."""
    times = np.ones(len(knowledge.symptoms))
    share = knowledge.weights(knowledge.any_kind).share_of_symptom
    for code, sure in facts.symptoms.items():
        column = knowledge.column.get(code)
        if column is not None:
            odds = min(sure, SUREST) / (1.0 - min(sure, SUREST))
            usual = max(float(share[column]), 1e-3)
            times[column] = max(1.0, odds * (1.0 - usual) / usual) ** (
                1.0 if sure >= 1.0 else RECOGNISED
            )
    for code in facts.absent:
        column = knowledge.column.get(code)
        if column is not None:
            times[column] = DENIED
    return times


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
