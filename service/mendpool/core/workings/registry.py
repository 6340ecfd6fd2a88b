"""Every working by name, and the one way to do one."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel, ValidationError

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.caution_texts import cautions_of
from mendpool.core.catalogue.tables import Tables
from mendpool.core.catalogue.vocabulary import nearest_code
from mendpool.core.catalogue.working_texts import WorkingText
from mendpool.core.errors import Complaint, NotFound, RefusedInput
from mendpool.core.workings import engine, motors, power, spares, windings, wires
from mendpool.core.workings.worked import SourceShown, Sum, Worked


@dataclass(frozen=True, slots=True)
class Working:
    """One calculation: what goes in, and the sum."""

    inputs: type[BaseModel]
    sum: Callable[[Any, Tables], Sum]


WORKINGS: Mapping[str, Working] = {
    "pump-start": Working(motors.PumpStart, motors.pump_start),
    "cable": Working(wires.Cable, wires.cable),
    "connector-pin": Working(wires.ConnectorPin, wires.connector_pin),
    "power": Working(power.Power, power.power),
    "speed": Working(power.Speed, power.speed),
    "winding-resistance": Working(windings.WindingResistance, windings.winding_resistance),
    "insulation": Working(windings.Insulation, windings.insulation),
    "battery-state": Working(engine.BatteryState, engine.battery_state),
    "derating": Working(engine.Derating, engine.derating),
    "fuel-hours": Working(engine.FuelHours, engine.fuel_hours),
    "spares": Working(spares.Spares, spares.spares),
}
_CODES = ("fuel", "excitation")
"""Inputs that are codes of the vocabulary."""


class UnknownWorking(NotFound):
    """No working of that name; `near` is the one meant, perhaps."""

    def __init__(self, name: str, near: str | None) -> None:
        self.name = name
        self.near = near
        super().__init__(name)


def work(name: str, given: Mapping[str, Any], catalogue: Catalogue) -> Worked:
    """Do one calculation.

    Args:
        name: of the working.
        given: its inputs as they were sent.
        catalogue: the tables and the words.

    Raises:
        UnknownWorking: no such working.
        RefusedInput: inputs that can't be used, each with its JSON Pointer.
    """
    working = WORKINGS.get(name)
    if working is None:
        raise UnknownWorking(name, nearest_code(name, WORKINGS))
    inputs = _typed(working.inputs, given)
    _check_codes(inputs, catalogue)
    done = working.sum(inputs, catalogue.tables)
    text = catalogue.workings[name]
    danger = text.dangers.get(done.outcome)
    return Worked(
        cautions=cautions_of(catalogue, text.cautions, () if danger is None else (danger,)),
        name=name,
        label=text.label,
        outcome=done.outcome,
        says=_told(done, text),
        answer=done.answer,
        also=done.also,
        formula=done.steps,
        given=inputs.model_dump(mode="json", by_alias=True, exclude_none=True),
        assumed=tuple(_sentence(text.notes[note], done, text) for note in done.assumed),
        sources=tuple(SourceShown(says=s.says, confidence=s.confidence) for s in text.sources),
    )


def listed(catalogue: Catalogue) -> list[dict[str, Any]]:
    """Return every working with its inputs, for people and clients to choose from."""
    return [
        {
            "name": name,
            "label": text.label,
            "says": text.says,
            "inputs": [
                {"name": field, "says": text.inputs[field], "needed": needed}
                for field, needed in inputs_of(WORKINGS[name].inputs).items()
            ],
            "example": dict(text.example),
            "sources": [source.model_dump() for source in text.sources],
        }
        for name, text in catalogue.workings.items()
    ]


def inputs_of(model: type[BaseModel]) -> dict[str, bool]:
    """Return the names of a working's inputs as on the wire, and whether each is needed."""
    return {
        field.alias or name: field.is_required() for name, field in model.model_fields.items()
    }


def _told(done: Sum, text: WorkingText) -> str:
    """The outcome in a sentence, then the notes that are no assumptions."""
    parts = [text.outcomes[done.outcome]]
    parts += [text.notes[note] for note in done.notes if note not in done.assumed]
    return " ".join(_sentence(part, done, text) for part in parts).strip()


def _sentence(template: str, done: Sum, text: WorkingText) -> str:
    """Fill a sentence; a word that names a note in braces stands for that note."""
    words = {}
    for name, value in done.words.items():
        if isinstance(value, str) and value[:1] == "{" and value[1:-1] in text.notes:
            value = text.notes[value[1:-1]].format(**done.words)  # noqa: PLW2901 - the note
        words[name] = f"{value:g}" if isinstance(value, int | float) else value
    return template.format(**words).strip()


def _check_codes(inputs: BaseModel, catalogue: Catalogue) -> None:
    for field in _CODES:
        code = getattr(inputs, field, None)
        known = catalogue.vocabulary.machine[field]
        if code is not None and code not in known:
            near = nearest_code(code, known)
            raise RefusedInput([Complaint(f"/{field}", f"no such {field}: {code}", near)])


def _typed(model: type[BaseModel], given: Mapping[str, Any]) -> BaseModel:
    try:
        return model.model_validate(dict(given))
    except ValidationError as error:
        faults = error.errors(include_url=False, include_input=False)
        raise RefusedInput(_complaints(model, faults)) from None


def _complaints(model: type[BaseModel], faults: Any) -> list[Complaint]:  # noqa: ANN401 - Pydantic's
    told: dict[str, Complaint] = {}
    for fault in faults:
        name = str(fault["loc"][0]) if fault["loc"] else ""
        at = f"/{name[:60].replace('~', '~0').replace('/', '~1')}"
        if at not in told:
            told[at] = _complaint(at, name, model, fault)
    return list(told.values())


def _complaint(at: str, name: str, model: type[BaseModel], fault: Any) -> Complaint:  # noqa: ANN401 - Pydantic's
    if fault["type"] == "extra_forbidden":
        names = {field.replace("_", "-"): field for field in inputs_of(model)}
        near = nearest_code(name, names)
        return Complaint(at, "no such input; a typing mistake?", near and names[near])
    if fault["type"] == "missing":
        return Complaint(at, "this is needed")
    if fault["type"] == "amount":
        return Complaint(at, fault["ctx"]["says"], fault["ctx"]["meant"])
    said = str(fault["msg"]).removeprefix("Value error, ")
    return Complaint(at, said[:1].lower() + said[1:])
