"""Advice that kills whoever copies it: `advice.yaml`."""

from mendpool.core.catalogue.model import Code, Entry


class Done(Entry):
    """The same in codes: actions on a protection, or a set left with one defeated."""

    actions: tuple[Code, ...] = ()
    left_defeated: bool = False


class Advice(Entry):
    """One kind of dangerous advice.

    Args:
        code: its own.
        label: what a steward reads.
        topic: of the caution that a report with it carries.
        said: phrases that are it outright.
        deeds, things: one of each in a clause is it as well.
        done: how it looks in codes.
    """

    code: Code
    label: str
    topic: Code
    said: tuple[str, ...] = ()
    deeds: tuple[str, ...] = ()
    things: tuple[str, ...] = ()
    done: Done = Done()
