"""Is it steady? A log, or a lowest and highest, against the bands of a performance class."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from mendpool.core.catalogue.tables import Classes, ClassName, ClassRow
from mendpool.core.readings.log_text import Column, Log
from mendpool.core.readings.said import figure_text
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Reading, Steady

Verdict = Literal["steady", "unsteady", "unjudged"]
_FEWEST = 20
"""Fewer readings than this have no middle share worth the name: all of them count."""


@dataclass(frozen=True, slots=True)
class Steadiness:
    """How steady one thing was over a run.

    Args:
        name, unit: of the column.
        readings: how many.
        low, middle, high: lowest, median and highest.
        steady_low, steady_high: ends of the steady part, the middle share of the log.
        wander: width of the steady part in per cent of rated (hertz), or half of it (volts),
            as the class counts it; None where nothing is rated.
        wander_allowed: by the class.
        fall, rise: deepest and highest moment, in per cent of rated from the middle.
        fall_allowed, rise_allowed: by the class.
        longest_s: longest time past the band round the middle, None where there was no time.
        longest_allowed: by the class.
        class_: it was judged by.
        best: the tightest class whose limits it keeps, None if none.
        verdict: and why, in `says`.
        source: of the limits.
    """

    name: str
    unit: str
    readings: int
    low: float
    middle: float
    high: float
    steady_low: float
    steady_high: float
    wander: float | None
    wander_allowed: float | None
    fall: float | None
    fall_allowed: float | None
    rise: float | None
    rise_allowed: float | None
    longest_s: float | None
    longest_allowed: float | None
    class_: ClassName | None
    best: ClassName | None
    verdict: Verdict
    says: str
    source: str


@dataclass(frozen=True, slots=True)
class _Limits:
    """The limits of one class for one dimension."""

    wander: float
    fall: float
    rise: float
    seconds: float


@dataclass(frozen=True, slots=True)
class _Seen:
    """What a run did, as per cent of rated."""

    wander: float
    fall: float
    rise: float
    longest: float | None

    def past(self, limits: _Limits) -> list[str]:
        """What went past its limit, by name."""
        longest = self.longest if self.longest is not None else 0.0
        pairs = (
            ("wander", self.wander, limits.wander),
            ("fall", self.fall, limits.fall),
            ("rise", self.rise, limits.rise),
            ("longest", longest, limits.seconds),
        )
        return [name for name, got, most in pairs if got > most * (1 + 1e-9)]


@dataclass(frozen=True, slots=True)
class _Run:
    """One column with what is needed to hold it to a class."""

    column: Column
    seconds: Sequence[float]
    middle: float
    ends: tuple[float, float]
    rated: float

    def seen(self, limits: _Limits) -> _Seen:
        """What the run did, as the limits count it."""
        width = 100 * (self.ends[1] - self.ends[0]) / self.rated
        values = self.column.values
        return _Seen(
            # ISO 8528-5: the frequency band is the whole envelope, the voltage deviation half.
            wander=width if self.column.dimension == "frequency" else width / 2,
            fall=100 * (self.middle - min(values)) / self.rated,
            rise=100 * (max(values) - self.middle) / self.rated,
            longest=self._longest(limits) if self.seconds else None,
        )

    def _longest(self, limits: _Limits) -> float:
        """The longest stay past the band round the middle, between readings inside it."""
        reach = limits.wander / 100 * self.rated
        longest, since = 0.0, self.seconds[0]
        for value, at in zip(self.column.values, self.seconds, strict=True):
            if abs(value - self.middle) > reach:
                longest = max(longest, at - since)
            else:
                since = at
        return longest


_WORDS = {
    "wander": "it wanders {wander} %, more than the {wander_allowed} % allowed",
    "fall": "it falls {fall} % at its deepest, more than the {fall_allowed} % allowed",
    "rise": "it rises {rise} % at its highest, more than the {rise_allowed} % allowed",
    "longest": "it stays away {longest} s, longer than the {longest_allowed} s allowed",
}


def steadiness(log: Log, machine: Machine, classes: Classes) -> tuple[Steadiness, ...]:
    """Judge every column of a log, in order.

    The middle share of the readings (95 per cent) is the steady part and is held to the steady
    band; the deepest and the highest moments to the momentary limits; a stay past the band
    round the middle to the time to recover. So the log should be of one load, with short
    switchings at most: the droop of a change that lasts counts as wander. Volts and hertz
    are judged; anything else is shown with its lowest and highest alone.
    """
    return tuple(_of_column(column, log.seconds, machine, classes) for column in log.columns)


def of_span(
    low: float, middle: float, high: float, kind: str, machine: Machine, classes: Classes
) -> Steadiness:
    """Judge a meter's lowest and highest over a run, where no log was kept.

    Args:
        kind: dimension, `voltage` or `frequency`.

    All of the span counts as its steady part: which moments were short is not known.
    """
    unit = {"voltage": "V", "frequency": "Hz"}[kind]
    column = Column(kind, unit, kind, (low, middle, high))
    return _of_column(column, (), machine, classes)


def steady(reading: Reading, machine: Machine, classes: Classes) -> Steady | None:
    """Return how steady a reading with a lowest and a highest was; None if it can't be told.

    A start's own dip is no wander, so a reading taken at one is left alone.
    """
    held = classes.judged.get(reading.quantity)
    if (
        held is None
        or reading.point not in held.points
        or reading.min is None
        or reading.max is None
        or reading.condition in classes.moving
    ):
        return None
    found = of_span(reading.min, reading.value, reading.max, held.kind, machine, classes)
    if found.verdict == "unjudged" or found.wander is None or found.wander_allowed is None:
        return None
    return Steady(
        verdict=found.verdict,
        wander=found.wander,
        allowed=found.wander_allowed,
        class_=str(found.class_),
        best=found.best,
        says=found.says,
        source=found.source,
    )


def _of_column(
    column: Column, seconds: Sequence[float], machine: Machine, classes: Classes
) -> Steadiness:
    ordered = sorted(column.values)
    middle = _quantile(ordered, 0.5)
    out = (1 - classes.steady_share) / 2 if len(ordered) >= _FEWEST else 0.0
    ends = (_quantile(ordered, out), _quantile(ordered, 1 - out))
    rated = _rated(column, machine, middle)
    name = _class(machine, classes)
    if rated is None or name is None:
        return _bare(column, ordered, middle, ends)
    row = classes.rows[name]
    run = _Run(column, seconds, middle, ends, rated)
    limits = _limits(row, column.dimension)
    seen = run.seen(limits)
    past = seen.past(limits)
    every = {code: _limits(other, column.dimension) for code, other in classes.rows.items()}
    best = [code for code, other in every.items() if not run.seen(other).past(other)]
    figures = {
        "wander": seen.wander, "wander_allowed": limits.wander, "fall": seen.fall,
        "fall_allowed": limits.fall, "rise": seen.rise, "rise_allowed": limits.rise,
        "longest": seen.longest or 0.0, "longest_allowed": limits.seconds,
    }  # fmt: skip
    words = {key: figure_text(round(value, 2)) for key, value in figures.items()}
    fault = "; ".join(_WORDS[what].format(**words) for what in past)
    says = (
        f"Not within class {name}: {fault}."
        if past
        else f"Steady, within class {name}: it wanders {words['wander']} % of "
        f"{words['wander_allowed']} % allowed."
    )
    if machine.class_ is None and machine.duty is None:
        says = f"{says} The widest class is used: not given is its class or its duty."
    source = classes.source
    if row.confidence != "published":
        source = f"{source} ({row.confidence})"
    return Steadiness(
        name=column.name, unit=column.unit, readings=len(ordered),
        low=ordered[0], middle=middle, high=ordered[-1],
        steady_low=ends[0], steady_high=ends[1],
        wander=round(seen.wander, 4), wander_allowed=limits.wander,
        fall=round(seen.fall, 4), fall_allowed=limits.fall,
        rise=round(seen.rise, 4), rise_allowed=limits.rise,
        longest_s=seen.longest, longest_allowed=limits.seconds,
        class_=name, best=best[-1] if best else None,
        verdict="unsteady" if past else "steady", says=says, source=source,
    )  # fmt: skip


def _bare(
    column: Column, ordered: Sequence[float], middle: float, ends: tuple[float, float]
) -> Steadiness:
    judged = column.dimension in {"voltage", "frequency"}
    says = (
        "No band without the set's rated figure, or for a class that is as agreed."
        if judged
        else "Only volts and hertz have a band of steadiness."
    )
    return Steadiness(
        name=column.name, unit=column.unit, readings=len(ordered),
        low=ordered[0], middle=middle, high=ordered[-1],
        steady_low=ends[0], steady_high=ends[1],
        wander=None, wander_allowed=None, fall=None, fall_allowed=None, rise=None,
        rise_allowed=None, longest_s=None, longest_allowed=None, class_=None, best=None,
        verdict="unjudged", says=says, source="",
    )  # fmt: skip


def _quantile(ordered: Sequence[float], share: float) -> float:
    """The value below which so much of the readings lies, between neighbours if need be."""
    place = share * (len(ordered) - 1)
    below = math.floor(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (ordered[above] - ordered[below]) * (place - below)


def _rated(column: Column, machine: Machine, middle: float) -> float | None:
    if column.dimension == "frequency":
        return machine.rated_hz
    if column.dimension != "voltage" or machine.rated_volts is None:
        return None
    # A log of one leg is held to the leg, one of the whole output to the whole.
    legs = (1.0, 2.0) if machine.phases == 1 else (1.0, math.sqrt(3))
    return min((machine.rated_volts / leg for leg in legs), key=lambda v: abs(v - middle))


def _class(machine: Machine, classes: Classes) -> ClassName | None:
    """The plate's class, else the one usual for its duty, else the widest, which is first.

    G4 is as agreed and has no limits.
    """
    if machine.class_ is not None:
        return None if machine.class_ == "G4" else machine.class_
    if machine.duty is None:
        return next(iter(classes.rows))
    return classes.usual.get(machine.duty)


def _limits(row: ClassRow, dimension: str) -> _Limits:
    if dimension == "frequency":
        return _Limits(row.hertz_band, row.hertz_fall, row.hertz_rise, row.hertz_seconds)
    return _Limits(row.volts_off, row.volts_fall, row.volts_rise, row.volts_seconds)
