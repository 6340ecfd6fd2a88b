"""The trade's knowledge as typed values: what each entry of the YAML holds.

Codes come from `vocabulary.yaml`; every other file adds to them. Weights, minutes and
costs are common practice (a practitioner's judgement) unless an entry names a source;
reports of the pool outweigh them as they come in.
"""

from collections.abc import Mapping
from functools import cached_property
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Code = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=60)]
Topic = Annotated[str, Field(pattern=r"^[a-z-]+(:[a-z-]+)?$", max_length=120)]
"""A topic of cautions, with the code that picks one of its texts if one must be picked."""
Percent = Annotated[float, Field(ge=0, le=100)]
Confidence = Literal["published", "from memory", "common practice"]


class Entry(BaseModel):
    """Frozen, and strict about unknown keys: a typing mistake must not be lost."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)


class SetKind(Entry):
    """Which sets an entry is about: a list of codes for each thing that decides it.

    An empty list says nothing about that thing. A set whose own value is not known is
    never left out: what can't be ruled out stays in.
    """

    fuel: tuple[Code, ...] = ()
    excitation: tuple[Code, ...] = ()
    cooling: tuple[Code, ...] = ()
    phases: tuple[int, ...] = ()
    starting: tuple[Code, ...] = ()
    duty: tuple[Code, ...] = ()
    drive: tuple[Code, ...] = ()
    control: tuple[Code, ...] = ()
    governor: tuple[Code, ...] = ()

    @cached_property
    def named(self) -> tuple[tuple[str, tuple[str | int, ...]], ...]:
        """The things that have a list, each with its list."""
        lists = ((field, getattr(self, field)) for field in SetKind.model_fields)
        return tuple((field, codes) for field, codes in lists if codes)


class Symptom(Entry):
    """What is wrong as the user sees it.

    `aliases` are said outright; `hints` only lean to it, their words in any order.
    `share` is how often it is what people complain of, relative to the other symptoms.
    `cannot` lists the states of a check that the set can't, or must not, be brought to.
    """

    code: Code
    label: str
    group: Code
    says: str
    aliases: tuple[str, ...] = Field(min_length=6)
    hints: tuple[str, ...] = ()
    share: float = Field(gt=0)
    only: SetKind = SetKind()
    cannot: tuple[Literal["running", "cranking", "powered"], ...] = ()


class Component(Entry):
    """A maintainable item. `only` says which sets have one."""

    code: Code
    label: str
    group: Code
    says: str
    aliases: tuple[str, ...] = Field(min_length=3)
    only: SetKind = SetKind()


class Remedy(Entry):
    """One way to cure a cause.

    Args:
        action: a code of `actions`, never `bypass` or `test`.
        minutes: for someone who has done it before, opening and closing included.
        cost: parts, relative to the price of the set: 0 none, 1 under 2 %, 2 2 to 5 %,
            3 5 to 15 %, 4 15 to 40 %, 5 over 40 %.
        works: probability that it cures, if this is the cause.
        opens: a shared opening or strip-down (`cover`, `bowl`...), so steps behind the same
            one share it.
        only: the sets it can be done on, where that is fewer than the cause is found on.
    """

    action: Code
    minutes: float = Field(gt=0, le=3000)
    cost: int = Field(ge=0, le=5)
    works: float = Field(gt=0, le=1)
    says: str
    needs: tuple[Code, ...] = ()
    opens: Code | None = None
    only: SetKind = SetKind()
    cautions: tuple[Code, ...] = ()


class Cause(Entry):
    """A component with a way it fails.

    `symptoms` gives, for each symptom, how likely this cause is beside the others that
    give the same symptom (out of about 100 on a usual set). `usual` holds where nothing
    else is said; a code of fuel, excitation, cooling, starting, duty... replaces it on
    such a set; where two apply, their ratios to `usual` multiply.
    """

    component: Code
    failure: Code
    says: str
    only: SetKind = SetKind()
    symptoms: Mapping[Code, Mapping[str, float]]
    remedies: tuple[Remedy, ...] = Field(min_length=1)
    follows: tuple[Code, ...] = ()
    """What happened just before that makes it likelier: codes of `before`."""
    source: str = "common practice"

    @property
    def key(self) -> str:
        """``component/failure``, the name the other files use."""
        return f"{self.component}/{self.failure}"


class ReadingPlace(Entry):
    """Where a check's number comes from."""

    quantity: Code
    point: Code
    condition: Code | None = None


class Found(Entry):
    """One result a check can have.

    `usual` is the per cent chance of it under a cause that the check says nothing about;
    `likely` the per cent under each cause named (``component/failure``, or ``component`` for
    all its failures). What a named cause leaves over is shared among the other results as
    `usual` says.
    """

    says: str
    means: str
    usual: Percent
    likely: Mapping[str, Percent] = {}


class Check(Entry):
    """A test a mechanic makes: a look, a reading, or a thing tried that changes nothing.

    `found` is keyed by `low`, `within`, `high` where `reading` is given, else by codes of the
    check's own. `tells` names the machine field the check settles (its results are then
    that field's codes). `state` is the set's: ``powered`` is key on with the engine standing.
    """

    code: Code
    label: str
    how: str
    expect: str
    state: Literal["stopped", "powered", "running", "cranking", "any"]
    minutes: float = Field(gt=0, le=600)
    needs: tuple[Code, ...] = ()
    only: SetKind = SetKind()
    reading: ReadingPlace | None = None
    tells: Code | None = None
    walkround: bool = False
    opens: Code | None = None
    found: Mapping[Code, Found]
    cautions: tuple[Code, ...] = ()
    source: str = "common practice"


class CautionTrigger(Entry):
    """What calls for a caution: any one entry of any list, on a set that `sets` admits.

    `readings` are ``quantity@point:verdict`` (point or verdict may be ``*``).
    """

    always: bool = False
    symptoms: tuple[Code, ...] = ()
    components: tuple[Code, ...] = ()
    actions: tuple[Code, ...] = ()
    checks: tuple[Code, ...] = ()
    readings: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    protection_defeated: bool = False
    sets: SetKind = SetKind()


class Caution(Entry):
    """A warning in words, under one topic of the vocabulary. Lower `rank` is shown first."""

    topic: Code
    says: str = Field(min_length=20)
    source: str
    confidence: Confidence
    rank: int = Field(ge=1, le=9)
    when: CautionTrigger
