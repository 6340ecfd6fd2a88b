"""Where a reading was taken: its quantity and point, from codes, words and the unit."""

from collections.abc import Callable, Container
from dataclasses import dataclass, replace

from mendpool.core.catalogue.reading_words import Place, ReadingWords
from mendpool.core.catalogue.vocabulary import Vocabulary, nearest_code
from mendpool.core.readings.heading import sure_without_unit, within
from mendpool.core.readings.refuse import refused
from mendpool.core.readings.units import Unit, unit_named

_STRONG, _WEAK = 3, 1
ValueIn = Callable[[str], float | None]
"""The value in a quantity's canonical unit; None for an open circuit."""


@dataclass(frozen=True, slots=True)
class Where:
    """A quantity at a point, with what the place itself says and a note on what was assumed."""

    quantity: str
    point: str
    condition: str | None = None
    which: str | None = None
    note: str = ""


def canonical(vocabulary: Vocabulary, quantity: str) -> Unit:
    """Return the unit a quantity is kept in."""
    unit = unit_named(vocabulary.readings[quantity].unit)
    if unit is None:  # pragma: no cover - the catalogue's own check finds it at loading
        raise KeyError(vocabulary.readings[quantity].unit)
    return unit


@dataclass(frozen=True, slots=True)
class Clues:
    """What there is to tell where a reading was taken.

    Args:
        quantity, point: codes given outright; they stand, and must fit the unit.
        unit: the unit it was read in, if one was given.
        groups: what was heard.
        value_in: the value as any quantity would have it.
        only: quantities it can be, where something rules the others out.
        headed: quantities named right before the number.
    """

    quantity: str | None
    point: str | None
    unit: Unit | None
    groups: frozenset[str]
    value_in: ValueIn
    only: Container[str] | None = None
    headed: frozenset[str] = frozenset()


def where_read(clues: Clues, vocabulary: Vocabulary, words: ReadingWords) -> Where:
    """Find the quantity and point of a reading.

    Args:
        clues: what there is to go by.
        vocabulary: quantities and their points.
        words: what the groups heard say.

    Raises:
        RefusedInput: an unknown code, a unit of another dimension, or no way to tell.
    """
    _check_codes(clues, vocabulary)
    if clues.quantity is not None and clues.point is not None:
        return _spoken_of(clues.quantity, clues.point, clues.groups, words)
    allowed = _allowed(clues, vocabulary)
    if clues.point is not None and len({quantity for quantity, _ in allowed}) == 1:
        return _spoken_of(allowed[0][0], clues.point, clues.groups, words)
    best = _best(allowed, clues.groups.difference(vocabulary.readings), clues, words)
    if len(best) > 1 and clues.unit is None:
        best = _surest(best, clues, words)
    if len({(place.quantity, place.point) for place in best}) == 1:
        return _of_place(best[0])
    if best:
        raise refused("/quantity", _either(best, clues.unit, words))
    best = _best(allowed, clues.headed, clues, words)
    if best:
        return replace(_of_place(best[0]), note=_taken_at(best[0].point, allowed, words))
    return _assumed(clues, allowed, words)


def _surest(best: list[Place], clues: Clues, words: ReadingWords) -> list[Place]:
    """Of places that tie, those whose quantity is named and can hardly be in another unit."""
    left = [
        place
        for place in best
        if place.quantity in clues.headed
        and sure_without_unit(
            place.quantity, place.point, clues.value_in(place.quantity), words
        )
    ]
    return left or best


def _check_codes(clues: Clues, vocabulary: Vocabulary) -> None:
    known, quantity, point = vocabulary.readings, clues.quantity, clues.point
    if quantity is not None and quantity not in known:
        near = nearest_code(quantity, known) or _read_in(quantity, vocabulary)
        raise refused("/quantity", f"no such quantity: {quantity}", near)
    if point is not None:
        points = known[quantity].points if quantity else _all_points(vocabulary)
        if point not in points:
            of = f" for {quantity}" if quantity else ""
            raise refused("/point", f"no such point{of}: {point}", nearest_code(point, points))
    if quantity is not None and clues.unit is not None:
        _check_unit(clues.unit, quantity, canonical(vocabulary, quantity))


def _check_unit(unit: Unit, quantity: str, own: Unit) -> None:
    if unit.dimension != own.dimension:
        says = f"{unit.name} is a unit of {unit.dimension}, and {quantity} is in {own.name}"
        raise refused("/unit", says, own.name)
    if not _kind_fits(unit, quantity):
        raise refused("/unit", f"{quantity} can't be {(unit.kind or '').upper()}", own.name)


def _read_in(typed: str, vocabulary: Vocabulary) -> str | None:
    """Return the first quantity read in a unit, where someone gave the unit for it."""
    unit = unit_named(typed)
    codes = vocabulary.readings if unit is not None else ()
    return next(
        (c for c in codes if unit and canonical(vocabulary, c).dimension == unit.dimension),
        None,
    )


