"""The proving run: asks for the readings of a good set, one by one; Enter leaves one out.

A generator, as the guided report is: it yields what to ask and is sent what was typed.
"""

from collections.abc import Generator, Mapping
from dataclasses import dataclass, field
from typing import Any

from mendpool.core.catalogue.admits import admits
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.caution_texts import cautions_of
from mendpool.core.catalogue.proving import ProvingStep
from mendpool.core.errors import RefusedInput
from mendpool.core.readings.judge import judge
from mendpool.core.readings.parse import understand
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import ReadingGiven
from mendpool_field.questions import Step

_STOP = "No load is put on a set that reads so: stop it and find out why."
_YES, _NO = {"y", "yes"}, {"n", "no"}


@dataclass(slots=True)
class Proved:
    """What a proving run gave: readings of the wire, and whether protection was proved.

    `wrong` are those out of their band: the set has not been proved, and they show no good one.
    """

    readings: list[dict[str, Any]] = field(default_factory=list)
    protection: bool | None = None
    wrong: list[dict[str, Any]] = field(default_factory=list)

    @property
    def failed(self) -> bool:
        """Whether a reading showed that the set is not right."""
        return bool(self.wrong)

    @property
    def good(self) -> list[dict[str, Any]]:
        """The readings that a good set may be judged by later: none of a run that failed."""
        return [] if self.failed else self.readings


def proving_run(
    catalogue: Catalogue, machine: Machine, stage: str | None
) -> Generator[Step, str, Proved]:
    """Ask for a proving run.

    Args:
        stage: of every reading; ``left`` after a repair, None for a set that was well.
    """
    found = Proved()
    for step in catalogue.proving:
        if not admits(step.only, machine):
            continue
        if step.reading is None:
            yes = yield from _yes_or_no(catalogue, step)
            found.protection = yes if step.proves else found.protection
            if yes is False and not found.readings:
                return found
            continue
        reading = yield from _reading(catalogue, machine, step)
        if reading is not None:
            found.readings.append(reading | ({"stage": stage} if stage else {}))
            wrong = out_of_band(catalogue, machine, reading)
            if wrong:
                found.wrong.append(reading)
            if wrong and step.must_hold:
                yield Step(f"{wrong} {_STOP}", hint="Enter ends the proving run")
                return found
    return found


def _reading(
    catalogue: Catalogue, machine: Machine, step: ProvingStep
) -> Generator[Step, str, dict[str, Any] | None]:
    place = step.reading
    trouble = ""
    while place is not None:
        typed = (yield Step(step.asks, hint="Enter leaves it out", trouble=trouble)).strip()
        if not typed:
            return None
        given = {
            "quantity": place.quantity, "point": place.point, "value": typed,
            **({"condition": place.condition} if place.condition else {}),
        }  # fmt: skip
        try:
            understand(
                ReadingGiven.model_validate(given), catalogue.vocabulary, machine,
                catalogue.reading_words,
            )  # fmt: skip
        except RefusedInput as refused:
            trouble = refused.errors[0].says
        except ValueError:
            trouble = "too long for a reading"
        else:
            return given
    return None  # pragma: no cover - a step without a reading is asked otherwise


def out_of_band(catalogue: Catalogue, machine: Machine, given: Mapping[str, Any]) -> str:
    """What a reading that is not right says; nothing where it is right or has no band."""
    reading = understand(
        ReadingGiven.model_validate(given), catalogue.vocabulary, machine,
        catalogue.reading_words,
    )  # fmt: skip
    judged = judge(reading, machine, catalogue.limits).judged
    return judged.means if judged.verdict in {"low", "high"} else ""


def _yes_or_no(catalogue: Catalogue, step: ProvingStep) -> Generator[Step, str, bool | None]:
    warned = " ".join(caution.says for caution in cautions_of(catalogue, step.cautions))
    trouble = ""
    while True:
        asks = f"{warned} {step.asks}".strip()
        typed = (
            yield Step(asks, hint="y, n, or Enter to leave it out", trouble=trouble)
        ).strip()
        word = typed.lower()
        if not word:
            return None
        if word in _YES | _NO:
            return word in _YES
        trouble = "Type y or n."
