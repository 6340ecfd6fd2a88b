"""A figure as it is typed at a step: the check's own where it is bare, else a whole phrase."""

import re
from collections.abc import Mapping
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.model import Check
from mendpool.core.errors import Complaint, RefusedInput
from mendpool.core.readings.judge import judge
from mendpool.core.readings.parse import understand
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Judged, ReadingGiven
from mendpool_field.checking import typed as typed_as

_LONGEST = 300
_WORD = re.compile(r"[^\W\d_]+")
_LOOSE = frozenset({"about", "over", "under", "minus", "ac", "dc", "rms", "to", "and"})
"""Words beside a figure that do not say where it was read."""

Taken = tuple[dict[str, Any], Judged, bool]


def figure_of(typed: str, check: Check | None, machine: Machine, catalogue: Catalogue) -> Taken:
    """Understand what was typed for a figure.

    Args:
        typed: a figure with or without its unit, or a phrase that says what was read.
        check: the check it is to answer; None for a reading of the person's own.

    Returns:
        The reading as the wire has it, judged by the plate, and whether it is the check's.

    Raises:
        RefusedInput: it can't be understood.
    """
    if not 0 < len(typed) <= _LONGEST:
        raise RefusedInput([Complaint("", "no reading, or one that is too long")])
    place = check.reading if check is not None else None
    if place is None:
        return _phrase(typed, machine, catalogue)
    own = {"quantity": place.quantity, "point": place.point, "value": typed}
    if place.condition:
        own["condition"] = place.condition
    if not _is_bare(typed):
        # "residual 0.4 V" names its own place: never put it where something else was asked.
        try:
            given, judged, _ = _phrase(typed, machine, catalogue)
        except RefusedInput:
            pass
        else:
            same = (judged.quantity, judged.point) == (place.quantity, place.point)
            return (own if same else given), judged, same
    return own, _judged(own, machine, catalogue), True


def reading_at(
    place: tuple[str, str], typed: str, machine: Machine, catalogue: Catalogue
) -> dict[str, Any]:
    """Return a reading of a quantity at a point from its figure.

    Raises:
        RefusedInput: the figure can't be understood.
    """
    given = {"quantity": place[0], "point": place[1], "value": typed}
    _judged(given, machine, catalogue)
    return given


def place_of(
    reading: Mapping[str, Any], machine: Machine, catalogue: Catalogue
) -> tuple[str, str]:
    """Return the quantity and the point of a reading as the wire has it.

    Raises:
        RefusedInput: it can't be understood.
    """
    judged = _judged(reading, machine, catalogue)
    return judged.quantity, judged.point


def _is_bare(typed: str) -> bool:
    """Whether it is a figure with a unit at most."""
    first = re.search(r"\d", typed)
    before = typed[: first.start()] if first else ""
    lead = [w for w in _WORD.findall(before.lower()) if w not in _LOOSE]
    after = [w for w in _WORD.findall(typed[len(before) :].lower()) if w not in _LOOSE]
    return not lead and len(after) <= 1


def _phrase(typed: str, machine: Machine, catalogue: Catalogue) -> Taken:
    given = {"text": typed}
    return given, _judged(given, machine, catalogue), False


def _judged(given: Mapping[str, Any], machine: Machine, catalogue: Catalogue) -> Judged:
    reading = understand(
        typed_as(ReadingGiven, given), catalogue.vocabulary, machine, catalogue.reading_words
    )
    return judge(reading, machine, catalogue.limits).judged
