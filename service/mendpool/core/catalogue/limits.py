"""The bands a reading is judged by: `limits.yaml`."""

from collections.abc import Mapping
from typing import Literal, Self

from pydantic import Field, model_validator

from mendpool.core.catalogue.model import Code, Confidence, Entry, SetKind

Basis = Literal[
    "absolute",
    "percent of rated volts",
    "percent of leg volts",
    "percent of rated hertz",
    "percent of rated speed",
    "percent of rated current",
    "percent of rated power",
    "percent of mark",
    "scaled to rated volts",
    "per 12 volts of battery",
]
"""What an edge is written against; every one of them is edge × one number of the set.

`absolute` is the canonical unit itself; `scaled to rated volts` is written for a 230 V set;
`per 12 volts of battery` for a 12 V battery.
"""

Correction = Literal["copper", "insulation", "acid", "air density"]
"""Moves the edges to where the reading was taken: winding or insulation temperature, acid
temperature (all from `at_degC`), or the air at the set's altitude."""

Side = Literal["dead", "low", "within", "high"]
Range = tuple[float, float]


class Danger(Entry):
    """A caution topic that a reading past an edge calls for at once, in `basis`."""

    topic: Code
    above: float | None = None
    below: float | None = None


class Dead(Entry):
    """Below this (in `basis`) the thing is not low but absent; the verdict stays `low`."""

    below: float
    means: str


class Shade(Entry):
    """What a part of the scale says beyond its verdict: ``over <= value < under``."""

    over: float | None = None
    under: float | None = None
    says: str


class Swing(Entry):
    """A reading that moves by more than this per cent of its middle shows a symptom."""

    percent: float = Field(gt=0)
    shows: Code
    says: str


class Limit(Entry):
    """One band. The first entry that fits a reading judges it.

    Entries stand widest first where they differ by a figure of the set: what is not known
    never rules an entry out, so the widest band is used, and the answer names the figures
    that would have narrowed it.

    Args:
        quantity, points: what it judges.
        conditions: the reading's own condition must be one of these; none means any.
        which: the reading's `which` must be one of these; none means any.
        only: sets it holds for; a set whose kind is not known is let through.
        surely: sets it holds for; the kind must be known.
        classes, unclassed: performance classes it holds for, and the sets that are taken
            for one of those classes when the plate gives none.
        size: rated kW (kVA where kW is not known), from and up to.
        rated_volts, rated_hz: the plate's figure must be known and lie in here.
        value_in: the reading must lie in here (canonical unit).
        percent_in: the reading must lie in here, as per cent of rated volts.
        basis: what the edges are written against.
        low, high: the edges of `within`; either may be left out. With neither the reading
            stays `unjudged`, and `means.unjudged` says which figure is missing.
        battery_split: at or above this value the battery is a 24 V one, unless it is known.
        correct: what moves the edges.
        lacks: figures beyond the plate that would have narrowed the band, in words.
        means: what each verdict says, in a sentence; may hold {value}, {unit}, {low},
            {high} and {rated}.
        shows, rules_out: symptoms shown to be present or absent.
        dead, shades, swing, danger: see their types.
        source, confidence: where it comes from.
    """

    quantity: Code
    points: tuple[Code, ...] = Field(min_length=1)
    conditions: tuple[Code, ...] = ()
    which: tuple[Code, ...] = ()
    only: SetKind = SetKind()
    surely: SetKind = SetKind()
    classes: tuple[Literal["G1", "G2", "G3", "G4"], ...] = ()
    unclassed: SetKind = SetKind()
    size: Range | None = None
    rated_volts: Range | None = None
    rated_hz: Range | None = None
    value_in: Range | None = None
    percent_in: Range | None = None
    basis: Basis = "absolute"
    low: float | None = None
    high: float | None = None
    battery_split: float = 17.5
    correct: Correction | None = None
    lacks: tuple[str, ...] = ()
    means: Mapping[Literal["low", "within", "high", "unjudged"], str]
    shows: Mapping[Side, tuple[Code, ...]] = {}
    rules_out: Mapping[Side, tuple[Code, ...]] = {}
    dead: Dead | None = None
    shades: tuple[Shade, ...] = ()
    swing: Swing | None = None
    danger: Danger | None = None
    source: str
    confidence: Confidence

    @property
    def judges(self) -> bool:
        """Whether it has a band at all."""
        return self.low is not None or self.high is not None

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if self.low is not None and self.high is not None and self.low > self.high:
            raise ValueError("low is above high")
        wanted = {"within"} if self.judges else {"unjudged"}
        wanted |= {"low"} if self.low is not None else set()
        wanted |= {"high"} if self.high is not None else set()
        missing = wanted - set(self.means)
        if missing:
            raise ValueError(f"means lacks {', '.join(sorted(missing))}")
        spare = set(self.means) - wanted
        if spare:
            raise ValueError(f"means has {', '.join(sorted(spare))}, which can't come out")
        for sentence in (*self.means.values(), *(shade.says for shade in self.shades)):
            try:
                sentence.format(value="", unit="", low="", high="", rated="")
            except (KeyError, IndexError, ValueError) as error:
                raise ValueError(f"means: {sentence!r}: {error!r}") from error
        return self
