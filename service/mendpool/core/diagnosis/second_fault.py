"""Two faults at once: when one alone does not fit what was done and seen.

A repair that made it better without curing it has cured something, and so has one of a part
that was found bad: that cause is done, and the plan is for what remains. Two parts found bad
are two faults. Where the pieces of evidence contradict each other under every single cause,
the plan goes by what most of them say: each is left out in turn, and the beliefs without it
are averaged. Readings alone tell two faults apart badly (of two-fault questions on the
simulator three in a hundred are flagged so); what hands have found tells more.

Source:
    The measure of contradiction is that of Jensen, Chamberlain, Nordahl and Jensen (1990):
    the logarithm of the product of P(each piece) over P(all of them); from memory.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log

import numpy as np

from mendpool.core.diagnosis.beliefs import Beliefs, cure_of
from mendpool.core.diagnosis.cures import Cures, Fix
from mendpool.core.diagnosis.facts import Facts
from mendpool.core.diagnosis.knowledge import Array, Knowledge
from mendpool.core.evidence.getting_by import only_gets_by
from mendpool.core.record.answer import Flag
from mendpool.core.record.report import Attempt

CONTRADICTS = log(3.0)
"""Pieces this many times likelier apart than together contradict each other: so it is with one
question in a hundred of the simulator, all of which have one fault."""
UNKNOWN_MUCH = 0.3
"""From this share of "something else" on, nothing listed fits."""
_LEAST_LEFT = 0.03


@dataclass(frozen=True, slots=True)
class Remaining:
    """What is believed of the fault that is still there, and what a person is told of it."""

    beliefs: Beliefs
    flags: tuple[Flag, ...]


def what_remains(
    facts: Facts,
    beliefs: Beliefs,
    knowledge: Knowledge,
    cures: Cures,
) -> Remaining:
    """Return the beliefs to plan by where one fault alone does not explain it all."""
    helped = _cured_something(facts.tried, knowledge.catalogue.sets.protections)
    bad = _found_bad(facts.tried)
    flags: list[Flag] = []
    probability = beliefs.probability
    if helped:
        flags.append(Flag(code="two-faults", says=_two_faults(helped, knowledge)))
    elif len(bad) > 1:
        flags.append(Flag(code="two-faults", says=_both_bad(bad, knowledge)))
    if _contradiction(beliefs) > CONTRADICTS:
        probability = _without_each(beliefs)
        flags.append(Flag(code="nothing-fits", says=_CONTRADICTS))
    elif float(probability[-1]) >= UNKNOWN_MUCH:
        flags.append(Flag(code="nothing-fits", says=_NOTHING_FITS))
    if helped:
        probability = _with_done(probability, helped, knowledge, cures)
    if not flags:
        return Remaining(beliefs, ())
    return Remaining(replace(beliefs, probability=probability), tuple(flags))


def contradiction(prior: Array, pieces: Sequence[Array]) -> float:
    """Return how much pieces of evidence contradict each other under single causes.

    Args:
        prior: P(cause).
        pieces: P(piece | cause) of each, any scale.

    Returns:
        The logarithm of (product of P(piece)) / P(all); above 0 where they are likelier
        apart than together.
    """
    together = prior.copy()
    apart = 0.0
    for piece in pieces:
        together = together * piece
        apart += log(max(float(prior @ piece), 1e-300))
    return apart - log(max(float(together.sum()), 1e-300))


_CONTRADICTS = (
    "What was found does not fit together under any one cause. Take the oddest reading again "
    "before you buy a part; if it stands, there may be two faults. The plan goes by what most "
    "of it says."
)
_NOTHING_FITS = (
    "None of the causes known here fits this well. It may be one that is not listed, or two at "
    "once: trust what you measure over this list."
)


def _cured_something(tried: Sequence[Attempt], protections: Sequence[str]) -> list[Fix]:
    """Repairs that helped and did not cure, or that mended a part which had been found bad."""
    bad = _found_bad(tried)
    return list(
        dict.fromkeys(
            (attempt.component, attempt.action)
            for attempt in tried
            if attempt.action != "test"
            and not only_gets_by(attempt.component, attempt.action, protections)
            and (
                attempt.result == "improved"
                or (attempt.result == "no-change" and attempt.component in bad)
            )
        )
    )


def _found_bad(tried: Sequence[Attempt]) -> list[str]:
    return list(dict.fromkeys(a.component for a in tried if a.result == "found-bad"))


def _two_faults(helped: Sequence[Fix], knowledge: Knowledge) -> str:
    done = "; ".join(
        f"{_label(component, knowledge)}, {action}" for component, action in helped
    )
    return (
        f"Something was mended and it is not cured ({done}): there may be a second fault. "
        "Leave what was done as it is; the plan is for what remains."
    )


def _both_bad(bad: Sequence[str], knowledge: Knowledge) -> str:
    parts = " and ".join(_label(component, knowledge) for component in bad)
    return f"More than one part was found bad ({parts}): there are two faults, or one did both."


def _label(component: str, knowledge: Knowledge) -> str:
    found = knowledge.catalogue.components.get(component)
    return found.label if found is not None else component


def _with_done(
    probability: Array,
    helped: Sequence[Fix],
    knowledge: Knowledge,
    cures: Cures,
) -> Array:
    """Take what was cured for cured: "improved" spoke for its causes, what remains does not."""
    rest = probability.copy()
    for fix in helped:
        works = cures.of(fix)
        for row in knowledge.rows_of_component.get(fix[0], ()):
            q = works.get(row, cure_of(knowledge, row, fix[1]))
            rest[row] *= max(_LEAST_LEFT, 1.0 - q) / (1.0 + q)
    return np.asarray(rest / max(float(rest.sum()), 1e-300))


def _contradiction(beliefs: Beliefs) -> float:
    pieces = _pieces(beliefs)
    return contradiction(_prior(beliefs), pieces) if len(pieces) > 1 else 0.0


def _without_each(beliefs: Beliefs) -> Array:
    """The mean of the beliefs with each piece of evidence left out in turn."""
    total = np.zeros_like(beliefs.probability)
    for piece in _pieces(beliefs):
        without = beliefs.probability / np.maximum(piece, 1e-12)
        total += without / max(float(without.sum()), 1e-300)
    return np.asarray(total / max(float(total.sum()), 1e-300))


def _pieces(beliefs: Beliefs) -> list[Array]:
    return [piece.likelihood for piece in beliefs.evidence if piece.witness]


def _prior(beliefs: Beliefs) -> Array:
    """What was believed before what the set itself showed, found by taking that out again."""
    prior = beliefs.probability
    for piece in _pieces(beliefs):
        prior = prior / np.maximum(piece, 1e-12)
    return np.asarray(prior / max(float(prior.sum()), 1e-300))
