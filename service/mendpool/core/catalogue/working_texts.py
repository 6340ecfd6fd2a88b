"""What is said of each calculation of the trade: `workings.yaml`."""

from collections.abc import Mapping
from string import Formatter

from pydantic import Field, model_validator

from mendpool.core.catalogue.model import Code, Confidence, Entry, Topic


class SourceText(Entry):
    """Where a formula or a table comes from."""

    says: str
    confidence: Confidence


class WorkingText(Entry):
    """One calculation in words; the sums themselves are code.

    Args:
        label: what it is called.
        says: what it tells, in a sentence.
        inputs: by name, what to give.
        outcomes: by code, the sentence an outcome is told in; the names in braces are
            figures of the answer.
        notes: sentences added where they apply, by code.
        cautions: topics that belong to it always; ``topic:code`` where only the text that a
            symptom, component, action, check or quantity calls for fits.
        dangers: topics by outcome, shown before all else.
        sources: of its formulas and tables.
        example: inputs to try it with.
    """

    label: str
    says: str = Field(min_length=20)
    inputs: Mapping[str, str]
    outcomes: Mapping[Code, str] = Field(min_length=1)
    notes: Mapping[Code, str] = {}
    cautions: tuple[Topic, ...] = ()
    dangers: Mapping[Code, Topic] = {}
    sources: tuple[SourceText, ...] = Field(min_length=1)
    example: Mapping[str, bool | int | float | str]

    @model_validator(mode="after")
    def _whole(self) -> "WorkingText":
        spare = set(self.dangers) - set(self.outcomes)
        if spare:
            raise ValueError(f"dangers names {', '.join(sorted(spare))}, which is no outcome")
        strange = set(self.example) - set(self.inputs)
        if strange:
            raise ValueError(f"example gives {', '.join(sorted(strange))}, which is no input")
        for sentence in (*self.outcomes.values(), *self.notes.values()):
            list(Formatter().parse(sentence))
        return self
