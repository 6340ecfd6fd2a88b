"""The set and its nameplate."""

from typing import Annotated, Literal

from pydantic import Field

from mendpool.core.record.fields import Code, Number, Record, ShortText

NOT_KNOWN = "not-known"


class Machine(Record):
    """What is on the nameplate, and what kind of set it is.

    Only `fuel` is required in a report. `excitation` is on no nameplate: ``not-known`` (or
    nothing) is a full answer. Volts are line to line on three-phase sets; hours are hours run.
    """

    fuel: Code | None = None
    make: ShortText | None = None
    model: ShortText | None = None
    excitation: Code | None = None
    cooling: Code | None = None
    phases: Annotated[int, Field(strict=True)] | None = None
    starting: Code | None = None
    duty: Code | None = None
    drive: Code | None = None
    control: Code | None = None
    governor: Code | None = None
    rated_kva: Annotated[Number, Field(gt=0, le=5000)] | None = None
    rated_kw: Annotated[Number, Field(gt=0, le=5000)] | None = None
    rated_volts: Annotated[Number, Field(ge=12, le=15000)] | None = None
    rated_hz: Annotated[Number, Field(ge=10, le=1000)] | None = None
    rated_rpm: Annotated[Number, Field(ge=100, le=10000)] | None = None
    start_volts: Annotated[Number, Field(ge=6, le=48)] | None = None
    hours: Annotated[Number, Field(ge=0, le=1_000_000)] | None = None
    altitude_m: Annotated[Number, Field(ge=-500, le=6000)] | None = None
    class_: Literal["G1", "G2", "G3", "G4"] | None = Field(default=None, alias="class")

    def kind(self, field: str) -> str | int | None:
        """Return the set's code for a field, None where it is not known."""
        value: str | int | None = getattr(self, field)
        return None if value == NOT_KNOWN else value