def _all_points(vocabulary: Vocabulary) -> list[str]:
    return sorted({point for entry in vocabulary.readings.values() for point in entry.points})


def _check_headed(
    unit: Unit, headed: frozenset[str], allowed: list[tuple[str, str]], words: ReadingWords
) -> None:
    """Refuse a unit that none of the quantities named right before the number has."""
    if not headed or not headed.isdisjoint(quantity for quantity, _ in allowed):
        return
    named = min(headed)
    own = unit_named(words.bare_units.get(named, ""))
    says = f"{unit.name} is a unit of {unit.dimension}, which can't be {words.label(named)}"
    raise refused("/unit", says, own.name if own else None)


def _kind_fits(unit: Unit, quantity: str) -> bool:
    other = {"ac": "-dc", "dc": "-ac"}.get(unit.kind or "")
    return other is None or not quantity.endswith(other)


def _allowed(clues: Clues, vocabulary: Vocabulary) -> list[tuple[str, str]]:
    """Every quantity and point that the codes and the unit leave open, in order."""
    codes = [clues.quantity] if clues.quantity is not None else list(vocabulary.readings)
    left = [
        (code, point)
        for code in codes
        if _unit_fits(clues.unit, code, vocabulary)
        for point in vocabulary.readings[code].points
        if clues.point in {None, point}
    ]
    if not left and clues.unit is not None:
        raise refused("/unit", f"nothing is read in {clues.unit.name} at {clues.point}")
    if clues.only is None:
        return left
    return [place for place in left if place[0] in clues.only] or left


def _unit_fits(unit: Unit | None, quantity: str, vocabulary: Vocabulary) -> bool:
    return unit is None or (
        unit.dimension == canonical(vocabulary, quantity).dimension
        and _kind_fits(unit, quantity)
    )


def _best(
    allowed: list[tuple[str, str]], groups: frozenset[str], clues: Clues, words: ReadingWords
) -> list[Place]:
    """The places heard with the most weight; more than one if they tie."""
    best: list[Place] = []
    top = 0
    open_to = set(allowed)
    for place in words.places:
        if not groups.issuperset(place.said):
            continue
        score = sum(_WEAK if group in words.weak else _STRONG for group in place.said)
        if score < top or (place.quantity, place.point) not in open_to:
            continue
        if _size_fits(place, clues.value_in(place.quantity)):
            best = [place] if score > top else [*best, place]
            top = score
    return best


def _size_fits(place: Place, value: float | None) -> bool:
    if value is None:
        return place.at_least is None
    return (place.at_least is None or value >= place.at_least) and (
        place.at_most is None or value <= place.at_most
    )


def _of_place(place: Place) -> Where:
    return Where(place.quantity, place.point, place.condition, place.which)


def _spoken_of(quantity: str, point: str, groups: frozenset[str], words: ReadingWords) -> Where:
    """A place that was given outright, with what the words add to it."""
    for place in words.places_at.get((quantity, point), ()):
        if groups.issuperset(place.said):
            return _of_place(place)
    return Where(quantity, point)


def _assumed(clues: Clues, allowed: list[tuple[str, str]], words: ReadingWords) -> Where:
    """What a number is taken for when nothing says where it was read."""
    if clues.quantity is not None:
        assumed = words.default_points.get(clues.quantity)
        if assumed is None:
            points = ", ".join(place for _, place in allowed)
            raise refused("/point", f"where was it read? {clues.quantity} is read at: {points}")
        return Where(clues.quantity, assumed, note=_taken_at(assumed, allowed, words))
    if clues.point is not None:
        first = allowed[0][0]
        return Where(first, clues.point, note=f"taken as {words.label(first)}")
    if clues.unit is None:
        raise refused("/unit", "no unit, and nothing that says what was measured")
    _check_headed(clues.unit, clues.headed, allowed, words)
    for bare in words.bare:
        value = clues.value_in(bare.quantity)
        open_to = bare.dimension == clues.unit.dimension and value is not None
        if open_to and (bare.quantity, bare.point) in allowed and within(bare, value or 0.0):
            note = _taken_at(bare.point, allowed, words)
            return Where(bare.quantity, bare.point, note=note)
    raise refused("/point", f"where was it read? {clues.unit.name} alone does not tell")


def _taken_at(point: str, allowed: list[tuple[str, str]], words: ReadingWords) -> str:
    """The note on an assumed point; none where there was nothing to assume."""
    return f"where was not said: taken at {words.label(point)}" if len(allowed) > 1 else ""


def _either(places: list[Place], unit: Unit | None, words: ReadingWords) -> str:
    seen = dict.fromkeys(words.place(place.quantity, place.point) for place in places)
    ask = "say which" if unit is not None else "give the unit, or say which"
    return f"could be {' or '.join(seen)}: {ask}"
