"""What the catalogue expects of reports: the ground that everything learned stands on."""

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from mendpool.core.evidence.attempts_board import CauseTable
from mendpool.core.evidence.bayes import Array
from mendpool.core.evidence.ledger import Block, Names


class Expectations(NamedTuple):
    """The catalogue, as the fit asks it.

    Args:
        keys: ``component/failure`` by row.
        of_kinds: P(cause) on sets of some kinds: kinds in rows, causes in columns.
        causes: frequencies and cures, for the attempts.
        likelihoods: P(what the complaint and the looks showed | cause) of each report of a
            block, any scale; 0 for the causes not worth a thought.
        protections: codes of components whose removal is a get-by.
    """

    keys: Sequence[str]
    of_kinds: Callable[[Sequence[Mapping[str, str | int]]], Array]
    causes: CauseTable
    likelihoods: Callable[[Block, Mapping[str, Names]], Array]
    protections: frozenset[str]
