"""The rules of the sheet: every code has a letter, and no letter stands for two."""

from collections import Counter
from collections.abc import Callable, Collection, Iterator

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.caution_texts import called_by
from mendpool.core.catalogue.code_rules import known

_NAME = "sheet.yaml"
_NOT_ON_THE_FORM = {"outcomes": {"well"}}
"""The form is for a set that was in trouble."""


def broken_sheet_rules(catalogue: Catalogue) -> list[str]:
    """Return a line for every broken rule; empty when all is well."""
    return [line for rule in RULES for line in rule(catalogue)]


def every_code_has_its_letter(catalogue: Catalogue) -> Iterator[str]:
    """All codes of the five lists, each with a letter of its own, and no others."""
    letters, v = catalogue.sheet.letters, catalogue.vocabulary
    lists: dict[str, Collection[str]] = {
        "symptoms": v.symptoms,
        "components": v.components,
        "actions": v.actions,
        "results": v.results,
        "outcomes": v.outcomes,
    }
    for field, codes in lists.items():
        given, name = getattr(letters, field), f"{_NAME}: letters: {field}"
        yield from known(given, codes, name)
        for code in codes:
            if code not in given and code not in _NOT_ON_THE_FORM.get(field, ()):
                yield f"{name}: no letter for {code}"
        for letter, times in Counter(given.values()).items():
            if times > 1:
                yield f"{name}: {letter} stands for {times} codes"


def readings_are_of_the_vocabulary(catalogue: Catalogue) -> Iterator[str]:
    """Quantity, point and condition exist; no letter is given twice."""
    v = catalogue.vocabulary
    letters = Counter(reading.letter for reading in catalogue.sheet.readings)
    for letter, times in letters.items():
        if times > 1:
            yield f"{_NAME}: readings: {letter} stands for {times} readings"
    for reading in catalogue.sheet.readings:
        name = f"{_NAME}: readings: {reading.letter}"
        yield from known([reading.quantity], v.readings, name)
        if reading.quantity in v.readings:
            yield from known([reading.point], v.readings[reading.quantity].points, name)
        if reading.condition is not None:
            yield from known([reading.condition], v.conditions, name)


def cautions_have_a_text(catalogue: Catalogue) -> Iterator[str]:
    """Each topic named has a text, called for by the code it names."""
    for named in catalogue.sheet.cautions:
        topic, _, code = named.partition(":")
        texts = [caution for caution in catalogue.cautions if caution.topic == topic]
        if not any(not code or called_by(caution, code) for caution in texts):
            yield f"{_NAME}: cautions: {named}: no such text"


RULES: tuple[Callable[[Catalogue], Iterator[str]], ...] = (
    every_code_has_its_letter,
    readings_are_of_the_vocabulary,
    cautions_have_a_text,
)
