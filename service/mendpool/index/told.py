"""What a case says besides its terms, as a short row of numbers beside the index.

At a million reports the three hundred of a question are never the same, and reading each from
the database as text costs more than everything else an answer needs. So what an answer is
made of lies beside the terms: every value is numbered like a term, once for all the cases that
share it. What only a fit learns from (the words nobody knows, good readings) is left out.
"""

import json
from collections.abc import Mapping, Sequence
from functools import lru_cache
from itertools import accumulate
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mendpool.core.evidence.candidates import Names, Numbers
from mendpool.core.evidence.case import Case, Seen, Tried, months_later
from mendpool.index.planes import Rows

# The mark of each sort of value; none is that of a term, which has a colon behind its letter.
_CODE, _COST, _KIND, _TRIED, _SHAPE = "=", "#", "%", "@", "!"
_VOUCHED, _DEFEATED, _FLAGS = 1, 2, 2
_HALF = (1 << 32) - 1
_LISTS = ("symptoms", "absent", "found", "causes")
_ROOM = 4096


def whose_of(body: Mapping[str, Any], group: int, *, vouched: bool) -> int:
    """Return a case's contributor, with what is yes or no of it, as one number.

    Args:
        body: the case, as `case_to_text` wrote it.
        group: the opaque number of its contributor, less than 2 to the power of 61.
        vouched: whether that member counts fully.
    """
    flags = (_VOUCHED if vouched else 0) | (_DEFEATED if body["defeated"] else 0)
    return group << _FLAGS | flags


def told_of(body: Mapping[str, Any]) -> list[str]:
    """Return the names of what else a case says, as `Values.case` takes them apart.

    Costs are names of their own, where any is known: there are too many of them to have an
    attempt numbered with each.

    Args:
        body: the case, as `case_to_text` wrote it.
    """
    attempts = body["attempts"]
    costs = [_COST + repr(cost) for *_, cost in attempts]
    if all(cost is None for *_, cost in attempts):
        costs = []
    lists = [body[field] for field in _LISTS]
    lists.append(body.get("advice", ()))
    lengths = [*map(len, lists), len(attempts), len(costs)]
    return [
        _SHAPE + " ".join(map(str, lengths)),
        told_outcome(body["outcome"]),
        _CODE + (body.get("happened") or ""),
        _kind(tuple(body["kind"].items())),
        *[_CODE + code for codes in lists for code in codes],
        *[_TRIED + "\t".join(map(str, attempt[:-1])) for attempt in attempts],
        *costs,
    ]


def people_of(whose: Rows) -> Rows:
    """Return who told each, of what `whose_of` made."""
    return whose >> _FLAGS


def told_outcome(outcome: str) -> str:
    """Return the name that an outcome has among those of `told_of`."""
    return _CODE + outcome


def outcomes_at(starts: Rows) -> Rows:
    """Return where the outcome of each stands, by where its names begin."""
    return starts + 1


def seen_of(month: str, state: str) -> tuple[str, str]:
    """Return the names of a follow-up, its month and what was seen."""
    return _CODE + month, _CODE + state


@lru_cache(maxsize=_ROOM)
def _kind(pairs: tuple[tuple[str, str | int], ...]) -> str:
    """Return the name of a kind of set; there are few kinds, and many sets of each."""
    return _KIND + json.dumps(dict(pairs), ensure_ascii=False)


class Values:
    """What numbers stand for, made once and shared by every case that says the same.

    Any thread may ask: what two of them make at once is the same.
    """

    def __init__(self, names: Names) -> None:
        """Begin with nothing made."""
        self._names = names
        self._held: tuple[NDArray[np.bool_], list[Any]] = (np.zeros(0, dtype=np.bool_), [])

    def all_of(self, numbers: Numbers | Rows) -> tuple[Any, ...]:
        """Return what each stands for."""
        made, values = self._held
        if len(made) < len(self._names):
            made, values = self._held = _longer(made, values, len(self._names))
        unmade = ~made[numbers]
        if unmade.any():
            for number in np.unique(numbers[unmade]).tolist():
                values[number] = _value(self._names.terms[number])
                made[number] = True
        return tuple(map(values.__getitem__, numbers.tolist()))


def _longer(
    made: NDArray[np.bool_], values: list[Any], names: int
) -> tuple[NDArray[np.bool_], list[Any]]:
    """Return both with room for more, and leave the old ones to whoever works with them."""
    room = names + names // 8 + _ROOM
    longer = np.zeros(room, dtype=np.bool_)
    # First the flags: a value that is made meanwhile is copied, its flag is not.
    longer[: len(made)] = made
    return longer, [*values, *[None] * (room - len(values))]


def followups_of(happened: str | None, seen: Sequence[tuple[str, str]]) -> tuple[Seen, ...]:
    """Return what was seen, by month and state, in order of time."""
    if len(seen) == 1:
        return (_seen(happened, *seen[0]),)
    return tuple(sorted([_seen(happened, month, state) for month, state in seen]))


def case_from(
    report: str,
    whose: int,
    told: tuple[Any, ...],
    start: int,
    seen: Sequence[tuple[str, str]],
) -> Case:
    """Return a case without its terms and what only a fit learns from.

    Args:
        report: its id.
        whose: as `whose_of` made it.
        told: values of the names that `told_of` made, of this case and others.
        start: where those of this case begin.
        seen: what was seen later, by month and state.
    """
    (a, b, c, d, e, f, g), outcome, happened, kind = told[start : start + 4]
    at = start + 4
    attempts = told[at + e : at + f]
    if f < g:
        costs = told[at + f : at + g]
        pairs = zip(attempts, costs, strict=True)
        attempts = tuple([tried._replace(cost=cost) for tried, cost in pairs])
    return Case(
        report,
        whose >> _FLAGS,
        bool(whose & _VOUCHED),
        kind,
        (),
        told[at : at + a],
        told[at + a : at + b],
        told[at + b : at + c],
        told[at + c : at + d],
        attempts,
        outcome,
        bool(whose & _DEFEATED),
        (),
        happened or None,
        followups_of(happened or None, seen) if seen else (),
        (),
        told[at + d : at + e],
    )


_seen = lru_cache(maxsize=4096)(months_later)


def _value(name: str) -> object:
    mark, told = name[0], name[1:]
    if mark == _KIND:
        return json.loads(told)
    if mark == _SHAPE:
        return tuple(accumulate(map(int, told.split(" "))))
    if mark == _TRIED:
        component, action, failure, result, shared, minutes = told.split("\t")
        known = None if failure == "None" else failure
        return Tried(component, action, known, result, int(shared), _amount(minutes), None)
    return _amount(told) if mark == _COST else told


def _amount(told: str) -> float | None:
    """Read a number as Python wrote it, a whole one as a whole one."""
    if told == "None":
        return None
    return int(told) if told.lstrip("-").isdigit() else float(told)
