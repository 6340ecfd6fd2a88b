"""How people say what they measured: `reading-words.yaml`."""

from collections.abc import Mapping
from functools import cached_property
from typing import Literal

from pydantic import Field

from mendpool.core.catalogue.model import Code, Entry
from mendpool.core.catalogue.spoken import PhraseBook, phrase_book

Heard = Mapping[str, tuple[str, ...]]


class Place(Entry):
    """A quantity at a point, and the groups of words that must all be heard for it.

    `at_least` and `at_most` (canonical unit) tell two quantities of one dimension apart by
    the size of the number. Of the places that fit, the one with the most groups wins; a
    `weak` group counts for less than any other.
    """

    quantity: Code
    point: Code
    said: tuple[str, ...] = Field(min_length=1)
    condition: Code | None = None
    which: Code | None = None
    at_least: float | None = None
    at_most: float | None = None


class Bare(Entry):
    """What a number with this unit is taken for when no word says where it was read."""

    dimension: str
    quantity: Code
    point: Code
    at_least: float | None = None
    at_most: float | None = None


class Plausible(Entry):
    """What a reading can be at all, in the canonical unit; beyond it the reading is refused.

    No `points` means every point. The first entry that fits is used. `ways` are other scales
    that people write the same figure in (1265 for 1.265): tried where the figure itself is
    not possible, and always said. `least` is the smallest reading but nought that anyone takes:
    it only settles which of two ways to read a number is meant. Where the plate gives `plate`,
    so many `times` that is a bound too.
    """

    quantity: Code
    points: tuple[Code, ...] = ()
    low: float
    high: float
    says: str
    least: float = 0.0
    plate: Literal["rated_volts", "start_volts"] | None = None
    times: float = Field(default=1.0, gt=0)
    ways: tuple[float, ...] = ()


class ReadingWords(Entry):
    """The words of `reading-words.yaml`.

    Args:
        heard: groups of phrases by name; all else refers to a group by its name.
        places: what the groups say of where it was read.
        weak: groups that give way to any other that says where.
        conditions: by condition, the groups that say so, in the order they are preferred.
        signs: groups before (or after) a number that make it a bound or a rough figure.
        stages: groups that say whether it was as found or as left.
        which_nouns: nouns that number a thing (cylinder 2).
        which_words: groups that name one thing of several, to the code kept.
        labels: codes in plain words, and ``quantity@point`` where the two together read badly.
        bare: what a number with a unit and no words is taken for.
        default_points: the point when only the quantity is known.
        bare_units: the unit of a number that has none; a quantity left out needs its unit.
        plausible: bounds.
        open_line: what an open circuit is stored as, canonical unit, by quantity.
        open_words, zero_words: groups for an open circuit and for nothing at all.
        zero_unit: what "nothing" is counted in where neither unit nor place tells.
        after_number: plain words that may follow a bare number; any other is an unknown unit.
        number_words: numbers in words.
        mark_before: groups after which a number is what is printed on the part.
        expected_before: groups after which a number is what it should be, not what it is.
        once_words, now_words: groups that set what it was against what it is now.
        nameplate_after: nouns that make the number before them a rating ("12 volt battery").
        nameplate_units: units that only ever stand on a nameplate.
        cuts: words at which one reading's words end and the next one's begin.
    """

    heard: Heard
    places: tuple[Place, ...]
    weak: tuple[str, ...] = ()
    conditions: Mapping[Code, tuple[str, ...]]
    signs: Mapping[Literal["over", "under", "about"], tuple[str, ...]]
    stages: Mapping[Literal["found", "left"], tuple[str, ...]]
    which_nouns: tuple[str, ...]
    which_words: Mapping[Code, tuple[str, ...]]
    labels: Mapping[str, str]
    bare: tuple[Bare, ...]
    default_points: Mapping[Code, Code]
    bare_units: Mapping[Code, str]
    plausible: tuple[Plausible, ...]
    open_line: Mapping[Code, float]
    open_words: tuple[str, ...]
    zero_words: tuple[str, ...]
    zero_unit: str
    after_number: tuple[str, ...]
    number_words: Mapping[str, float]
    mark_before: tuple[str, ...]
    expected_before: tuple[str, ...]
    once_words: tuple[str, ...]
    now_words: tuple[str, ...]
    nameplate_after: tuple[str, ...]
    nameplate_units: tuple[str, ...]
    cuts: tuple[str, ...]

    @cached_property
    def places_at(self) -> Mapping[tuple[str, str], tuple[Place, ...]]:
        """Places by quantity and point, those of which most must be heard first."""
        found: dict[tuple[str, str], tuple[Place, ...]] = {}
        for place in sorted(self.places, key=lambda place: -len(place.said)):
            at = place.quantity, place.point
            found[at] = (*found.get(at, ()), place)
        return found

    @cached_property
    def book(self) -> PhraseBook:
        """Every phrase of `heard`, ready to be looked for."""
        return phrase_book(self.heard)

    def place(self, quantity: str, point: str) -> str:
        """Return a quantity at a point in plain words."""
        whole = self.labels.get(f"{quantity}@{point}")
        return whole or f"{self.label(quantity)} at {self.label(point)}"

    def label(self, code: str) -> str:
        """Return a code in plain words."""
        return self.labels.get(code, code.replace("-", " "))
