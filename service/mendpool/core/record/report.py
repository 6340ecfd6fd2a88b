"""A repair report: what a set did, what was measured, every attempt, how it ended."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from mendpool.core.record.fields import (
    ATTEMPTS_MAX,
    PAST_MAX,
    READINGS_MAX,
    Code,
    Id,
    Minutes,
    Money,
    Month,
    Number,
    PartText,
    Record,
    ShortText,
    Text,
    Which,
)
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import ReadingGiven


class Observation(Record):
    """The answer of a check that is no number: what was `found`."""

    check: Code
    found: Code
    which: Which | None = None


class Attempt(Record):
    """One thing that was tried, with what came of it. The unit of evidence."""

    component: Code
    action: Code
    result: Code
    failure: Code | None = None
    part: PartText | None = None
    minutes: Minutes | None = None
    cost: Money | None = None
    with_next: Annotated[bool, Field(strict=True)] | None = None
    part_from: Literal["new", "used", "spare", "repaired"] | None = None
    wait_days: Annotated[Number, Field(ge=0, le=3650)] | None = None
    done_by: Literal["self", "workshop"] | None = None
    fits: PartText | None = None


class CauseFound(Record):
    """What turned out to be wrong."""

    component: Code
    failure: Code | None = None
    role: Literal["root", "knock-on", "separate"] | None = None


class Protection(Record):
    """Whether a shutdown or breaker was bridged when found, and how it was left."""

    found: Literal["intact", "defeated"] | None = None
    left: Literal["proved", "untested", "defeated"] | None = None


class Report(Record):
    """A report as a member sends it. A thin report beats none."""

    machine: Machine
    complaint: Text | None = None
    symptoms: Annotated[tuple[Code, ...], Field(max_length=30)] = ()
    readings: Annotated[tuple[ReadingGiven, ...], Field(max_length=READINGS_MAX)] = ()
    observations: Annotated[tuple[Observation, ...], Field(max_length=50)] = ()
    attempts: Annotated[tuple[Attempt, ...], Field(max_length=ATTEMPTS_MAX)] = ()
    cause: CauseFound | None = None
    causes: Annotated[tuple[CauseFound, ...], Field(max_length=10)] = ()
    outcome: Code
    protection_defeated: Annotated[bool, Field(strict=True)] | None = None
    protection: Protection | None = None
    happened: Month | None = None
    before: Annotated[tuple[Code, ...], Field(max_length=13)] = ()
    region: ShortText | None = None
    note: Text | None = None
    continues: Id | None = None

    @model_validator(mode="after")
    def _enough_to_be_a_report(self) -> Self:
        if self.machine.fuel is None:
            raise ValueError("machine.fuel is needed: what does the set burn?")
        healthy = self.outcome == "well" and self.readings
        if not (self.complaint or self.symptoms or healthy):
            raise ValueError("a complaint or a symptom is needed: what did the set do?")
        if self.cause is not None and self.causes:
            raise ValueError("give `cause` or `causes`, not both")
        return self


class Followup(Record):
    """What was seen later: whether the repair held."""

    happened: Month
    state: Code
    hours_run: Annotated[Number, Field(ge=0, le=1_000_000)] | None = None
    note: Text | None = None


class Question(Record):
    """What is asked: a complaint, a symptom, a reading or an observation is enough."""

    machine: Machine = Machine()
    complaint: Text | None = None
    symptoms: Annotated[tuple[Code, ...], Field(max_length=30)] = ()
    readings: Annotated[tuple[ReadingGiven, ...], Field(max_length=READINGS_MAX)] = ()
    observations: Annotated[tuple[Observation, ...], Field(max_length=50)] = ()
    tried: Annotated[tuple[Attempt, ...], Field(max_length=ATTEMPTS_MAX)] = ()
    before: Annotated[tuple[Code, ...], Field(max_length=13)] = ()
    at_hand: Annotated[tuple[ShortText, ...], Field(max_length=50)] = ()
    must_run: Number | ShortText | None = None
    get_by: Annotated[bool, Field(strict=True)] = False
    limit: Annotated[int, Field(strict=True, ge=1, le=50)] = 10

    @model_validator(mode="after")
    def _something_to_go_on(self) -> Self:
        if not (self.complaint or self.symptoms or self.readings or self.observations):
            raise ValueError("say what is wrong: a complaint, a symptom or a reading is enough")
        return self


class JudgeRequest(Record):
    """Readings to be judged against a nameplate.

    `past` are this set's own good readings: of its `well` reports, and as its repairs left it.
    """

    machine: Machine = Machine()
    readings: Annotated[tuple[ReadingGiven, ...], Field(min_length=1, max_length=READINGS_MAX)]
    past: Annotated[tuple[ReadingGiven, ...], Field(max_length=PAST_MAX)] = ()


class SheetRequest(Record):
    """Whose fault sheet is wanted: a nameplate, and the set's short name for its heading."""

    machine: Machine = Machine()
    name: ShortText = ""
