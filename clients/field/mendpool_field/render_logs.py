"""A log judged for steadiness, with a plot for each thing measured."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.readings.log_text import Log, read_log
from mendpool.core.readings.plot import plot
from mendpool.core.readings.steadiness import Steadiness, steadiness
from mendpool.core.record.machine import Machine
from mendpool_field.checking import typed
from mendpool_field.layout import figure, pages, para, section


@dataclass(frozen=True, slots=True)
class JudgedLog:
    """A log and what is said of each of its columns."""

    log: Log
    columns: tuple[Steadiness, ...]

    def shown(self) -> dict[str, Any]:
        """Return it as JSON: figures and verdicts, without the log itself."""
        return {
            "seconds": self.log.seconds[-1],
            "columns": [
                {key.rstrip("_"): value for key, value in asdict(column).items()}
                for column in self.columns
            ],
        }


def judged_log(plate: Mapping[str, Any], text: str, catalogue: Catalogue) -> JudgedLog:
    """Read a log and judge it.

    Raises:
        RefusedInput: a log that is not whole, or a plate that is none.
    """
    machine = typed(Machine, plate)
    log = read_log(text)
    return JudgedLog(log, steadiness(log, machine, catalogue.tables.classes))


def log_text(judged: JudgedLog, width: int, *, ascii_only: bool, drawn: bool = True) -> str:
    """Return a judged log as text of `width` columns.

    What is `drawn` shows the course of it; all that is judged is in the words.
    """
    blocks = []
    for column, seen in zip(judged.log.columns, judged.columns, strict=True):
        lines = para(f"{seen.says}{_source(seen)}", width)
        lines += para(_figures(seen), width, first="  ")
        if drawn:
            lines += plot(
                column.values,
                seen.unit,
                width=width,
                band=_band(seen),
                ascii_only=ascii_only,
            )
        blocks.append(section(f"{seen.name}: {seen.verdict}".upper(), lines))
    return pages(blocks)


def _figures(seen: Steadiness) -> str:
    spans = f"{seen.readings} readings, {figure(seen.low)} to {figure(seen.high)} {seen.unit}"
    spans += f", {figure(seen.middle)} in the middle"
    if seen.verdict != "unjudged" and seen.best is not None:
        spans += f". It keeps class {seen.best}"
    return f"{spans}."


def _source(seen: Steadiness) -> str:
    return f" ({seen.source})" if seen.source else ""


def _band(seen: Steadiness) -> tuple[float, float] | None:
    """The band round the middle as the class allows, in the reading's unit."""
    if seen.wander is None or seen.wander_allowed is None or not seen.wander:
        return None
    width = (seen.steady_high - seen.steady_low) / seen.wander * seen.wander_allowed / 2
    return seen.middle - width, seen.middle + width
