"""The closed table of units, with exact factors.

A factor turns a figure into the base unit of its dimension: ``base = (figure + shift) ×
factor``. All are exact fractions taken from definitions: the foot and pound of 1959, standard
gravity 9.80665 m/s², water at 1000 and mercury at 13 595.1 kg/m³ (the conventional inch of
each). `m` is milli and `M` is mega as typed; on a quantity whose own unit is the megohm both
are mega.
"""

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from rapidfuzz import process
from rapidfuzz.distance import OSA

Dimension = Literal[
    "voltage", "current", "frequency", "speed", "resistance", "capacitance", "pressure",
    "temperature", "power", "length", "ratio", "time", "apparent power", "volume", "area",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of measure.

    Args:
        name: as it is shown.
        dimension: what it measures.
        factor, shift: to the base unit, exact.
        kind: alternating or direct, where the way it was typed says so.
        prefix: the SI prefix it was typed with.
    """

    name: str
    dimension: Dimension
    factor: Fraction
    shift: Fraction = Fraction(0)
    kind: Literal["ac", "dc"] | None = None
    prefix: str = ""

    def to_base(self, figure: Fraction) -> Fraction:
        """Return the figure in the base unit of the dimension."""
        return (figure + self.shift) * self.factor

    def from_base(self, base: Fraction) -> Fraction:
        """Return a figure of the base unit in this one."""
        return base / self.factor - self.shift


_POUND_FORCE = Fraction("4.4482216152605")
_INCH_MM = Fraction("25.4")
_WATER_MM = Fraction("0.00980665")
"""One millimetre of water in kPa."""
_PREFIXES = {
    "m": Fraction(1, 1000),
    "M": Fraction(10**6),
    "k": Fraction(1000),
    "u": Fraction(1, 10**6),
    "n": Fraction(1, 10**9),
}
_SPOKEN_PREFIXES = {"milli": "m", "mega": "M", "meg": "M", "kilo": "k", "micro": "u"}

# name, dimension, base factor, symbols, words, prefixes it takes
_FAMILIES: tuple[tuple[str, Dimension, Fraction, str, str, str], ...] = (
    ("V", "voltage", Fraction(1), "v", "volt volts", "mMku"),
    ("A", "current", Fraction(1), "a", "amp amps ampere amperes", "mMku"),
    ("Hz", "frequency", Fraction(1), "hz", "hertz", "mMk"),
    ("ohm", "resistance", Fraction(1), "ω", "ohm ohms", "mMku"),
    ("F", "capacitance", Fraction(10**6), "", "farad farads", "mun"),
    ("Pa", "pressure", Fraction(1, 1000), "pa", "pascal pascals", "Mk"),
    ("bar", "pressure", Fraction(100), "bar", "bars", "m"),
    ("W", "power", Fraction(1, 1000), "w", "watt watts", "mMk"),
)

_PSI = _POUND_FORCE / (_INCH_MM * _INCH_MM) * 1000
_MERCURY_MM = Fraction("13.5951") * _WATER_MM
_HP = Fraction(550) * Fraction("0.3048") * _POUND_FORCE / 1000
_DEGREES = ("{}", "°{}", "° {}", "deg {}", "deg{}", "degree {}", "degrees {}")


def _degrees(letter: str, *words: str) -> str:
    """Every way to write a degree of one scale, parted by bars."""
    whole = [f"{before}{word}" for word in words for before in ("", "deg ", "degrees ")]
    return "|".join([form.format(letter) for form in _DEGREES] + whole)


# shown as, dimension, factor, shift, spellings (bars between, a space is optional)
_SINGLES: tuple[tuple[str, Dimension, Fraction, int, str], ...] = (
    ("Hz", "frequency", Fraction(1), 0, "cps|c/s|cycles|cycle|cycles per second"),
    ("rpm", "speed", Fraction(1), 0, "rpm|rpms|r p m|r/min|rev/min|revs/min|min-1|1/min"),
    ("rpm", "speed", Fraction(1), 0, "revs|revs per minute|turns a minute"),
    ("kohm", "resistance", Fraction(1000), 0, "k|kilohm|kilohms"),
    ("ohm", "resistance", Fraction(1), 0, "r"),
    ("Mohm", "resistance", Fraction(10**6), 0, "meg|megs|megohm|megohms"),
    ("uF", "capacitance", Fraction(1), 0, "uf|mfd|mfds|microfarad|microfarads|mikes"),
    ("nF", "capacitance", Fraction(1, 1000), 0, "nf"),
    ("psi", "pressure", _PSI, 0, "psi|psig|p s i|lb/in2|lbs/in2|lb/sq in|lbs|lb|pounds"),
    ("hPa", "pressure", Fraction(1, 10), 0, "hpa"),
    ("kgf/cm2", "pressure", Fraction("98.0665"), 0, "kg/cm2|kgf/cm2|kg/cm²|ksc|kg/sq cm"),
    ("inHg", "pressure", _MERCURY_MM * _INCH_MM, 0, "in hg|inch hg|inches hg|inches mercury"),
    ("inHg", "pressure", _MERCURY_MM * _INCH_MM, 0, '" hg|inches of mercury'),
    ("mmHg", "pressure", _MERCURY_MM, 0, "mm hg"),
    ("inH2O", "pressure", _WATER_MM * _INCH_MM, 0, "in w c|iwc|in wg|inch wc|inches wc|in h2o"),
    (
        "inH2O",
        "pressure",
        _WATER_MM * _INCH_MM,
        0,
        '" wc|inches h2o|inches water|inches of water',
    ),
    (
        "inH2O",
        "pressure",
        _WATER_MM * _INCH_MM,
        0,
        "inches water column|inches of water column",
    ),
    ("mmH2O", "pressure", _WATER_MM, 0, "mm h2o|mm wc|mm wg|mm of water"),
    ("degC", "temperature", Fraction(1), 0, _degrees("c", "celsius", "centigrade")),
    ("degF", "temperature", Fraction(5, 9), -32, _degrees("f", "fahrenheit")),
    ("hp", "power", _HP, 0, "hp|bhp|horsepower|horse power"),
    ("PS", "power", Fraction("0.73549875"), 0, "ps"),
    ("mm", "length", Fraction(1), 0, "mm|millimetre|millimetres|millimeter|millimeters"),
    ("cm", "length", Fraction(10), 0, "cm|centimetre|centimetres|centimeter|centimeters"),
    ("thou", "length", _INCH_MM / 1000, 0, "thou|thousandths"),
    ("in", "length", _INCH_MM, 0, 'in|inch|inches|"'),
    ("1", "ratio", Fraction(1), 0, "1|sg|s g|specific gravity"),
    ("min", "time", Fraction(1), 0, "min|mins|minute|minutes"),
    ("h", "time", Fraction(60), 0, "hr|hrs|hour|hours"),
    ("s", "time", Fraction(1, 60), 0, "sec|secs|second|seconds"),
)

NOT_A_READING = {
    "kva": "kVA is apparent power, a nameplate figure; a power reading is in W or kW",
    "va": "VA is apparent power, a nameplate figure; a power reading is in W or kW",
    "ah": "Ah is a battery's size, not a reading",
    "cca": "CCA is a battery's rating, not a reading",
    "deg": "degrees of what: C or F?",
    "degrees": "degrees of what: C or F?",
    "°": "degrees of what: C or F?",
    "kelvin": "kelvin is not used at a set: give degrees C or F",
    "%": "per cent of what? Give the figure that was measured",
    "mil": "a mil is a thousandth of an inch to some and a millimetre to others: write mm",
    "mils": "a mil is a thousandth of an inch to some and a millimetre to others: write mm",
    "mf": "mF is a thousand microfarads and MF was once one: write uF",
}
"""Units that are refused with their own reason, in folded form."""


def _table() -> dict[str, Unit]:
    """Every spelling, compact: no spaces or full stops; case kept only in the prefix."""
    table: dict[str, Unit] = {}
    for name, dimension, factor, symbols, words, prefixes in _FAMILIES:
        spelled = symbols.split() + words.split()
        table |= {spelling: Unit(name, dimension, factor) for spelling in spelled}
        for prefix in prefixes:
            scaled = Unit(prefix + name, dimension, factor * _PREFIXES[prefix], prefix=prefix)
            table |= {prefix + spelling: scaled for spelling in spelled}
            spoken = [word for word, letter in _SPOKEN_PREFIXES.items() if letter == prefix]
            table |= {front + word: scaled for front in spoken for word in words.split()}
    for name, dimension, factor, shift, spellings in _SINGLES:
        unit = Unit(name, dimension, factor, Fraction(shift))
        table |= {spelling.replace(" ", ""): unit for spelling in spellings.split("|")}
    table["M"] = Unit("Mohm", "resistance", Fraction(10**6), prefix="M")
    table["m"] = Unit("m", "resistance", Fraction(1, 1000), prefix="m")
    kinds: tuple[Literal["ac", "dc"], ...] = ("ac", "dc")
    for spelling in ("v", "a", "mv", "ma", "kv", "volt", "volts", "amp", "amps"):
        table |= {spelling + kind: _of_kind(table[spelling], kind) for kind in kinds}
    return table


def _of_kind(unit: Unit, kind: Literal["ac", "dc"]) -> Unit:
    return Unit(unit.name, unit.dimension, unit.factor, unit.shift, kind, unit.prefix)


_BY_SPELLING = _table()


def unit_named(typed: str) -> Unit | None:
    """Return the unit a person typed, None where the table has none.

    Case counts only in a leading `m` or `M`: ``mV`` is a thousandth, ``MV`` a million.
    """
    compact = re.sub(r"[\s.]+", "", typed).replace("Ω", "ω").replace("º", "°")
    if compact in _BY_SPELLING:
        return _BY_SPELLING[compact]
    if compact[:1] == "M" and len(compact) > 1:
        found = _BY_SPELLING.get("M" + compact[1:].lower())
        if found is not None:
            return found
        # MFD, MBAR, MILLIVOLTS, MM: there is no mega of it, so the case says nothing.
    return _BY_SPELLING.get(compact.lower())


def as_mega(unit: Unit, canonical: Unit) -> Unit:
    """Return the unit a quantity kept in megohm means by `m`: mega, whatever the case."""
    if canonical.name == "Mohm" and unit.prefix == "m":
        return canonical
    return unit


def convert(figure: Fraction, unit: Unit, canonical: Unit) -> float:
    """Return the figure in the canonical unit, rounded once, to the nearest float.

    A figure past all floats becomes an infinity, which no bound lets through.
    """
    try:
        return float(canonical.from_base(unit.to_base(figure)))
    except OverflowError:
        return math.copysign(math.inf, figure)


def near_unit(typed: str, dimension: Dimension | None = None) -> str | None:
    """Return the unit most likely meant by one the table lacks, or None if none is near."""
    choices = {
        spelling: unit.name
        for spelling, unit in _BY_SPELLING.items()
        if dimension in (None, unit.dimension)
    }
    wanted = re.sub(r"[\s.]+", "", typed).lower()
    best = process.extractOne(
        wanted, sorted(choices), scorer=OSA.normalized_similarity, score_cutoff=0.6
    )
    return choices[best[0]] if best else None


def spellings() -> Iterator[str]:
    """Yield every way to write a unit, words apart, folded, longest first."""
    spaced = {spelling for row in _SINGLES for spelling in row[4].split("|")}
    spaced |= {
        f"{w} {k}" for w in ("volt", "volts", "amp", "amps", "v", "a") for k in ("ac", "dc")
    }
    spaced |= {s.lower() for s in _BY_SPELLING} | set(NOT_A_READING)
    spaced.discard("1")  # the unit of a plain ratio is never written after its number
    yield from sorted(spaced, key=lambda s: (-len(s), s))
