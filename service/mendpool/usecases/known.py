"""What the pool knows beyond one question: what fails on sets of a kind, how long fixes hold.

Plain counts over all reports, as fresh as `tallied` says, so that no request walks the pool.
"""

from collections.abc import Mapping
from typing import Any

from mendpool.core.catalogue.admits import admits
from mendpool.core.catalogue.codes import check_filters
from mendpool.core.evidence import figures
from mendpool.core.evidence.failing import Failing, Failures, failing
from mendpool.core.evidence.getting_by import only_gets_by
from mendpool.core.evidence.holding import (
    At,
    Durability,
    at_year,
    best_followed,
    durability,
)
from mendpool.core.record.machine import Machine
from mendpool.usecases.workplace import Workplace

ITEMS_MOST = 50
FAILING_MOST, EXPECTED_MOST = 30, 20
KINDS = ("fuel", "excitation", "cooling")
"""Fields that the reports can be narrowed by; their size is in no case."""

Body = dict[str, Any]


def how_long(place: Workplace, component: str | None, action: str | None) -> Body:
    """Return how long one fix holds, or of what was followed most where none is named.

    Args:
        component, action: both for one fix with its curve; one or none for a list.

    Raises:
        RefusedInput: unknown codes.
        TemporarilyImpossible: see `tallied`.
    """
    vocabulary = place.catalogue.vocabulary
    check_filters({"component": (component, vocabulary.components),
            "action": (action, vocabulary.actions)})  # fmt: skip
    tally = place.tallied.now(place.learned, place.store).tally
    if component is None or action is None:
        best = best_followed(tally, ITEMS_MOST, component, action)
        return {"items": [_listed(one) for one in best], "reports": tally.reports}
    one = durability(tally, (component, action))
    says = one.says
    if only_gets_by(component, action, place.catalogue.sets.protections):
        says = "This only gets a set by; how long it lasts is not counted, for it is no repair."
    return {**_with_curve(one), "says": says, "reports": tally.reports}


def what_fails(place: Workplace, plate: Mapping[str, str | None]) -> Body:
    """Return what fails on sets like one: the reports' counts beside the catalogue's guess.

    Args:
        plate: `fuel`, `excitation` and `cooling`, each may be missing.

    Raises:
        RefusedInput: unknown codes.
        TemporarilyImpossible: see `tallied`.
    """
    known = place.catalogue.vocabulary.machine
    wanted = {field: plate.get(field) for field in KINDS}
    check_filters({field: (code, known[field]) for field, code in wanted.items()})
    machine = Machine.model_validate({f: code for f, code in wanted.items() if code})
    by = {field: kind for field in KINDS if (kind := machine.kind(field)) is not None}
    components = place.catalogue.components

    def can_fail(component: str) -> bool:
        part = components.get(component)
        return part is None or admits(part.only, machine)

    counted = place.tallied.now(place.learned, place.store)
    asked = tuple(by.get(field) for field in KINDS)
    found = counted.failures.get(asked)
    if found is None:
        found = failing(counted.tally, by, can_fail, FAILING_MOST)
        counted.failures[asked] = found
    return {
        **_counted(found),
        "narrowed_by": list(by),
        "catalogue": _expected(place, machine),
    }


def _counted(found: Failures) -> Body:
    return {
        "reports": found.reports,
        "people": found.people,
        "known": found.known,
        "items": [_item(one) for one in found.items],
        "by_month": list(found.by_month),
    }


def _item(one: Failing) -> Body:
    return {**one._asdict(), "by_month": list(one.by_month)}


def _expected(place: Workplace, machine: Machine) -> list[Body]:
    """What the catalogue alone expects of troubles with such a set, the likeliest first."""
    knowledge = place.learned.engine.knowledge
    prior = knowledge.weights(knowledge.kind_key(machine)).prior.tolist()
    shares = [
        (-figures.share(chance), cause.component, cause.failure)
        for cause, chance in zip(knowledge.causes, prior, strict=False)
    ]
    return [
        {"component": component, "failure": failure, "share": -less}
        for less, component, failure in sorted(shares)[:EXPECTED_MOST]
        if less
    ]


def _listed(one: Durability) -> Body:
    return {
        "component": one.component,
        "action": one.action,
        "followed": one.followed,
        "failed": one.failed,
        "silent": one.silent,
        **_at(at_year(one)),
        "says": one.says,
    }


def _with_curve(one: Durability) -> Body:
    return {
        **one._asdict(),
        "steps": [step._asdict() for step in one.steps],
        "at": [_at(at) for at in one.at],
    }


def _at(at: At) -> Body:
    return at._asdict()
