"""The run that proves a set good: `proving.yaml`."""

from typing import Self

from pydantic import Field, model_validator

from mendpool.core.catalogue.model import Code, Entry, ReadingPlace, SetKind, Topic


class ProvingStep(Entry):
    """One step: a reading taken, or a question answered yes or no.

    `proves`: a yes means that what protects the set was proved. `must_hold`: a reading out
    of its band ends the run, before any load is put on it.
    """

    code: Code
    asks: str = Field(min_length=10)
    reading: ReadingPlace | None = None
    proves: bool = False
    must_hold: bool = False
    only: SetKind = SetKind()
    cautions: tuple[Topic, ...] = ()

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        if self.reading is not None and self.proves:
            raise ValueError("a reading proves no protection")
        return self
