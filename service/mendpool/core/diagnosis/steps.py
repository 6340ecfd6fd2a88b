"""The steps of a plan as they are told: a test, a fix with its proving, a call."""

from dataclasses import dataclass

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.model import Check
from mendpool.core.diagnosis.beliefs import Beliefs
from mendpool.core.diagnosis.board import Board
from mendpool.core.diagnosis.costs import remedies_of
from mendpool.core.diagnosis.covers import Opened
from mendpool.core.diagnosis.decide import Choice, Do
from mendpool.core.diagnosis.knowledge import Knowledge
from mendpool.core.diagnosis.must_run import Wanted
from mendpool.core.evidence import figures
from mendpool.core.record.answer import Step

_HOUR = 60.0


@dataclass(frozen=True, slots=True)
class Told:
    """What the steps are told from."""

    board: Board
    knowledge: Knowledge
    beliefs: Beliefs


def walk_round_step(check: Check) -> Step:
    """Return the walk-round as a step."""
    return _look(
        check,
        " Before anything is taken apart or bought. What changed last?",
        minutes=check.minutes,
        saves=None,
    )


def load_step(check: Check, load: Wanted, catalogue: Catalogue) -> Step:
    """Return the check that sheds everything, done for the one load that matters."""
    how = catalogue.planning.must_run.how.format(load=load.says)
    step = _look(
        check, f" {load.says[:1].upper()}{load.says[1:]} first and alone.",
        minutes=check.minutes, saves=None,
    )  # fmt: skip
    return step.model_copy(update={"how": how})


def test_step(
    told: Told, which: int, *, saves: float, opened: Opened, other: str | None
) -> Step:
    """Return a test as a step.

    Args:
        told: what it is told from.
        which: of the board's checks.
        saves: how many expected minutes it is worth.
        opened: the covers that are off by then.
        other: the runner-up in words.
    """
    check, options = told.board.checks[which], told.board.options
    why = f" It is expected to save about {saves:.0f} min." if saves >= 1 else ""
    step = _look(check, why, minutes=options.test_cost(which, opened), saves=saves)
    covers = options.covers
    more: dict[str, object] = {}
    if check.opens is not None and covers is not None and covers.of_test[which] not in opened:
        more["opens"] = check.opens
    if other is not None:
        more["or_else"] = other
    return step.model_copy(update=more)


def fix_steps(
    told: Told,
    which: int,
    chance: float,
    says: str,
    *,
    opened: Opened,
    other: str | None = None,
) -> list[Step]:
    """Return a fix as a step and, where it opens a protection, its proving.

    Args:
        told: what it is told from.
        which: of the board's fixes.
        chance: that it cures, once the plan has come to it.
        says: the words, with places for the part and the action.
        opened: the covers that are off by then.
        other: the runner-up in words.
    """
    component, action = told.board.fixes[which]
    price, catalogue = told.board.prices[which], told.knowledge.catalogue
    fix = component, action
    remedies = remedies_of(fix, told.knowledge, told.beliefs.probability.tolist())
    label = catalogue.components[component].label
    did = catalogue.vocabulary.actions[action]
    step = Step(
        do="fix",
        component=component,
        action=action,
        how=remedies[0].says if remedies else did,
        minutes=_work(told, which, opened),
        chance=figures.share(chance),
        cautions=tuple(dict.fromkeys(t for r in remedies for t in r.cautions)),
        says=says.format(label, action),
    )
    more: dict[str, object] = {}
    if price.wait > 0:
        more["wait"] = figures.minutes(price.wait)
        more["says"] = f"{step.says} The part is not at hand: {_span(price.wait)} to fetch it."
    covers = told.board.options.covers
    if price.opens is not None and covers is not None and covers.of_repair[which] not in opened:
        more["opens"] = price.opens
    if other is not None:
        more["or_else"] = other
    steps = [step.model_copy(update=more)]
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


def or_else(told: Told, pick: Choice) -> str | None:
    """Return the runner-up in words, with the difference; None where there is none."""
    do, which = pick.next_best
    if (do, which) == (pick.do, pick.which):
        return None
    name = _named(told, do, which)
    more = pick.runner_up - pick.expected
    if pick.as_good and do != "last":
        return f"Either is fine: “{name}” first takes about as long."
    return f"Next best: {name}, about {max(more, 0.0):.0f} min more in all."


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


def _look(check: Check, why: str, *, minutes: float, saves: float | None) -> Step:
    minutes = figures.minutes(minutes)
    return Step(
        do="test",
        check=check.code,
        how=check.how,
        expect=check.expect,
        results=tuple(
            (code, f"{found.says}: {found.means}") for code, found in check.found.items()
        ),
        minutes=minutes,
        saves=figures.minutes(saves) if saves is not None else None,
        cautions=check.cautions,
        says=f"{check.label}: about {minutes:g} min.{why}",
    )


def _work(told: Told, which: int, opened: Opened) -> float | None:
    """The minutes of work, without those of a cover that is off."""
    minutes, covers = told.board.prices[which].minutes, told.board.options.covers
    if minutes is None:
        return None
    saved = covers.saved(opened, repair=which) if covers is not None else 0.0
    return figures.minutes(minutes - saved)


def _named(told: Told, do: Do, which: int) -> str:
    if do == "test":
        return told.board.checks[which].label
    if do == "repair":
        component, action = told.board.fixes[which]
        return f"{told.knowledge.catalogue.components[component].label}: {action}"
    return "calling someone at once"


def _span(minutes: float) -> str:
    if minutes < 2 * _HOUR:
        return f"about {minutes:.0f} min"
    return f"about {minutes / _HOUR:.0f} h"
