"""What only gets a set by, and what is never a repair whatever came of it.

The one place that says so: the forms and the field command ask it, and the page's own rule is
held to it by a test.
"""

from collections.abc import Collection, Iterable, Mapping
from typing import Any

REPAIRED, GOT_BY = "repaired", "get-by"
_FIXED = "fixed"
_RAN = frozenset({"fixed", "improved"})


def only_gets_by(component: str, action: str, protections: Collection[str]) -> bool:
    """Tell whether doing this to a part can't be a repair.

    A part worked round is not mended, and neither is a protection that was taken out: the set
    then runs because nothing stops it.

    Args:
        component, action: what was done, to what.
        protections: codes of components whose job is to protect.
    """
    return action == "bypass" or (action == "remove" and component in protections)


def protections_out(
    attempts: Iterable[Mapping[str, Any]], protections: Collection[str]
) -> list[str]:
    """Return the protections that a set runs without, as far as its attempts tell.

    One that was worked on again afterwards, such as replaced, is taken to be back.

    Args:
        attempts: as the wire has them, in their order.
        protections: codes of components whose job is to protect.
    """
    out: dict[str, bool] = {}
    for attempt in attempts:
        component, action = str(attempt.get("component")), str(attempt.get("action"))
        if component in protections and action != "test":
            ran = attempt.get("result") in _RAN
            out[component] = ran and only_gets_by(component, action, protections)
    return [component for component, is_out in out.items() if is_out]


def outs_unsaid(body: Mapping[str, Any], protections: Collection[str]) -> list[str]:
    """Return the protections that a set runs without, where it was not said how they were left.

    That none was out when it was found says nothing of what was done since.

    Args:
        body: of a report, as the wire has it; it may lack anything.
        protections: codes of components whose job is to protect.
    """
    protection = body.get("protection")
    left = isinstance(protection, Mapping) and protection.get("left") is not None
    if left or "protection_defeated" in body:
        return []
    return protections_out(_attempts(body), protections)


def is_left_defeated(body: Mapping[str, Any], protections: Collection[str]) -> bool:
    """Tell whether a protection is left out of action: it was said, or the attempts tell it."""
    protection = body.get("protection")
    left = protection.get("left") if isinstance(protection, Mapping) else None
    said = bool(body.get("protection_defeated")) or left == "defeated"
    return said or bool(outs_unsaid(body, protections))


def proposed_outcome(body: Mapping[str, Any], protections: Collection[str]) -> str | None:
    """Return what the last attempt says of the end; None where it does not tell.

    What ran by a get-by, or with a protection left out of action, ran for now.
    """
    attempts = _attempts(body)
    if not attempts or attempts[-1].get("result") != _FIXED:
        return None
    return told_outcome(REPAIRED, body, protections)


def told_outcome(said: str, body: Mapping[str, Any], protections: Collection[str]) -> str:
    """Return an end as it may be told: what only runs for now is never called repaired."""
    if said != REPAIRED:
        return said
    fixed = [a for a in _attempts(body) if a.get("result") == _FIXED]
    gets_by = bool(fixed) and only_gets_by(
        str(fixed[-1].get("component")), str(fixed[-1].get("action")), protections
    )
    return GOT_BY if gets_by or is_left_defeated(body, protections) else said


def _attempts(body: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    held = body.get("attempts")
    return [a for a in held if isinstance(a, Mapping)] if isinstance(held, list) else []
