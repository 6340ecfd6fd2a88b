"""What only gets a set by, and what is never a repair whatever came of it."""

from collections.abc import Collection, Iterable, Mapping
from typing import Any

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
