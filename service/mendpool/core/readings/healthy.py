"""A reading beside what good ones read: this set's own past, or sets like it."""

from collections.abc import Sequence
from statistics import median

from mendpool.core.catalogue.limits import Correction, Limit
from mendpool.core.catalogue.tables import Healthy
from mendpool.core.readings.basis import corrected, rounded
from mendpool.core.readings.said import figure_text
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Against, Compared, Reading, Verdict

_ROBUST = 1.4826
"""Takes a median distance to a standard deviation, for readings spread normally."""


def own_past(
    reading: Reading,
    past: Sequence[Reading],
    machine: Machine,
    limits: Sequence[Limit],
    table: Healthy,
) -> Compared | None:
    """Compare a reading with this set's own good ones; None where it has none to compare.

    Only readings of the same thing in the same state count; bounds (under 1, OL) do not.
    Where both were taken at known temperatures, the past is moved to that of the reading.
    """
    if is_bound(reading):
        return None
    like = [one for one in past if same_thing(one, reading) and not is_bound(one)]
    if not like:
        return None
    moves = correction_at(reading, limits)
    values = [_moved(one, reading, machine, moves) for one in like]
    middle = median(values)
    spread = median([abs(value - middle) for value in values])
    return compare(reading, "own past", (middle, spread), (len(values), 1), table)


def compare(
    reading: Reading,
    against: Against,
    good: tuple[float, float],
    counts: tuple[int, int],
    table: Healthy,
) -> Compared:
    """Compare a reading with the middle and the median distance of good ones.

    Args:
        good: middle and spread, in the reading's unit.
        counts: how many readings, of how many people.

    A reading is alike within so many robust standard deviations, and never called unlike
    when closer than the table's per cent: few readings spread too little by chance.
    """
    middle, spread = good
    percent = table.percent_by.get(reading.quantity, table.percent)
    reach = max(table.spreads * _ROBUST * spread, abs(middle) * percent / 100)
    low, high = rounded(middle - reach), rounded(middle + reach)
    verdict: Verdict = "within"
    if reading.value < low:
        verdict = "low"
    elif reading.value > high:
        verdict = "high"
    says = table.means[against][verdict].format(  # type: ignore[index] # never the plate
        middle=figure_text(rounded(middle)),
        unit="" if reading.unit == "1" else reading.unit,
        readings=counts[0],
        people=counts[1],
    )
    return Compared(
        against=against,
        verdict=verdict,
        low=low,
        high=high,
        middle=rounded(middle),
        readings=counts[0],
        people=counts[1],
        says=" ".join(says.split()),
    )


def same_thing(one: Reading, other: Reading) -> bool:
    """Tell whether two readings are of the same thing in the same state."""
    return (one.quantity, one.point, one.condition, one.which) == (
        other.quantity,
        other.point,
        other.condition,
        other.which,
    )


def is_bound(reading: Reading) -> bool:
    """Tell whether only a bound was read (under 1, over 500, OL)."""
    return reading.sign in {"over", "under"}


def correction_at(reading: Reading, limits: Sequence[Limit]) -> Correction | None:
    """Return what moves the band of a place with temperature, if anything does."""
    return next(
        (
            limit.correct
            for limit in limits
            if limit.quantity == reading.quantity
            and reading.point in limit.points
            and limit.correct is not None
        ),
        None,
    )


def at_common(reading: Reading, machine: Machine, moves: Correction | None) -> float:
    """Return the value as at the temperature (or height) its band is written for."""
    return reading.value / (corrected(moves, reading, machine) or 1.0)


def _moved(one: Reading, other: Reading, machine: Machine, moves: Correction | None) -> float:
    """A past reading as it would be where the other was taken; as it is if that is unknown."""
    from_, to = corrected(moves, one, machine), corrected(moves, other, machine)
    return one.value if from_ is None or to is None else one.value / from_ * to
