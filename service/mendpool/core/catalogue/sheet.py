"""What stands on the sheet inside the enclosure door: `sheet.yaml`."""

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from mendpool.core.catalogue.model import Code, Entry, SetKind, Topic

Pair = Annotated[str, StringConstraints(pattern="^[A-Z]{2}$")]
Capital = Annotated[str, StringConstraints(pattern="^[A-Z]$")]
Digit = Annotated[str, StringConstraints(pattern="^[1-9]$")]


class GoodValue(Entry):
    """A reading whose good band is printed, and which the form has a place for.

    Args:
        letter: its letter on the form.
        says: its name.
        quantity, point, condition: what is read.
        of: a figure of the plate that a sound set reads a multiple of.
        times: that multiple.
        good: what a sound set reads where the plate does not say; in the canonical unit.
        only: the sets it is read on.
    """

    letter: Annotated[str, StringConstraints(pattern="^[a-z]$")]
    says: str = Field(max_length=40)
    quantity: Code
    point: Code
    condition: Code | None = None
    of: Literal["rated_volts", "leg_volts", "rated_hz", "start_volts"] | None = None
    times: float = Field(default=1.0, gt=0)
    good: float
    only: SetKind = SetKind()


class Letters(Entry):
    """The letters of the pencilled form, by code. Once printed they are never given anew."""

    symptoms: Mapping[Code, Pair]
    components: Mapping[Code, Pair]
    actions: Mapping[Code, Capital]
    results: Mapping[Code, Digit]
    outcomes: Mapping[Code, Capital]


class SheetPlan(Entry):
    """What is printed: how many complaints with their first steps, cautions, readings."""

    complaints: int = Field(ge=1, le=20)
    steps: int = Field(ge=1, le=8)
    choices: int = Field(ge=1, le=60)
    cautions: tuple[Topic, ...] = Field(min_length=1)
    readings: tuple[GoodValue, ...]
    letters: Letters
