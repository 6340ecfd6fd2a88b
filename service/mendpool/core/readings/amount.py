"""How much it was: the one way to read a number that can be true, in the canonical unit."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from mendpool.core.catalogue.reading_words import Plausible, ReadingWords
from mendpool.core.readings.figures import Figure
from mendpool.core.readings.gather import Numbers, given_unit
from mendpool.core.readings.place import Where
from mendpool.core.readings.refuse import refused
from mendpool.core.readings.said import with_unit
from mendpool.core.readings.units import (
    NOT_A_READING,
    Unit,
    as_mega,
    convert,
    near_unit,
    unit_named,
)
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import ReadingGiven


@dataclass(frozen=True, slots=True)
class Amount:
    """A reading's figures in the canonical unit.

    Args:
        value, low, high, mark: canonical.
        used: the unit they were written in.
        notes: what was assumed on the way.
    """

    value: float
    low: float | None
    high: float | None
    mark: float | None
    used: Unit
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Scale:
    """What a reading's numbers are written in, kept in, and bounded by.

    Args:
        own: the canonical unit.
        unit: as it was given, None where it was not.
        used: as it is taken.
        bounds: what the quantity can be at this place.
        most: the upper bound, by the plate where that is closer.
        at: where the number was given.
        notes: grows as things are assumed.
    """

    own: Unit
    unit: Unit | None
    used: Unit
    bounds: Plausible | None
    most: float
    at: str
    notes: list[str] = field(default_factory=list)

    def convert(self, number: float | Fraction) -> float:
        """Return a number as written in the canonical unit."""
        exact = number if isinstance(number, Fraction) else Fraction(repr(number))
        return convert(exact, self.used, self.own)

    def can_be(self, value: float) -> bool:
        """Whether a canonical value is possible at all."""
        return self.bounds is None or self.bounds.low <= value <= self.most


def one_unit(given: ReadingGiven, numbers: Numbers) -> Unit | None:
    """Return the unit of the number, or the one given beside it, if they agree.

    Raises:
        RefusedInput: an unknown unit, or two that differ.
    """
    beside = given_unit(given)
    main = numbers.main
    if main is None:
        return beside
    if main.unit is None and main.unit_text:
        typed = main.unit_text
        says = NOT_A_READING.get(typed.strip(" .").lower(), f"no such unit: {typed}")
        raise refused(numbers.at, says, near_unit(typed))
    if main.unit is None or beside is None:
        return main.unit or beside
    if (main.unit.dimension, main.unit.factor) != (beside.dimension, beside.factor):
        says = f"the value says {main.unit.name} and the unit says {beside.name}: which?"
        raise refused("/unit", says)
    return main.unit if main.unit.kind else beside


def scale_of(
    unit: Unit | None,
    where: Where,
    own: Unit,
    words: ReadingWords,
    machine: Machine,
) -> Scale:
    """Return the scale of a reading at a place; `at` is its value.

    Raises:
        RefusedInput: no unit, where the quantity is given in more than one.
    """
    notes = [where.note] if where.note else []
    used = unit
    if used is None:
        used = unit_named(words.bare_units.get(where.quantity, ""))
        if used is None:
            says = f"no unit: {where.quantity} is given in more than one, so say which"
            raise refused("/unit", f"{says} (it is kept in {own.name})", own.name)
        if used.dimension != "ratio":
            notes.append(f"no unit was given: taken as {used.name}")
    elif as_mega(used, own) is not used:
        used = as_mega(used, own)
        notes.append("m is taken as megohm")
    elif used == unit_named("m"):
        raise refused("/unit", "m of what? Write the whole unit", own.name)
    bounds = _plausible(where, words)
    return Scale(own, unit, used, bounds, _most(bounds, machine), "/value", notes)


def _plausible(where: Where, words: ReadingWords) -> Plausible | None:
    for entry in words.plausible:
        if entry.quantity == where.quantity and (
            not entry.points or where.point in entry.points
        ):
            return entry
    return None


def _most(bounds: Plausible | None, machine: Machine) -> float:
    if bounds is None:
        return float("inf")
    if bounds.plate is None:
        return bounds.high
    rated: float | None = getattr(machine, bounds.plate)
    return bounds.high if rated is None else min(bounds.high, bounds.times * rated)


def amount_of(given: ReadingGiven, numbers: Numbers, scale: Scale) -> Amount:
    """Return the figures of a reading, each checked.

    Raises:
        RefusedInput: a value that can't be, two ways to read it, or figures that contradict.
    """
    main = numbers.main
    if main is None:  # pragma: no cover - an open circuit has no figures
        raise refused(numbers.at, "no number in it")
    value = _possible(main, numbers.at, scale)
    low, high = _span(given, main, scale)
    _agree(value, low, high)
    for end, at in ((low, "/min"), (high, "/max")):
        if end is not None and not scale.can_be(end):
            raise refused(at, _impossible(end, scale))
    return Amount(
        value, low, high, _mark(given, numbers, scale), scale.used, tuple(scale.notes)
    )


def _possible(main: Figure, at: str, scale: Scale) -> float:
    ways = [scale.convert(way) for way in main.ways]
    bounds = scale.bounds
    if bounds is None:
        return ways[0]
    left = [way for way in ways if scale.can_be(way)] or _in_other_scales(ways, bounds)
    if len(left) > 1:
        left = [way for way in left if way == 0 or abs(way) >= bounds.least] or left
    if not left:
        raise refused(at, _impossible(ways[0], scale), _smaller(scale.unit))
    if len(left) > 1 and main.ways[0] > main.ways[1]:
        both = " or ".join(f"{float(way):g}" for way in main.ways)
        raise refused(at, f"could be {both}: write it without comma or space")
    if left[0] != ways[0]:
        scale.notes.append(f"read as {with_unit(left[0], scale.own.name)}")
    return left[0]


def _in_other_scales(ways: Sequence[float], bounds: Plausible) -> list[float]:
    """The figure as some people write it, a thousand times the reading say."""
    scaled = [
        float(Fraction(repr(way)) * Fraction(repr(other)))
        for way in ways
        for other in bounds.ways
    ]
    return [way for way in scaled if bounds.low <= way <= bounds.high]


def _impossible(value: float, scale: Scale) -> str:
    says = scale.bounds.says if scale.bounds is not None else ""
    if scale.bounds is not None and scale.bounds.low <= value <= scale.bounds.high:
        says = f"by the plate it is at most {with_unit(scale.most, scale.own.name)}"
    return f"{with_unit(value, scale.own.name)} can't be right: {says}"


def _smaller(unit: Unit | None) -> str | None:
    """MV for mV: the unit meant where mega is far too much."""
    return f"m{unit.name[1:]}" if unit is not None and unit.prefix == "M" else None


def _span(given: ReadingGiven, main: Figure, scale: Scale) -> tuple[float | None, float | None]:
    low = None if given.min is None else scale.convert(given.min)
    high = None if given.max is None else scale.convert(given.max)
    if main.low is not None and main.high is not None:
        if main.high < main.low:
            says = "the first number is above the second: if it fell, send two readings"
            raise refused("/value", says)
        low = scale.convert(main.low) if low is None else low
        high = scale.convert(main.high) if high is None else high
    return low, high


def _agree(value: float, low: float | None, high: float | None) -> None:
    if low is not None and high is not None and low > high:
        raise refused("/min", "min is above max")
    if low is not None and value < low:
        raise refused("/value", f"the value is below its own min, {low:g}")
    if high is not None and value > high:
        raise refused("/value", f"the value is above its own max, {high:g}")


def _mark(given: ReadingGiven, numbers: Numbers, scale: Scale) -> float | None:
    if given.mark is not None:
        mark = scale.convert(given.mark)
        if mark <= 0:
            raise refused("/mark", "what is printed on a part is above 0")
        if not scale.can_be(mark):
            raise refused("/mark", _impossible(mark, scale))
        return mark
    beside = numbers.mark
    if beside is None or (
        beside.unit is not None and beside.unit.dimension != scale.own.dimension
    ):
        return None
    used = scale.used if beside.unit is None else as_mega(beside.unit, scale.own)
    mark = convert(beside.ways[0], used, scale.own)
    return mark if mark > 0 and scale.can_be(mark) else None
