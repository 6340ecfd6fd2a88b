"""The guided report: questions one at a time, as a generator that is handed the answers.

`interview` yields what to ask and is sent what was typed; it returns the report. It prints
nothing and reads nothing, so it is a plain function of the answers. Enter skips a step, one
key makes a choice.
"""

from collections.abc import Generator, Mapping, Sequence
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.evidence.getting_by import only_gets_by
from mendpool_field.questions import (
    Asking,
    Step,
    ask_attempt,
    ask_component,
    ask_lines,
    ask_needed_text,
    ask_one,
    ask_some,
    ask_text,
    labels,
)
from mendpool_field.sets import Plate


def interview(
    catalogue: Catalogue, sets: Mapping[str, Plate], plate: Plate | None
) -> Generator[Step, str, dict[str, Any]]:
    """Ask for a report, step by step.

    Args:
        catalogue: the codes and the words for parts.
        sets: the member's own nameplates by name.
        plate: the set, where it was named already.

    Returns:
        The body of a report, less its month. It may lack what the wire wants (an outcome):
        whoever asked checks it like any other.
    """
    v = catalogue.vocabulary
    if plate is None:
        _, plate = yield from which_set(sets, v.machine["fuel"])
    report: dict[str, Any] = {"machine": plate}
    report["complaint"] = yield from ask_needed_text(
        "What did it do, or not do? In your own words.", "Such as: runs sweet, no power"
    )
    before = yield from ask_some("What had happened just before?", labels(v.before))
    readings = yield from ask_lines(
        "What did you measure? One reading a line, with its unit.",
        "Such as: residual 0.4 V. Enter when there is no more",
    )
    attempts = yield from _attempts(catalogue)
    cause = yield from _cause(catalogue, attempts)
    outcome = yield from ask_one("How did it end?", v.outcomes, hint="One key", needed=True)
    defeated = yield from ask_one(
        "Is a shutdown, switch or breaker left bridged or unplugged?",
        {"no": "no, all in place", "yes": "yes, one is left out of action"},
        hint="One key; Enter for no",
    )
    note = yield from ask_text("Anything else worth knowing? No names or numbers of people.")
    told = {
        "before": before,
        "readings": [{"text": reading} for reading in readings],
        "attempts": attempts,
        "cause": cause,
        "outcome": outcome,
        "protection_defeated": defeated == "yes",
        "note": note,
    }
    return report | {field: value for field, value in told.items() if value}


def which_set(sets: Mapping[str, Plate], fuels: Mapping[str, str]) -> Asking:
    """Ask for one of the sets, else for the fuel; return the name, if any, and the plate."""
    if sets:
        names = {name: name for name in sets}
        name = yield from ask_one("Which set?", names, hint="One key; Enter for another set")
        if name:
            return name, dict(sets[name])
    fuel = yield from ask_one("What does it burn?", fuels, hint="One key", needed=True)
    return None, {"fuel": fuel}


def _attempts(catalogue: Catalogue) -> Asking:
    """Every attempt in order, those in vain too: they count against the part."""
    made: list[dict[str, Any]] = []
    while True:
        asks = "What did you try next?" if made else "What did you try first?"
        attempt = yield from ask_attempt(
            catalogue,
            f"{asks} Name the part.",
            "Such as: avr, brushes. Enter when there is no more",
        )
        if attempt is None:
            return made
        made.append(attempt)


def _cause(catalogue: Catalogue, attempts: Sequence[Mapping[str, Any]]) -> Asking:
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
        component = yield from ask_component(
            catalogue, "What turned out to be wrong? Name the part.", "Enter if it is not known"
        )
    if component is None:
        return None
    known = {cause.failure for cause in catalogue.causes if cause.component == component}
    failures = {code: label for code, label in v.failure_modes.items() if code in known}
    failure = yield from ask_one(
        f"{v.components[component]}: what was wrong with it?", failures or v.failure_modes
    )
    return {"component": component, "failure": failure} if failure else {"component": component}
