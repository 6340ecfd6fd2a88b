"""Numbers of a working's inputs: plain, or as text with a unit (3 hp, 100 ft, 1 1/2 hp).

A plain number is in the input's own unit. Text is never guessed at: an unknown unit, another
dimension or a figure that can be read in two ways is refused with the reason.
"""

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import PydanticCustomError, core_schema

from mendpool.core.readings.figures import tidy, ways_to_read
from mendpool.core.readings.units import Dimension, Unit, convert, near_unit, unit_named

TEXT_MAX = 60
_AMOUNT = re.compile(
    r"(?P<whole>\d+)?\s*(?P<over>\d+)/(?P<under>\d{1,3})(?P<rest>.*)"
    r"|(?P<number>[+-]?[\d.,' \u00a0\u202f]*\d(?:[eE][+-]?\d{1,2})?)(?P<tail>.*)",
    re.DOTALL,
)

# name, dimension, factor to the base of the dimension, spellings
_FOOT, _GALLON_US, _GALLON_IMP = Fraction("304.8"), Fraction("3.785411784"), Fraction("4.54609")
_ROWS: tuple[tuple[str, Dimension, Fraction, str], ...] = (
    ("m", "length", Fraction(1000), "m metre metres meter meters"),
    ("km", "length", Fraction(1_000_000), "km"),
    ("ft", "length", _FOOT, "ft foot feet '"),
    ("yd", "length", _FOOT * 3, "yd yard yards"),
    ("kVA", "apparent power", Fraction(1), "kva"),
    ("VA", "apparent power", Fraction(1, 1000), "va"),
    ("L", "volume", Fraction(1), "l litre litres liter liters ltr"),
    ("US gal", "volume", _GALLON_US, "usgal usgallon usgallons galus"),
    ("imp gal", "volume", _GALLON_IMP, "impgal impgallon impgallons imperialgallons ukgal"),
    ("d", "time", Fraction(24 * 60), "d day days"),
    ("week", "time", Fraction(7 * 24 * 60), "week weeks wk"),
    ("month", "time", Fraction("730.5") * 60, "month months"),
    ("year", "time", Fraction(8766 * 60), "year years yr yrs"),
    ("h", "time", Fraction(60), "h"),
    ("%", "ratio", Fraction(1), "% percent"),
)
_EXTRA = {
    (dimension, spelling): Unit(name, dimension, factor)
    for name, dimension, factor, spellings in _ROWS
    for spelling in spellings.split()
}
_OWN = {name: Unit(name, dimension, factor) for name, dimension, factor, _ in _ROWS}
_TWO_KINDS = frozenset({"gal", "gals", "gallon", "gallons"})


@dataclass(frozen=True, slots=True)
class Takes:
    """Marks an input: the unit a plain number is in, and what it may be.

    Args:
        unit: the unit of the value kept.
        least, most: bounds, in that unit; `above` shuts the lower one out.
    """

    unit: str
    least: float
    most: float
    above: bool = False

    def __get_pydantic_core_schema__(
        self, _source: object, _handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        """Read a number or a text."""
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, _schema: core_schema.CoreSchema, _handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """Describe what is taken."""
        lower = "exclusiveMinimum" if self.above else "minimum"
        number = {"type": "number", lower: self.least, "maximum": self.most}
        text = {"type": "string", "maxLength": TEXT_MAX}
        said = "a plain number" if self.unit == "1" else f"a number in {self.unit}"
        return {"anyOf": [number, text], "description": f"{said}, or text with its unit"}

    def read(self, given: object) -> float:
        """Return the value in the input's unit.

        Raises:
            PydanticCustomError: of type `amount`, with `says` and `meant`.
        """
        if isinstance(given, bool) or not isinstance(given, int | float | str):
            raise _refused(f"a number, or text with a unit, in {self.unit}")
        if isinstance(given, str):
            return self._of_text(given)
        value = float(given) if abs(given) < 1e300 else float("inf")
        if not self._fits(value):
            raise _refused(self._bounds(value))
        return value

    def _of_text(self, text: str) -> float:
        if len(text) > TEXT_MAX:
            raise _refused("too long for a figure with its unit")
        match = _AMOUNT.fullmatch(tidy(text).strip())
        if match is None:
            raise _refused("no number in it")
        ways, typed = _figure(match)
        own = own_unit(self.unit)
        unit = _unit(typed, own)
        values = list(dict.fromkeys(convert(way, unit, own) for way in ways))
        left = [value for value in values if self._fits(value)]
        if not left:
            raise _refused(self._bounds(values[0]) if values else "no number in it")
        # As for readings: a full stop is the decimal one, a comma may be either.
        if len(left) > 1 and left[0] > left[1]:
            both = " or ".join(f"{value:g}" for value in left)
            raise _refused(f"could be {both}: write it without comma or space")
        return left[0]

    def _fits(self, value: float) -> bool:
        return (value > self.least if self.above else value >= self.least) and (
            value <= self.most
        )

    def _bounds(self, value: float) -> str:
        unit = "" if self.unit == "1" else f" {self.unit}"
        if value <= self.least:
            return f"must be {'above' if self.above else 'at least'} {self.least:g}{unit}"
        return f"must be at most {self.most:g}{unit}"


def own_unit(name: str) -> Unit:
    """Return the unit of a working's input or answer.

    Raises:
        KeyError: no such unit, a slip in the code.
    """
    unit = _OWN.get(name) or unit_named(name)
    if unit is None:
        raise KeyError(name)
    return unit


def _figure(match: re.Match[str]) -> tuple[tuple[Fraction, ...], str]:
    if match["over"] is None:
        return ways_to_read(match["number"].strip()), match["tail"]
    under = int(match["under"])
    if under == 0:
        raise _refused("a fraction can't be over nought")
    return (Fraction(match["whole"] or 0) + Fraction(int(match["over"]), under),), match["rest"]


def _unit(typed: str, own: Unit) -> Unit:
    """The unit typed after a number; the input's own where none was."""
    shown = typed.strip()
    compact = re.sub(r"[\s.]+", "", shown)
    if not compact:
        return own
    folded = compact.lower()
    if own.dimension == "volume" and folded in _TWO_KINDS:
        raise _refused("whose gallon? Write US gal or imp gal", "US gal")
    unit = _EXTRA.get((own.dimension, folded)) or unit_named(shown)
    if unit is not None and unit.dimension == own.dimension:
        return unit
    if unit is None:
        unit = next((u for (_, spelling), u in _EXTRA.items() if spelling == folded), None)
    if unit is None:
        near = near_unit(shown, own.dimension)
        raise _refused(f"no such unit: {shown[:20]}", near or own.name)
    raise _refused(f"{unit.name} is a unit of {unit.dimension}; {own.name} is meant", own.name)


def _refused(says: str, meant: str | None = None) -> PydanticCustomError:
    return PydanticCustomError("amount", "{says}", {"says": says, "meant": meant})
