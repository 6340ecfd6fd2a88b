"""How a report ended, where it was not said: only what mends a set is a repair."""

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from mendpool.core.evidence.getting_by import only_gets_by, protections_out


def outcome_of(body: Mapping[str, Any], protections: Collection[str]) -> str | None:
    """Return what the last attempt says of the end; None where it does not tell.

    What ran by a get-by, or with a protection left defeated, ran for now and is no repair.

    Args:
        body: of a report, without its outcome.
        protections: codes of components whose removal is a get-by.
    """
    attempts = _attempts(body)
    if not attempts or attempts[-1].get("result") != "fixed":
        return None
    gets_by = _gets_by(attempts[-1], protections) or bool(out_of_action(body, protections))
    return "get-by" if gets_by or is_left_defeated(body) else "repaired"


def out_of_action(body: Mapping[str, Any], protections: Collection[str]) -> list[str]:
    """Return the protections that a set runs without, where it was not said how they were left.

    One that was worked on again afterwards, such as replaced, is taken to be back. That none
    was out when it was found says nothing of what was done since.
    """
    protection = body.get("protection")
    left = isinstance(protection, Mapping) and "left" in protection
    if left or "protection_defeated" in body:
        return []
    return protections_out(_attempts(body), protections)


def is_left_defeated(body: Mapping[str, Any]) -> bool:
    """Tell whether it was said that a protection is left out of action."""
    protection = body.get("protection")
    left = protection.get("left") if isinstance(protection, Mapping) else None
    return bool(body.get("protection_defeated")) or left == "defeated"


def _gets_by(attempt: Mapping[str, Any], protections: Collection[str]) -> bool:
    component, action = str(attempt.get("component")), str(attempt.get("action"))
    return only_gets_by(component, action, protections)


def _attempts(body: Mapping[str, Any]) -> Sequence[Mapping[str, Any]]:
    held = body.get("attempts")
    return [a for a in held if isinstance(a, Mapping)] if isinstance(held, list) else []
