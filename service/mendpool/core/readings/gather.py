"""Which of the numbers that were written is the reading, and what the others are."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from mendpool.core.catalogue.reading_words import ReadingWords
from mendpool.core.readings.figures import Figure
from mendpool.core.readings.refuse import refused
from mendpool.core.readings.units import NOT_A_READING, Unit, convert, near_unit, unit_named
from mendpool.core.readings.words import Aside, Told, aside_of, odd_unit, sign_of
from mendpool.core.record.reading import ReadingGiven, Sign

_COLDEST, _HOTTEST = -60.0, 250.0
"""Degrees C a part can be at when it is measured; the wire's own bounds."""
_SIZES = frozenset({"power"})
"""Dimensions in which a number beside a thing's name (15 hp pump) is never a reading."""
_ALSO = re.compile(r"\b(?:and|or|then|but)\s*$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Numbers:
    """The numbers of one reading as they were written.

    Args:
        main: the reading itself; None for an open circuit.
        at: where it was given, for complaints.
        sign: a bound or a rough figure.
        mark, at_deg_c, minutes: what stood beside it.
    """

    main: Figure | None
    at: str
    sign: Sign | None = None
    mark: Figure | None = None
    at_deg_c: float | None = None
    minutes: float | None = None


def numbers_of(given: ReadingGiven, told: Told, words: ReadingWords) -> Numbers:
    """Return the numbers of a reading as it was given.

    Raises:
        RefusedInput: as `pick`; or no value at all; or a value that its text contradicts.
    """
    if isinstance(given.value, float | int):
        unit = given_unit(given)
        written = Figure((Fraction(repr(given.value)),), unit, given.unit or "", 0, 0)
        beside = pick(told, words, "/text", None) if told.figures else None
        if beside is not None:
            _same_number(written, beside.main)
        return Numbers(
            written,
            "/value",
            given.sign or (beside.sign if beside else None),
            beside.mark if beside else None,
            beside.at_deg_c if beside else None,
            beside.minutes if beside else None,
        )
    at = "/value" if given.value is not None else "/text"
    if given.value is None and given.text is None:
        if given.min is None or given.max is None:
            raise refused("/value", "no value: give a number, or the reading in words")
        middle = (Fraction(repr(given.min)) + Fraction(repr(given.max))) / 2
        return Numbers(Figure((middle,), given_unit(given), given.unit or "", 0, 0), "/value")
    return pick(told, words, at, given_unit(given))


def pick(told: Told, words: ReadingWords, at: str, unit: Unit | None) -> Numbers:
    """Tell the reading from the other numbers that stand beside it.

    Raises:
        RefusedInput: no number, more than one, a pair, or a number that is none.
    """
    asides = {figure: aside_of(told, figure, words) for figure in told.figures}
    main = [figure for figure, aside in asides.items() if aside is None]
    main = main or _of_a_plate(asides, at)
    mark = next((f for f, aside in asides.items() if aside == "mark" and f not in main), None)
    degrees = None
    if len(main) > 1:
        hot = [f for f in main if f.unit is not None and f.unit.dimension == "temperature"]
        if len(hot) < len(main) and hot:
            degrees = hot[0]
            main = [f for f in main if f not in hot]
    main = _with_unit_first(told, main, words)
    if len(main) > 1:
        shown = " and ".join(told.text[f.start : f.end].strip() for f in main[:3])
        raise refused(at, f"more than one number ({shown}): send one reading for each")
    if not main:
        return _without_number(told, words, at, unit)
    figure = main[0]
    if figure.shape == "pair":
        raise refused(
            at, "two numbers, not one: a pair on a plate, or two readings? Send each alone"
        )
    odd = odd_unit(told, figure, words) if unit is None or figure.lead is not None else None
    if odd is not None:
        raise refused(at, f"no such unit: {odd}", near_unit(odd))
    return Numbers(
        figure,
        at,
        sign_of(told, figure, words),
        mark,
        _celsius(degrees),
        _minutes(told, asides),
    )


def _of_a_plate(asides: Mapping[Figure, Aside | None], at: str) -> list[Figure]:
    """A whole reading that is a "12 volt battery" is one, but a "15 hp pump" is a size."""
    kinds = {"nameplate", "expected", "mark"}
    main = [figure for figure, aside in asides.items() if aside in kinds][:1]
    if main and main[0].unit is not None and main[0].unit.dimension in _SIZES:
        raise refused(at, "that is the size of something, not a reading of what it carries")
    return main


def _with_unit_first(told: Told, main: list[Figure], words: ReadingWords) -> list[Figure]:
    """Where one number has a unit and another has nothing at all, the first is meant.

    Not where "and" joins the two: of "62 hz no load and 59 loaded" neither may be dropped.
    """
    with_unit = [f for f in main if f.unit is not None or f.unit_text]
    if len(main) == 1 or len(with_unit) != 1 or number_right_after(told, with_unit[0]):
        return main
    kept = main.index(with_unit[0])
    near = main[max(0, kept - 1) : kept + 2]
    if any(_joined(told, one, other, words) for one, other in pairwise(near)):
        return main
    return with_unit


def _joined(told: Told, one: Figure, other: Figure, words: ReadingWords) -> bool:
    """Whether "and" or the like stands right before a number that counts nothing else."""
    return bool(_ALSO.search(told.text, one.end, other.begin)) and (
        odd_unit(told, other, words) is None
    )


def number_right_after(told: Told, figure: Figure) -> bool:
    """Whether a bare number comes at once: of "socket 2 volts 231", whose is the unit?"""
    return any(
        other.start >= figure.end
        and not other.unit_text
        and not told.text[figure.end : other.start].strip(" :=")
        for other in told.figures
    )


def _without_number(told: Told, words: ReadingWords, at: str, unit: Unit | None) -> Numbers:
    if told.groups.intersection(words.open_words):
        return Numbers(None, at, "over")
    zero = [h for h in told.heard if h.groups.intersection(words.zero_words)]
    if zero:
        spoken = next(
            filter(None, map(unit_named, told.text[zero[0].start : zero[0].end].split())), None
        )
        return Numbers(
            Figure((Fraction(0),), unit or spoken, "", zero[0].start, zero[0].end), at
        )
    if told.text.strip().lower().lstrip("+-") in {"nan", "inf"}:
        raise refused(at, "not a number")
    raise refused(at, "no number in it: give the figure that was read, with its unit")


def _celsius(figure: Figure | None) -> float | None:
    unit = unit_named("degC")
    if figure is None or figure.unit is None or unit is None:
        return None
    degrees = convert(figure.ways[0], figure.unit, unit)
    if not _COLDEST <= degrees <= _HOTTEST:
        raise refused("/text", f"nothing on a set is read at {degrees:g} degrees C")
    return degrees


def _minutes(told: Told, asides: Mapping[Figure, Aside | None]) -> float | None:
    for figure, aside in asides.items():
        if aside == "time" and figure.unit is not None:
            before = told.text[max(0, figure.start - 8) : figure.start].lower().split()
            if before[-1:] == ["for"]:
                return float(figure.unit.to_base(figure.ways[0]))
    return None


def _same_number(written: Figure, beside: Figure | None) -> None:
    if beside is not None and written.ways[0] not in beside.ways:
        one, other = float(written.ways[0]), float(beside.ways[0])
        raise refused("/value", f"the value is {one:g}, and the text says {other:g}")


def given_unit(given: ReadingGiven) -> Unit | None:
    """Return the unit given in its own field.

    Raises:
        RefusedInput: when the table has no such unit.
    """
    if given.unit is None:
        return None
    unit = unit_named(given.unit)
    if unit is None:
        folded = given.unit.strip(" .").lower()
        raise refused(
            "/unit",
            NOT_A_READING.get(folded, f"no such unit: {given.unit}"),
            near_unit(given.unit),
        )
    return unit
