"""What the catalogue expects of reports: the ground that everything learned stands on."""

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from mendpool.core.evidence.attempts_board import CauseTable
from mendpool.core.evidence.bayes import Array
from mendpool.core.evidence.ledger import Block, Names, Numbers


class Asked(NamedTuple):
    """What the catalogue says of the reports of one ledger.

    Args:
        row: the row of `priors` of each kind of sets, by its number.
        priors: P(cause) on such sets, in an order that does not hang on those numbers.
        likelihoods: P(what the complaint and the looks showed | cause) of each report of a
            block, any scale; 0 for the causes not worth a thought.
    """

    row: Numbers
    priors: Array
    likelihoods: Callable[[Block], Array]


class Expectations(NamedTuple):
    """The catalogue, as the fit asks it.

    Args:
        keys: ``component/failure`` by row.
        causes: frequencies and cures, for the attempts.
        ask: what it says of reports written with a book of names.
        protections: codes of components whose removal is a get-by.
    """

    keys: Sequence[str]
    causes: CauseTable
    ask: Callable[[Mapping[str, Names]], Asked]
    protections: frozenset[str]
