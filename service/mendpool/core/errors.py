"""The errors of the core, by what the caller can do about them.

MendpoolError
├── RefusedInput        what was sent can't be used; `errors` says where and why
├── CatalogueError      the catalogue's own YAML is wrong; names file and entry
├── NotFound            no such thing, or not for this member
│   └── Withdrawn       it was there and was taken back
├── Conflict            the same id already stands for something else
├── NotAllowed          the member may not do this
├── TooManyOf           enough of one thing, for good or for today
└── TemporarilyImpossible   try again later
"""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Complaint:
    """One thing wrong with an input.

    Args:
        at: JSON Pointer to the place, such as ``/readings/0/unit``; empty for the whole.
        says: what is wrong and what to change, in a sentence for a person.
        did_you_mean: the nearest code or unit, if one is near.
    """

    at: str
    says: str
    did_you_mean: str | None = None


class MendpoolError(Exception):
    """Anything mendpool refuses or cannot do."""


class RefusedInput(MendpoolError):
    """What was sent can't be used; each complaint says where and why."""

    def __init__(self, errors: Sequence[Complaint]) -> None:
        self.errors: tuple[Complaint, ...] = tuple(errors)
        super().__init__("; ".join(f"{e.at or 'body'}: {e.says}" for e in self.errors))


class CatalogueError(MendpoolError):
    """The catalogue is wrong; each line names the file and the entry."""

    def __init__(self, lines: Sequence[str]) -> None:
        self.lines: tuple[str, ...] = tuple(lines)
        super().__init__("\n".join(self.lines))


class NotFound(MendpoolError):
    """No such thing, or none that this member may see."""


class Withdrawn(NotFound):
    """It was here and its contributor or a steward took it back."""


class Conflict(MendpoolError):
    """The id already stands for another body."""


class NotAllowed(MendpoolError):
    """This member may not do this."""


class TooManyOf(MendpoolError):
    """Enough of one thing.

    Args:
        says: of what, in a sentence.
        for_good: waiting does not help.
    """

    def __init__(self, says: str, *, for_good: bool) -> None:
        self.for_good = for_good
        super().__init__(says)


class TemporarilyImpossible(MendpoolError):
    """It can't be done now; trying again later can work."""
