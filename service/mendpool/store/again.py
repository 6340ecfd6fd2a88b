"""A write that the database undid for another's sake is made once more.

PostgreSQL may choose one of two transactions that wait for each other and undo it whole
(a deadlock), or undo one whose ground was changed under it (a serialisation failure); its
documentation, section 13.5, says to begin such a transaction anew. This is the one place
that does.
"""

import functools
import secrets
from collections.abc import Callable
from time import sleep
from typing import ParamSpec, TypeVar

from mendpool.store.troubles import Undone

P = ParamSpec("P")
T = TypeVar("T")

TRIES = 5
FIRST_WAIT_S = 0.02

_chance = secrets.SystemRandom()


def undone_again(write: Callable[P, T]) -> Callable[P, T]:
    """Let a write that is a whole transaction be tried anew where it was undone.

    At most `TRIES` times in all. In between it waits for anything up to `FIRST_WAIT_S`,
    doubled each time, so that two that met don't meet again at the same moment (common
    practice).

    Args:
        write: begins, does and commits everything itself, and takes nothing that is used up
            by being looked at.

    Returns:
        What does the same, and raises `Undone` only after the last try.
    """

    @functools.wraps(write)
    def tried(*args: P.args, **kwargs: P.kwargs) -> T:
        for earlier in range(TRIES - 1):
            try:
                return write(*args, **kwargs)
            except Undone:
                sleep(_chance.uniform(0, FIRST_WAIT_S * 2**earlier))
        return write(*args, **kwargs)

    return tried
