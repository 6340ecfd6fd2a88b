"""The kinds of input that workings share."""

from typing import Annotated, Literal

from pydantic import Field

from mendpool.core.record.fields import Code
from mendpool.core.workings.amounts import Takes

Phases = Literal[1, 3]
Amps = Annotated[float, Takes("A", 0, 5000, above=True)]
Volts = Annotated[float, Takes("V", 6, 15_000)]
Kva = Annotated[float, Takes("kVA", 0, 5000, above=True)]
Kw = Annotated[float, Takes("kW", 0, 5000, above=True)]
Share = Annotated[float, Takes("1", 0, 1, above=True)]
Ohms = Annotated[float, Takes("ohm", 0, 1e8, above=True)]
Degrees = Annotated[float, Takes("degC", -60, 250)]
AirDegrees = Annotated[float, Takes("degC", -50, 60)]
Hertz = Annotated[float, Takes("Hz", 10, 1000)]
Count = Annotated[int, Field(strict=True, ge=1, le=200)]
YesNo = Annotated[bool, Field(strict=True)]

__all__ = [
    "AirDegrees", "Amps", "Code", "Count", "Degrees", "Hertz", "Kva", "Kw", "Ohms", "Phases",
    "Share", "Volts", "YesNo",
]  # fmt: skip
