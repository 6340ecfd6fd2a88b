"""The guided report: questions one at a time, as a generator that is handed the answers.

`interview` yields what to ask and is sent what was typed; it returns the report. It prints
nothing and reads nothing, so it is a plain function of the answers. Enter skips a step, one
key makes a choice.
"""

from collections.abc import Generator, Mapping, Sequence
from types import MappingProxyType
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.errors import RefusedInput
from mendpool.core.evidence.getting_by import only_gets_by, protections_out
from mendpool.core.record.machine import Machine
from mendpool_field.checking import typed
from mendpool_field.figures_typed import reading_at
from mendpool_field.put_back import back_again, left_as
from mendpool_field.questions import (
    Asking,
    Step,
    ask_attempt,
    ask_component,
    ask_needed_text,
    ask_one,
    ask_some,
    ask_text,
    labels,
)
from mendpool_field.sets import Plate
from mendpool_field.usual import Place, Usual


def interview(
    catalogue: Catalogue,
    sets: Mapping[str, Plate],
    plate: Plate | None,
    usual: Mapping[str, Usual] = MappingProxyType({}),
    on: str | None = None,
) -> Generator[Step, str, dict[str, Any]]:
    """Ask for a report, step by step.

    Args:
        catalogue: the codes and the words for parts.
        sets: the member's own nameplates by name.
        plate: the set, where it was named already.
        usual: what was used last on each set, to be offered first.
        on: the name of the set that was named.

    Returns:
        The body of a report, less its month. It may lack what the wire wants (an outcome):
        whoever asked checks it like any other.
    """
    v = catalogue.vocabulary
    if plate is None:
        on, plate = yield from which_set(sets, v.machine["fuel"])
    last = usual.get(on or "", Usual())
    report: dict[str, Any] = {"machine": plate}
    report["complaint"] = yield from ask_needed_text(
        "What did it do, or not do? In your own words.", "Such as: runs sweet, no power"
    )
    before = yield from ask_some("What had happened just before?", labels(v.before))
    machine = typed(Machine, plate)
    readings = yield from ask_readings(catalogue, machine, last.readings)
    attempts = yield from _attempts(catalogue, last.parts)
    cause = yield from _cause(catalogue, attempts, last.parts)
    outcome = yield from ask_one("How did it end?", v.outcomes, hint="One key", needed=True)
    left = yield from _left(catalogue, attempts)
    note = yield from ask_text("Anything else worth knowing? No names or numbers of people.")
    told = {
        "before": before,
        "readings": readings,
        "attempts": attempts,
        "cause": cause,
        "outcome": outcome,
        "note": note,
    }
    report |= {field: value for field, value in told.items() if value}
    report |= left
    return report


def _left(catalogue: Catalogue, attempts: Sequence[Mapping[str, Any]]) -> Asking:
    """Ask how protections were left: by name where the attempts took some out."""
    if out := protections_out(attempts, catalogue.sets.protections):
        back = yield from back_again(out, catalogue)
        return left_as([back]) if back else {}
    defeated = yield from ask_one(
        "Is a shutdown, switch or breaker left bridged or unplugged?",
        {"no": "no, all in place", "yes": "yes, one is left out of action"},
        hint="One key; Enter for no",
    )
    return {"protection_defeated": True} if defeated == "yes" else {}


def which_set(sets: Mapping[str, Plate], fuels: Mapping[str, str]) -> Asking:
    """Ask for one of the sets, else for the fuel; return the name, if any, and the plate."""
    if sets:
        names = {name: name for name in sets}
        name = yield from ask_one("Which set?", names, hint="One key; Enter for another set")
        if name:
            return name, dict(sets[name])
    fuel = yield from ask_one("What does it burn?", fuels, hint="One key", needed=True)
    return None, {"fuel": fuel}


def ask_readings(catalogue: Catalogue, machine: Machine, offered: Sequence[Place]) -> Asking:
    """Ask for readings, a line each; those taken last on this set are one key away."""
    keyed = {str(n): place for n, place in enumerate(offered, 1)}
    held: list[dict[str, Any]] = []
    while True:
        choices = tuple((key, place_words(place)) for key, place in keyed.items())
        hint = "Such as: residual 0.4 V. Enter when there is no more"
        hint = f"A key, or a line. {hint}" if choices else hint
        asks = "And?" if held else "What did you measure? One reading a line, with its unit."
        told = (yield Step(asks, choices, hint)).strip()
        if not told:
            return held
        place = keyed.pop(told, None)
        if place is None:
            held.append({"text": told})
            continue
        reading = yield from ask_figure(catalogue, machine, place)
        if reading is not None:
            held.append(reading)


def ask_figure(catalogue: Catalogue, machine: Machine, place: Place) -> Asking:
    """Ask what was read at a place; None for nothing."""
    unit = catalogue.vocabulary.readings[place[0]].unit
    wanted = "" if unit == "1" else f", in {unit}"
    trouble = ""
    while True:
        asks = f"{place_words(place)}: what does it read{wanted}?"
        told = (yield Step(asks, hint="The figure. Enter for none", trouble=trouble)).strip()
        if not told:
            return None
        try:
            return reading_at(place, told, machine, catalogue)
        except RefusedInput as refused:
            trouble = refused.errors[0].says


def place_words(place: Place) -> str:
    """Say where a reading is taken."""
    quantity, point = (code.replace("-", " ") for code in place)
    return f"{quantity}, {point}"


def _attempts(catalogue: Catalogue, offered: Sequence[str]) -> Asking:
    """Every attempt in order, those in vain too: they count against the part."""
    made: list[dict[str, Any]] = []
    while True:
        asks = "What did you try next?" if made else "What did you try first?"
        attempt = yield from ask_attempt(
            catalogue,
            f"{asks} Name the part.",
            "Such as: avr, brushes. Enter when there is no more",
            offered,
        )
        if attempt is None:
            return made
        made.append(attempt)


def _cause(
    catalogue: Catalogue, attempts: Sequence[Mapping[str, Any]], offered: Sequence[str]
) -> Asking:
    v = catalogue.vocabulary
    protections = catalogue.sets.protections
    cured = [
        a["component"]
        for a in attempts
        if a["result"] == "fixed" and not only_gets_by(a["component"], a["action"], protections)
    ]
    component = None
    if cured:
        label = v.components[cured[-1]]
        answer = yield from ask_one(
            f"Was it the {label}?", {"yes": "yes", "no": "no, something else"}, hint="One key"
        )
        component = cured[-1] if answer == "yes" else None
    if component is None:
        touched = dict.fromkeys([*(a["component"] for a in reversed(attempts)), *offered])
        component = yield from ask_component(
            catalogue,
            "What turned out to be wrong? Name the part.",
            "Enter if it is not known",
            list(touched),
        )
    if component is None:
        return None
    known = {cause.failure for cause in catalogue.causes if cause.component == component}
    failures = {code: label for code, label in v.failure_modes.items() if code in known}
    failure = yield from ask_one(
        f"{v.components[component]}: what was wrong with it?", failures or v.failure_modes
    )
    return {"component": component, "failure": failure} if failure else {"component": component}
