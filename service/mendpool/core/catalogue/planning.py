"""What a plan goes by besides chances and minutes: covers, what is at hand, the load to carry.

`openings.yaml`, `planning.yaml` and `get-bys.yaml`.
"""

from collections.abc import Mapping
from typing import Self

from pydantic import Field, model_validator

from mendpool.core.catalogue.model import Code, Entry


class Opening(Entry):
    """What comes off before a part is reached.

    Args:
        says: its name.
        minutes: of taking it off and putting it back.
        stays: it may be left off while the set is run.
    """

    says: str
    minutes: float = Field(gt=0, le=600)
    stays: bool


class Hands(Entry):
    """What is at hand.

    Args:
        wait_minutes: what fetching a part counts for.
        parts_for: actions that want the part itself.
        bought: of what a step needs, what is bought for it.
        people: of what a step needs, who is not a tool.
        tools: other words for the tools and hands that a check or a remedy needs.
    """

    wait_minutes: float = Field(gt=0, le=10_000)
    parts_for: tuple[Code, ...]
    bought: tuple[Code, ...]
    people: tuple[Code, ...]
    tools: Mapping[Code, tuple[str, ...]]


class NamedLoad(Entry):
    """What is assumed of a load that is known by its name only.

    Args:
        says: its name, with its article.
        aliases: how people call it.
        kva: as it runs; from `motor_hp` where not given.
        start_kva: as it starts, where that is more.
        motor_hp: of its motor.
    """

    says: str
    aliases: tuple[str, ...] = Field(min_length=1)
    kva: float | None = Field(default=None, gt=0, le=500)
    start_kva: float | None = Field(default=None, gt=0, le=500)
    motor_hp: float | None = Field(default=None, gt=0, le=100)

    @model_validator(mode="after")
    def _has_a_size(self) -> Self:
        if (self.kva is None) == (self.motor_hp is None):
            raise ValueError("give `kva` or `motor_hp`")
        return self


class MustRun(Entry):
    """How a plan is made for the load that matters.

    Args:
        symptoms: those that may be no more than too much load.
        check: the one that sheds everything and brings it back.
        how: how that check is done for one load first; a place for `load`.
        stagger: the advice for when it runs again; a place for `load`.
        loads: by code.
    """

    symptoms: tuple[Code, ...]
    check: Code
    how: str
    stagger: str
    loads: Mapping[Code, NamedLoad]


class Planning(Entry):
    """What is at hand, what can be undone, and the load that matters."""

    hands: Hands
    undoable: tuple[Code, ...]
    must_run: MustRun


class GetByWords(Entry):
    """How long a get-by may run, and what restores and proves.

    Args:
        components: those it is about, or
        groups: of components.
        time_limit: how long at most, and under whose eyes.
        restore: the step that puts it back and proves it; a place for `part`.
    """

    components: tuple[Code, ...] = ()
    groups: tuple[Code, ...] = ()
    time_limit: str = Field(min_length=20)
    restore: str = Field(min_length=20)
