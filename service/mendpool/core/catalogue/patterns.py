"""What several readings say together: `patterns.yaml`."""

from collections.abc import Mapping
from typing import Literal, Self

from pydantic import Field, model_validator

from mendpool.core.catalogue.model import Code, Confidence, Entry, SetKind

Verdicts = tuple[Literal["low", "within", "high"], ...]


class Part(Entry):
    """One reading that a pattern needs: any that fits, at its stage and its load."""

    quantity: Code
    points: tuple[Code, ...]
    conditions: tuple[Code, ...] = ()
    verdicts: Verdicts = ("low", "within", "high")
    dead: bool | None = None
    """True: it must be absent altogether; False: it must not be."""


class Compare(Entry):
    """A figure got from several readings; the pattern holds where it is past `over`/`under`.

    Args:
        of: `spread` highest less lowest; `lowest` the lowest as per cent of the highest;
            `unbalance` the largest distance from the mean as per cent of the mean;
            `drop` first less second as per cent of the second; `less` first less second;
            `apart` highest less lowest as per cent of the mean.
        over, under: edges, in per cent or in the canonical unit.
        by_class, by_duty: `over` by performance class, or by duty where the plate gives none.
        sum_percent: the readings must also add up to rated volts within these per cents.
        at_least: how many readings it takes.
    """

    of: Literal["spread", "lowest", "unbalance", "drop", "less", "apart"]
    over: float | None = None
    under: float | None = None
    by_class: Mapping[Literal["G1", "G2", "G3", "G4"], float] = {}
    by_duty: Mapping[Code, float] = {}
    sum_percent: tuple[float, float] | None = None
    at_least: int = Field(default=2, ge=2)


class Pattern(Entry):
    """What a set of readings points at.

    With `compare.of` `drop` or `less` each part is one reading, in order; otherwise the one
    part names the readings compared: the same quantity at its points, or at one point with
    different `which`. Without `compare` every part must be met.

    Args:
        only, surely: sets it holds for, as in limits.
        unless: codes of patterns before it; if one of those was found this one adds nothing.
        says: the finding; may hold {figure}, {first}, {second}, {lowest}, {highest},
            {which}, {unit}.
        shows, rules_out: symptoms.
        cautions: topics it calls for; the first is a danger where `danger` is true.
    """

    code: Code
    parts: tuple[Part, ...] = Field(min_length=1)
    compare: Compare | None = None
    only: SetKind = SetKind()
    surely: SetKind = SetKind()
    unless: tuple[Code, ...] = ()
    says: str
    shows: tuple[Code, ...] = ()
    rules_out: tuple[Code, ...] = ()
    cautions: tuple[Code, ...] = ()
    danger: bool = False
    source: str
    confidence: Confidence

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if self.compare is None and len(self.parts) < 2:
            raise ValueError("one part and nothing compared: that is a limit, not a pattern")
        if self.compare is not None:
            wanted = 2 if self.compare.of in {"drop", "less"} else 1
            if len(self.parts) != wanted:
                raise ValueError(f"{self.compare.of} compares {wanted} part(s)")
            if self.compare.over is None and self.compare.under is None:
                raise ValueError("compare needs `over` or `under`")
        try:
            self.says.format(
                figure="", first="", second="", lowest="", highest="", which="", unit=""
            )
        except (KeyError, IndexError, ValueError) as error:
            raise ValueError(f"says: {error!r}") from error
        return self
