"""How much of what people say is understood: measured on phrases the parser never saw."""

import itertools
from pathlib import Path
from typing import Any

import yaml

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.errors import RefusedInput
from mendpool.core.readings.parse import understand
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import ReadingGiven

HERE = Path(__file__).parent
VOICES = yaml.safe_load((HERE / "reading_voices.yaml").read_text("utf-8"))
PHRASES = yaml.safe_load((HERE / "reading_phrases.yaml").read_text("utf-8"))["understood"]
FLOOR = 0.93
"""88 % at the first try; raised as more come out right. What is left gives no unit, and a
figure without one is asked about rather than guessed at."""


def right(catalogue: Catalogue, row: dict[str, Any]) -> bool:
    """Whether a phrase gives the right quantity, point, unit and value."""
    quantity, point, value = row["is"]
    try:
        found = understand(
            ReadingGiven(text=row["say"]), catalogue.vocabulary, Machine(),
            catalogue.reading_words,
        )  # fmt: skip
    except RefusedInput:
        return False
    return (
        (found.quantity, found.point) == (quantity, point)
        and found.unit == catalogue.vocabulary.readings[quantity].unit
        and abs(found.value - value) <= 1e-6 * max(1.0, abs(value))
    )


def test_the_share_of_phrases_understood_does_not_fall(catalogue: Catalogue) -> None:
    missed = [row["say"] for row in VOICES if not right(catalogue, row)]
    share = 1 - len(missed) / len(VOICES)
    print(f"\nunderstood: {share:.1%} of {len(VOICES)} voices; missed: {missed}")  # noqa: T201
    whole = [row for row in (*VOICES, *PHRASES) if right(catalogue, row)]
    print(f"and {len(whole)} of {len(VOICES) + len(PHRASES)} phrases in all")  # noqa: T201
    assert len(VOICES) + len(PHRASES) >= 200
    assert share >= FLOOR


def test_what_is_not_understood_is_refused_and_not_misread(catalogue: Catalogue) -> None:
    """A refusal costs a question; a wrong reading costs a repair."""
    misread = []
    for row in VOICES:
        try:
            found = understand(
                ReadingGiven(text=row["say"]), catalogue.vocabulary, Machine(),
                catalogue.reading_words,
            )  # fmt: skip
        except RefusedInput:
            continue
        if [found.quantity, found.point] != row["is"][:2]:
            misread.append((row["say"], found.quantity, found.point))
    assert misread == []


def test_the_voices_are_not_the_phrases(catalogue: Catalogue) -> None:
    said = [row["say"].casefold() for row in (*VOICES, *PHRASES)]
    assert len(said) == len(set(said))
    quantities = {row["is"][0] for row in VOICES}
    assert quantities == set(catalogue.vocabulary.readings)
    assert all(len(row["is"]) == 3 for row in itertools.chain(VOICES, PHRASES))
