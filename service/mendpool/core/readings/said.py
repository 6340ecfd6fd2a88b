"""The sentence that says back what was understood."""

from collections.abc import Sequence

from mendpool.core.catalogue.reading_words import ReadingWords
from mendpool.core.readings.figures import Figure
from mendpool.core.readings.units import Unit
from mendpool.core.record.reading import Reading

_MILLION = 1e6
"""Ohms from which a person says megohms."""


def figure_text(value: float) -> str:
    """Return a number as a person writes it: six digits at most."""
    text = f"{value:.6g}"
    return f"{value:.0f}" if "e+" in text else text


def edge_text(value: float) -> str:
    """Return a limit as it is said: four digits, for no limit is known more finely."""
    text = f"{value:.4g}"
    return f"{value:.0f}" if "e+" in text else text


def with_unit(value: float, unit: str) -> str:
    """Return a number with its unit; a plain ratio has none."""
    if unit == "ohm" and value >= _MILLION:
        value, unit = value / _MILLION, "Mohm"
    return figure_text(value) if unit == "1" else f"{figure_text(value)} {unit}"


def sentence(
    reading: Reading,
    main: Figure | None,
    used: Unit,
    notes: Sequence[str],
    words: ReadingWords,
) -> str:
    """Return what was understood, with every assumption that was made on the way."""
    place = words.place(reading.quantity, reading.point)
    which = "" if reading.which is None else f", {_which(reading.which)}"
    state = words.label(reading.condition) if reading.condition else ""
    state = f", {state}" if state and state not in place else ""
    place = place[:1].upper() + place[1:]
    stage = "" if reading.stage is None else f", as {reading.stage}"
    sign = f"{reading.sign} " if reading.sign else ""
    parts = [f"{place}{which}{state}{stage}: {sign}{with_unit(reading.value, reading.unit)}"]
    if reading.min is not None and reading.max is not None:
        parts.append(f"between {figure_text(reading.min)} and {figure_text(reading.max)}")
    if main is not None and main.shape == "one" and used.name != reading.unit:
        parts.append(f"from {with_unit(float(main.ways[0]), used.name)}")
    return "; ".join([*parts, *notes]) + "."


def _which(which: int | str) -> str:
    return f"no. {which}" if isinstance(which, int) else which.replace("-", " ")
