"""Sums of weights that come out the same in whatever order they are added: in whole units."""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Units = NDArray[np.int64]
Places = NDArray[Any]

UNIT = 2.0**-36
"""What one unit counts for. Weights are at most 1, so a sum of them is right to eight places
and holds for a hundred million; figures of a fit have six."""

_HALF = 18
_LOW = (1 << _HALF) - 1


def units(weights: NDArray[np.float64]) -> Units:
    """Return weights in whole units."""
    return np.asarray(np.rint(weights / UNIT), dtype=np.int64)


def amount(of: int) -> float:
    """Return what so many units count for, to six places."""
    return round(int(of) * UNIT, 6)


def summed(places: Places, of: Units, count: int) -> Units:
    """Return the sum of units at each place below `count`; exact."""
    # Sums of halves stay far below 2^53, up to which floats count without a gap.
    high = np.bincount(places, of >> _HALF, minlength=count)
    low = np.bincount(places, of & _LOW, minlength=count)
    return (high.astype(np.int64) << _HALF) + low.astype(np.int64)


class Sparse(NamedTuple):
    """Sums under keys that are few of very many: sorted keys, and the sum of each."""

    keys: NDArray[np.int64]
    sums: Units

    @classmethod
    def of(cls, keys: NDArray[np.int64], of: Units) -> "Sparse":
        """Add up what stands under the same key."""
        if not len(keys):
            return cls(keys, of)
        order = np.argsort(keys)  # whatever is equal is added up, so in any order
        keys = keys[order]
        starts = np.flatnonzero(np.concatenate([[True], keys[1:] != keys[:-1]]))
        return cls(keys[starts], np.add.reduceat(of[order], starts))

    def __add__(self, other: object) -> "Sparse":
        """Add two of them."""
        if not isinstance(other, Sparse):
            return NotImplemented
        return Sparse.of(
            np.concatenate([self.keys, other.keys]), np.concatenate([self.sums, other.sums])
        )


def nothing() -> Sparse:
    """Return sums to begin with."""
    return Sparse(np.zeros(0, np.int64), np.zeros(0, np.int64))
