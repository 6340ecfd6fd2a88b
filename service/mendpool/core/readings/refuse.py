"""The refusal of one reading: where in it, why, and what was perhaps meant."""

from collections.abc import Sequence

from mendpool.core.errors import Complaint, RefusedInput


def refused(at: str, says: str, did_you_mean: str | None = None) -> RefusedInput:
    """Return the refusal of one reading, to be raised; `at` is relative to the reading."""
    return RefusedInput([Complaint(at, says, did_you_mean)])


def placed(error: RefusedInput, prefix: str) -> Sequence[Complaint]:
    """Return a refusal's complaints with their place in the whole body put before them."""
    return tuple(Complaint(prefix + c.at, c.says, c.did_you_mean) for c in error.errors)
