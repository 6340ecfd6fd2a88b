"""Would the answer be another without the reports of one member, or of those not vouched for?

Suspicion never refuses and never accuses: it says that the first fix leans on few, so that
somebody looks before anything is bought.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from mendpool.core.diagnosis.beliefs import Beliefs, voted
from mendpool.core.diagnosis.cures import Cures, Fix
from mendpool.core.diagnosis.knowledge import Array, Knowledge
from mendpool.core.evidence import figures
from mendpool.core.evidence.fit import Fit
from mendpool.core.record.answer import Flag

_LEAST_SHARE = 0.02
"""A member whose reports are less of what counts than this changes nothing worth saying."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """How far the first fix leans on few.

    Args:
        first_fix: its chance at the least and the most with any one member left out; None
            where no report counts.
        flags: what a person should know of it.
    """

    first_fix: tuple[float, float] | None
    flags: tuple[Flag, ...]


def doubt(
    beliefs: Beliefs,
    cures: Cures,
    knowledge: Knowledge,
    fit: Fit,
    cures_without_new: Callable[[], Cures],
) -> Doubt:
    """Leave each member out in turn, and everybody not vouched for, and look again.

    Args:
        beliefs: with the votes of past cases.
        cures: P(works | cause) of each fix that can be done.
        knowledge: the catalogue.
        fit: it knows of which causes most reports are one member's.
        cures_without_new: the same cures with the cases of new members left out; asked for
            only where there are any.
    """
    votes = beliefs.votes
    mass = float(votes.seen.sum())
    if not mass or not cures:
        return Doubt(None, ())
    fixes, table = cures.fixes, cures.table(len(beliefs.probability))
    now = table @ beliefs.probability
    first = int(np.argmax(now))
    counts = votes.by_member.sum(axis=1) >= _LEAST_SHARE * mass
    left_out = voted(beliefs.unvoted, votes.seen - votes.by_member[counts])
    # By one product each: in one for all, equals might not stay equal to the last place.
    without = [table @ row for row in left_out]
    chances = [float(now[first]), *(float(row[first]) for row in without)]
    flags = []
    changed = next((row for row in without if int(np.argmax(row)) != first), None)
    if changed is not None:
        flags.append(_flag("leans-on-one-member", "of one member", fixes, changed, knowledge))
    if float(votes.unvouched.sum()) > 0:
        theirs = _of_fixes(fixes, cures_without_new(), len(beliefs.probability))
        row = theirs @ voted(beliefs.unvoted, votes.seen - votes.unvouched)
        if int(np.argmax(row)) != first:
            whose = "of members nobody has vouched for yet"
            flags.append(_flag("leans-on-new-members", whose, fixes, row, knowledge))
    flags += _crowded(beliefs, table[first], knowledge, fit, {flag.code for flag in flags})
    span = figures.share(min(chances)), figures.share(max(chances))
    return Doubt(span, tuple(flags))


def _crowded(
    beliefs: Beliefs, works: Array, knowledge: Knowledge, fit: Fit, said: set[str]
) -> list[Flag]:
    """Say it where most of what the pool knows of the first fix's cause is of one hand."""
    key = knowledge.keys[int(np.argmax(beliefs.probability[:-1] * works[:-1]))]
    crowd = fit.crowded.get(key)
    code = {"one": "leans-on-one-member", "new": "leans-on-new-members"}.get(crowd or "")
    if code is None or code in said:
        return []
    whose = "one member" if crowd == "one" else "members nobody has vouched for yet"
    return [Flag(code=code, says=f"Most reports of this cause came from {whose}. Look first.")]


def _of_fixes(fixes: Sequence[Fix], cures: Cures, causes: int) -> Array:
    """Return a table of other cures of these fixes; of one that is not there, of nothing."""
    place = {fix: row for row, fix in enumerate(cures.fixes)}
    table = np.vstack([cures.table(causes), np.zeros(causes)])
    return np.asarray(table[[place.get(fix, len(cures)) for fix in fixes]])


def _flag(
    code: str, whose: str, fixes: Sequence[Fix], chances: Array, knowledge: Knowledge
) -> Flag:
    component, action = fixes[int(np.argmax(chances))]
    part = knowledge.catalogue.components[component].label
    return Flag(
        code=code,
        says=f"Without the reports {whose} another fix would come first ({part}: {action}). "
        "Look at both before buying a part.",
    )
