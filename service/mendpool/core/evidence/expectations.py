"""What the catalogue expects of reports: the ground that everything learned stands on."""

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from mendpool.core.evidence.attempts_board import CauseTable, Row
from mendpool.core.evidence.case import Case


class Expectations(NamedTuple):
    """The catalogue, as the fit asks it.

    Args:
        keys: ``component/failure`` by row.
        of_kind: P(cause) on a set of a kind, by key.
        causes: frequencies and cures, for the attempts.
        likelihood: P(what the complaint and the looks showed | cause) of a case, by row, any
            scale, of the causes worth a thought.
        protections: codes of components whose removal is a get-by.
    """

    keys: Sequence[str]
    of_kind: Callable[[Mapping[str, str | int]], Mapping[str, float]]
    causes: CauseTable
    likelihood: Callable[[Case], Mapping[Row, float]]
    protections: frozenset[str]
