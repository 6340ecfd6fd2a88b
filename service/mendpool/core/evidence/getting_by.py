"""What only gets a set by, and what is never a repair whatever came of it."""

from collections.abc import Collection


def only_gets_by(component: str, action: str, protections: Collection[str]) -> bool:
    """Tell whether doing this to a part can't be a repair.

    A part worked round is not mended, and neither is a protection that was taken out: the set
    then runs because nothing stops it.

    Args:
        component, action: what was done, to what.
        protections: codes of components whose job is to protect.
    """
    return action == "bypass" or (action == "remove" and component in protections)
