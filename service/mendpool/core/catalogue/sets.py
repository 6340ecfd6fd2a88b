"""What kinds of set there are and how common each is: `sets.yaml`."""

from collections.abc import Mapping

from mendpool.core.catalogue.model import Code, Entry, Percent

ANY_KVA = 1e9


class KindShare(Entry):
    """How common a kind is on sets of some sort; the first entry that fits is used."""

    fuel: tuple[Code, ...] = ()
    phases: tuple[int, ...] = ()
    kva_from: float = 0.0
    kva_to: float = ANY_KVA
    shares: Mapping[Code, Percent]


class SetWords(Entry):
    """The machine's codes in plain words, and what to assume when the user does not know.

    Args:
        says: by field and code, how to tell this kind from the others.
        mix: by field, the shares of each code among sets whose own is not known.
        protections: components whose job is to protect; working round one is never a fix.
        needs_proving: actions on one after which it must be shown to protect again.
    """

    says: Mapping[Code, Mapping[str, str]]
    mix: Mapping[Code, tuple[KindShare, ...]]
    protections: tuple[Code, ...]
    needs_proving: tuple[Code, ...]
