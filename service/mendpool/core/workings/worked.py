"""What a working gives back, as the wire carries it."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from mendpool.core.record.answer import CautionShown, Part


class Figure(Part):
    """A figure of the answer with its unit; a span where the answer is one."""

    name: str
    value: float | str
    unit: str
    low: float | None = None
    high: float | None = None


class Step(Part):
    """A formula, and the same with the numbers in it."""

    formula: str
    numbers: str


class SourceShown(Part):
    """Where a formula or table comes from, and how far that can be trusted."""

    says: str
    confidence: str


class Worked(Part):
    """A working done, in the order a person should read it: what can hurt comes first.

    Args:
        cautions: warnings, the one the outcome calls for first.
        name, label: which working.
        outcome: a code of the catalogue.
        says: the outcome in a sentence, with what was assumed after it.
        answer: the figure asked for.
        also: further figures.
        formula: the steps.
        given: the inputs as understood, in their own units.
        assumed: what was taken where nothing was given.
        sources: of formulas and tables.
    """

    cautions: tuple[CautionShown, ...]
    name: str
    label: str
    outcome: str
    says: str
    answer: Figure
    also: tuple[Figure, ...]
    formula: tuple[Step, ...]
    given: Mapping[str, float | str | bool]
    assumed: tuple[str, ...]
    sources: tuple[SourceShown, ...]


@dataclass(frozen=True, slots=True)
class Sum:
    """What a sum comes to, before it is put in words.

    Args:
        outcome: a code of the working's outcomes.
        answer: the figure asked for.
        steps: formulas with their numbers.
        words: figures for the sentences, by the names in their braces.
        also: further figures.
        notes: codes of notes that apply.
        assumed: of these, those that tell of something taken for granted.
    """

    outcome: str
    answer: Figure
    steps: tuple[Step, ...]
    words: Mapping[str, float | str]
    also: tuple[Figure, ...] = ()
    notes: tuple[str, ...] = ()
    assumed: tuple[str, ...] = field(default=())


def shown(value: float, digits: int = 4) -> float:
    """Return a figure as it is shown: so many significant digits, rounded once."""
    return float(f"{value:.{digits}g}")


def text(value: float) -> str:
    """Return a figure in a formula: four digits, or the whole number if larger; no exponent."""
    rounded = float(round(value)) if abs(value) >= 1000 else shown(value)
    plain = f"{rounded:.10f}".rstrip("0").rstrip(".")
    return plain if "." in f"{rounded:.10f}" else f"{rounded:g}"


def figure(
    name: str, value: float | str, unit: str, span: tuple[float, float] | None = None
) -> Figure:
    """Return a figure of an answer, rounded."""
    value = value if isinstance(value, str) else shown(value)
    if span is None:
        return Figure(name=name, value=value, unit=unit)
    return Figure(name=name, value=value, unit=unit, low=shown(span[0]), high=shown(span[1]))
