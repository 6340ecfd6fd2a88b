"""Whether an entry is about a set, when not everything of the set is known."""

from mendpool.core.catalogue.model import SetKind
from mendpool.core.record.machine import Machine


def admits(only: SetKind, machine: Machine) -> bool:
    """Tell whether a set may be of this kind: what can't be ruled out is admitted."""
    for field, allowed in only.named:
        value = machine.kind(field)
        if value is not None and value not in allowed:
            return False
    return True


def surely(only: SetKind, machine: Machine) -> bool:
    """Tell whether a set is known to be of this kind: what is not known does not count."""
    return all(machine.kind(field) in allowed for field, allowed in only.named)
