"""From what a person wrote to a reading in its canonical unit, or a refusal with the reason."""

from dataclasses import dataclass, replace

from mendpool.core.catalogue.reading_words import ReadingWords
from mendpool.core.catalogue.vocabulary import Vocabulary, nearest_code
from mendpool.core.errors import RefusedInput
from mendpool.core.readings.amount import Amount, amount_of, one_unit, scale_of
from mendpool.core.readings.gather import Numbers, numbers_of
from mendpool.core.readings.heading import headings
from mendpool.core.readings.place import Clues, Where, canonical, where_read
from mendpool.core.readings.refuse import refused
from mendpool.core.readings.said import sentence
from mendpool.core.readings.units import Unit, as_mega, convert, unit_named
from mendpool.core.readings.words import Told, condition_of, listen, stage_of, which_of
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Reading, ReadingGiven

OPEN_LINE = "open line: no reading up to the end of the meter's range"


def understand(
    given: ReadingGiven, vocabulary: Vocabulary, machine: Machine, words: ReadingWords
) -> Reading:
    """Understand one reading.

    Args:
        given: as it was written: text alone, or a value with as much of the rest as is known.
        vocabulary: quantities, points and conditions.
        machine: the set; its plate bounds what can be true, and nothing of it is needed.
        words: what people's words mean.

    Returns:
        The reading in the canonical unit of its quantity. `said` tells in a sentence what
        was understood and what was assumed.

    Raises:
        RefusedInput: with a complaint whose `at` is relative to the reading (``/value``),
            when it can't be understood or can't be true.
    """
    told = listen(_all_words(given), words)
    numbers = numbers_of(given, told, words)
    return Settler(vocabulary, machine, words).settle(given, told, numbers)


def _all_words(given: ReadingGiven) -> str:
    """Return the words of a reading; the value's own come first, so its numbers do."""
    if isinstance(given.value, str):
        return f"{given.value}; {given.text}" if given.text else given.value
    return given.text or ""


@dataclass(frozen=True, slots=True)
class Settler:
    """Gives a reading its place, its canonical unit and its sentence."""

    vocabulary: Vocabulary
    machine: Machine
    words: ReadingWords

    def settle(self, given: ReadingGiven, told: Told, numbers: Numbers) -> Reading:
        """Return the reading.

        Raises:
            RefusedInput: as `understand`.
        """
        unit = one_unit(given, numbers)
        where, unit = self._where(given, told, numbers, unit)
        own = canonical(self.vocabulary, where.quantity)
        if numbers.main is None:
            amount = self._open(where, own, numbers.at)
        else:
            scale = scale_of(unit, where, own, self.words, self.machine)
            amount = amount_of(given, numbers, scale)
        reading = Reading(
            quantity=where.quantity,
            point=where.point,
            condition=self._condition(given, told, where),
            value=amount.value,
            unit=own.name,
            min=amount.low,
            max=amount.high,
            minutes=given.minutes if given.minutes is not None else numbers.minutes,
            stage=given.stage or stage_of(told, self.words),
            which=self._which(given, told, where),
            sign=given.sign or numbers.sign,
            mark=amount.mark,
            at_degC=given.at_degC if given.at_degC is not None else numbers.at_deg_c,
        )
        said = sentence(reading, numbers.main, amount.used, amount.notes, self.words)
        return reading.model_copy(update={"said": said})

    def _where(
        self, given: ReadingGiven, told: Told, numbers: Numbers, unit: Unit | None
    ) -> tuple[Where, Unit | None]:
        """The place; nothing at all, with no unit, is tried as volts where it may be more."""
        main, words = numbers.main, self.words

        def value_in(quantity: str) -> float | None:
            if main is None:
                return None
            own = canonical(self.vocabulary, quantity)
            used = unit or unit_named(words.bare_units.get(quantity, ""))
            if used is None or used.dimension != own.dimension:
                return float(main.ways[0])
            return convert(main.ways[0], as_mega(used, own), own)

        only = words.open_line if main is None else None
        headed: frozenset[str] = frozenset()
        if main is not None:
            headed = headings(told, main, self.vocabulary, words)
        clues = Clues(given.quantity, given.point, unit, told.groups, value_in, only, headed)
        try:
            return where_read(clues, self.vocabulary, words), unit
        except RefusedInput:
            if unit is not None or main is None or any(main.ways):
                raise
        volts = unit_named(words.zero_unit)
        return where_read(replace(clues, unit=volts), self.vocabulary, words), volts

    def _open(self, where: Where, own: Unit, at: str) -> Amount:
        value = self.words.open_line.get(where.quantity)
        if value is None:
            says = f"over range is no reading of {where.quantity}: use a higher range"
            raise refused(at, f"{says} and read again")
        return Amount(value, None, None, None, own, (OPEN_LINE,))

    def _condition(self, given: ReadingGiven, told: Told, where: Where) -> str | None:
        if given.condition is None:
            return where.condition or condition_of(told, self.words)
        known = self.vocabulary.conditions
        if given.condition not in known:
            near = nearest_code(given.condition, known)
            raise refused("/condition", f"no such condition: {given.condition}", near)
        return given.condition

    def _which(self, given: ReadingGiven, told: Told, where: Where) -> int | str | None:
        if given.which is not None:
            return given.which
        return where.which or which_of(told, self.words) or _unless_a_point(told, where)


def _unless_a_point(told: Told, where: Where) -> int | None:
    """A number that already names the point (leg 1, phase 2) is not kept twice."""
    if told.which_span is None:
        return None
    start, end = told.which_span
    named = any(
        where.point in h.groups and h.start <= start and h.end >= end for h in told.heard
    )
    return None if named else told.which
