"""A reading as it was given, and as it was understood."""

from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from mendpool.core.record.fields import Code, Minutes, Number, Record, Which, clean_text

Verdict = Literal["low", "within", "high", "unjudged"]
Sign = Literal["over", "under", "about"]
WordsOfReading = Annotated[str, Field(min_length=1, max_length=300), AfterValidator(clean_text)]


class ReadingGiven(Record):
    """A reading as a person or a client writes it.

    Either `text` alone ("residual 3 volts with the AVR unplugged"), or a value, which may
    itself be text ("59,6 hz"), with as much of the rest as is known.
    """

    text: WordsOfReading | None = None
    quantity: Code | None = None
    point: Code | None = None
    condition: Code | None = None
    value: Number | WordsOfReading | None = None
    unit: Annotated[str, Field(min_length=1, max_length=20)] | None = None
    min: Number | None = None
    max: Number | None = None
    minutes: Minutes | None = None
    stage: Literal["found", "left"] | None = None
    which: Which | None = None
    sign: Sign | None = None
    mark: Number | None = None
    at_degC: Annotated[Number, Field(ge=-60, le=250)] | None = None  # noqa: N815 - wire name


class Reading(Record):
    """A reading understood: canonical unit, known quantity and point.

    `said` is what was understood, in a sentence, so that nothing is guessed in silence.
    """

    quantity: Code
    point: Code
    condition: Code | None = None
    value: Number
    unit: str
    min: Number | None = None
    max: Number | None = None
    minutes: Minutes | None = None
    stage: Literal["found", "left"] | None = None
    which: int | str | None = None
    sign: Sign | None = None
    mark: Number | None = None
    at_degC: Number | None = None  # noqa: N815 - wire name
    said: str = ""


Against = Literal["plate", "own past", "sets like it"]


class Compared(Record):
    """A reading beside what good ones read.

    Args:
        against: this set's own past, or sets like it.
        verdict, low, high: as in `Judged`, by the good readings.
        middle: their median, in the reading's unit.
        readings, people: how many they are, and of how many people.
        says: the comparison in a sentence.
    """

    against: Against
    verdict: Verdict
    low: Number
    high: Number
    middle: Number
    readings: int
    people: int
    says: str


class Steady(Record):
    """A reading's lowest and highest over a run, held to a performance class.

    Args:
        verdict, says, source: as of a log.
        wander, allowed: per cent of rated, and the most the class allows.
        class_: it was held to; `best` the tightest it keeps.
    """

    verdict: Literal["steady", "unsteady"]
    wander: Number
    allowed: Number
    class_: str = Field(serialization_alias="class")
    best: str | None = None
    says: str
    source: str


class Judged(Reading):
    """A reading with its verdict.

    Args:
        low, high: the band it was judged by, in `unit`; None on an open side.
        source: where the band comes from, with its confidence in words.
        means: what the verdict says, in a sentence.
        against: what the verdict rests on; left out where there is none.
        compared: what good readings say of it, where any are known.
        steady: how steady it was, where its lowest and highest are known.
    """

    verdict: Verdict
    low: Number | None = None
    high: Number | None = None
    source: str = ""
    means: str = ""
    against: Against | None = None
    compared: tuple[Compared, ...] = ()
    steady: Steady | None = None
