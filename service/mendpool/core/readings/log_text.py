"""A log of readings as CSV text: a time column and one column for each thing measured.

Strict and bounded: a row that is not whole is refused with its line, nothing is guessed at.
"""

import csv
import io
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from mendpool.core.errors import Complaint, RefusedInput
from mendpool.core.readings.units import Unit, convert, unit_named

ROWS_MOST, COLUMNS_MOST, BYTES_MOST = 20_000, 12, 1_000_000
_FAULTS_MOST = 20
_HEAD = re.compile(r"(?P<name>[^()\[\]]*?)\s*(?:[(\[]\s*(?P<unit>[^()\[\]]+?)\s*[)\]])?\s*")
_CLOCK = re.compile(r"(?:.*[T ])?(\d{1,2}):(\d{2})(?::(\d{2}(?:[.,]\d{1,6})?))?Z?")
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d{1,2})?")
_TIMES = frozenset({"time", "t", "seconds", "second", "s", "sec", "minutes", "min", "clock"})
_KINDS = {"voltage": "V", "frequency": "Hz"}
"""What steadiness is judged of, and its unit."""
_DAY_S = 86_400.0


@dataclass(frozen=True, slots=True)
class Column:
    """One thing measured over a run.

    Args:
        name: as it was headed.
        unit: canonical; the heading's own unit where steadiness does not judge it.
        dimension: of the unit; `""` where the heading names none.
        values: in order of time.
    """

    name: str
    unit: str
    dimension: str
    values: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Log:
    """A run: seconds from its start, and a column for each thing measured."""

    seconds: tuple[float, ...]
    columns: tuple[Column, ...]


def read_log(text: str) -> Log:
    """Read a log.

    The first row names the columns, with the unit in the name or in brackets: ``time``,
    ``volts``, ``output (V)``, ``Hz``. Times are seconds, minutes (``time (min)``) or a clock
    (``14:05:30``; past midnight it goes on). Commas or semicolons part; with semicolons a
    comma may be the decimal mark.

    Raises:
        RefusedInput: with the line of every fault, up to twenty.
    """
    if len(text) > BYTES_MOST:
        raise _refused("/csv", f"at most {BYTES_MOST} characters")
    lines = text.lstrip("\ufeff")
    mark = ";" if ";" in lines.partition("\n")[0] else ","
    try:
        rows = [row for row in csv.reader(io.StringIO(lines), delimiter=mark) if any(row)]
    except csv.Error as error:
        raise _refused("/csv", f"not CSV: {error}") from None
    if not rows:
        raise _refused("/csv", "no rows")
    if len(rows) - 1 > ROWS_MOST:
        raise _refused("/csv", f"at most {ROWS_MOST} rows")
    heads = [_head(cell) for cell in rows[0]]
    at, scale = _time_column(heads)
    if len(rows) < 3:
        raise _refused("/csv", "a log needs two rows of readings at least")
    table = _numbers(rows[1:], len(heads), at)
    seconds = _since_start([row[at] * scale for row in table])
    columns = tuple(
        _column(name, unit, [row[n] for row in table])
        for n, (name, unit) in enumerate(heads)
        if n != at
    )
    return Log(seconds, columns)


def _head(cell: str) -> tuple[str, Unit | None]:
    match = _HEAD.fullmatch(cell.strip())
    if match is None or not cell.strip():
        raise _refused(
            "/csv/1", f"a column named {cell.strip()[:30]!r}: name and unit in words"
        )
    name = match["name"].strip()
    typed = match["unit"] or name
    return name or typed, unit_named(typed)


def _time_column(heads: Sequence[tuple[str, Unit | None]]) -> tuple[int, float]:
    if not 2 <= len(heads) <= COLUMNS_MOST:
        raise _refused("/csv/1", f"a time column and 1 to {COLUMNS_MOST - 1} others")
    names = [name.casefold() for name, _ in heads]
    if len(set(names)) < len(names):
        raise _refused("/csv/1", "two columns have one name")
    for n, (name, unit) in enumerate(heads):
        timed = unit is not None and unit.dimension == "time"
        if timed or name.casefold() in _TIMES:
            # The base of time is the minute.
            return n, float(unit.factor) * 60 if timed and unit is not None else 1.0
    raise _refused("/csv/1", "no time column: name one `time`, in seconds")


def _numbers(rows: Sequence[Sequence[str]], width: int, at: int) -> list[list[float]]:
    faults: list[Complaint] = []
    table = []
    for line, row in enumerate(rows, start=2):
        if len(row) != width:
            faults.append(
                Complaint(f"/csv/{line}", f"{len(row)} cells where {width} are named")
            )
        else:
            cells = [_cell(cell.strip(), clock=n == at) for n, cell in enumerate(row)]
            faults += [
                Complaint(f"/csv/{line}", f"no number: {row[n].strip()[:20]!r}")
                for n, value in enumerate(cells)
                if value is None
            ]
            table.append([value for value in cells if value is not None])
        if len(faults) >= _FAULTS_MOST:
            break
    if faults:
        raise RefusedInput(faults[:_FAULTS_MOST])
    return table


def _cell(cell: str, *, clock: bool) -> float | None:
    if clock:
        time = _CLOCK.fullmatch(cell)
        if time is not None:
            hours, minutes = int(time[1]), int(time[2])
            rest = float((time[3] or "0").replace(",", "."))
            return hours * 3600.0 + minutes * 60.0 + rest
    if _NUMBER.fullmatch(cell) is None:
        return None
    value = float(cell.replace(",", "."))
    return value if math.isfinite(value) else None


def _since_start(times: Sequence[float]) -> tuple[float, ...]:
    """Seconds from the first row; a clock that passes midnight goes on."""
    found = [0.0]
    days = 0.0
    for place, (before, after) in enumerate(pairwise(times), start=3):
        if after < before and before - after > _DAY_S / 2:
            days += _DAY_S
        here = after + days - times[0]
        if here < found[-1]:
            raise _refused(f"/csv/{place}", "time goes back")
        found.append(here)
    return tuple(found)


def _column(name: str, unit: Unit | None, values: Sequence[float]) -> Column:
    if unit is None:
        return Column(name, "", "", tuple(values))
    own = _KINDS.get(unit.dimension)
    canonical = unit_named(own) if own else None
    if canonical is None or canonical.factor == unit.factor:
        shown = unit.name if canonical is None else canonical.name
        return Column(name, shown, unit.dimension, tuple(values))
    moved = tuple(convert(Fraction(repr(value)), unit, canonical) for value in values)
    return Column(name, canonical.name, unit.dimension, moved)


def _refused(at: str, says: str) -> RefusedInput:
    return RefusedInput([Complaint(at, says)])
