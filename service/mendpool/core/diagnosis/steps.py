"""The steps of a plan as they are told: a test, a fix with its proving, a call."""

from collections.abc import Mapping, Sequence

from mendpool.core.catalogue.model import Check, Remedy
from mendpool.core.diagnosis.beliefs import Beliefs
from mendpool.core.diagnosis.fixes import minutes_of
from mendpool.core.diagnosis.knowledge import COST_MINUTES, Knowledge
from mendpool.core.evidence import figures
from mendpool.core.record.answer import Step

Fix = tuple[str, str]


def cost_of(
    fix: Fix,
    knowledge: Knowledge,
    beliefs: Beliefs,
    reported_minutes: Mapping[Fix, Sequence[float]],
) -> float:
    """Return what a fix costs in minutes: the work, and its parts by their cost band."""
    minutes = minutes_of(fix, reported_minutes.get(fix, ()), knowledge) or 60.0
    bands = [r.cost for r in remedies_of(fix, knowledge, beliefs)]
    return max(1.0, minutes) + (COST_MINUTES[min(bands)] if bands else 0.0)


def remedies_of(fix: Fix, knowledge: Knowledge, beliefs: Beliefs) -> list[Remedy]:
    """The ways to do a fix on this set, the one for its likeliest cause first."""
    component, action = fix
    ways = [
        (-float(beliefs.probability[row]) * remedy.works, row, remedy)
        for row in knowledge.rows_of_component.get(component, ())
        for remedy in knowledge.causes[row].remedies
        if remedy.action == action and beliefs.probability[row] > 0
    ]
    return [remedy for _, _, remedy in sorted(ways, key=lambda way: way[:2])]


def test_step(check: Check, saves: float | None) -> Step:
    """Return a test as a step; `saves` is how many expected minutes it is worth."""
    says = f"{check.label}: about {check.minutes:g} min."
    if check.walkround:
        says += " Before anything is taken apart or bought. What changed last?"
    elif saves is not None and saves >= 1:
        says += f" It is expected to save about {saves:.0f} min."
    return Step(
        do="test",
        check=check.code,
        how=check.how,
        expect=check.expect,
        results=tuple(
            (code, f"{found.says}: {found.means}") for code, found in check.found.items()
        ),
        minutes=figures.minutes(check.minutes),
        saves=figures.minutes(saves) if saves is not None else None,
        cautions=check.cautions,
        says=says,
    )


def fix_steps(
    fix: Fix,
    chance: float,
    knowledge: Knowledge,
    beliefs: Beliefs,
    reported_minutes: Mapping[Fix, Sequence[float]],
    says: str,
) -> list[Step]:
    """Return a fix as a step and, where it opens a protection, its proving.

    Args:
        chance: that it cures, once the plan has come to it.
        says: the words, with places for the part and the action.
    """
    component, action = fix
    catalogue = knowledge.catalogue
    remedies = remedies_of(fix, knowledge, beliefs)
    label = catalogue.components[component].label
    did = catalogue.vocabulary.actions[action]
    minutes = minutes_of(fix, reported_minutes.get(fix, ()), knowledge)
    steps = [
        Step(
            do="fix",
            component=component,
            action=action,
            how=remedies[0].says if remedies else did,
            minutes=minutes,
            chance=figures.share(chance),
            cautions=tuple(dict.fromkeys(t for r in remedies for t in r.cautions)),
            says=says.format(label, action),
        )
    ]
    if component in catalogue.sets.protections and action in catalogue.sets.needs_proving:
        steps.append(
            Step(
                do="prove",
                component=component,
                says=f"{label}: put it back as it was and prove that it trips or stops the set "
                "before the set is left alone.",
            )
        )
    return steps


def call_step(*, anything_before: bool) -> Step:
    """Return the end of every plan."""
    if anything_before:
        says = (
            "If that has not brought it back, stop and call someone who works on such sets: "
            "say what was found, tested and ruled out."
        )
    else:
        says = "Call someone who works on such sets: what is known does not point anywhere yet."
    return Step(do="call", says=says)
