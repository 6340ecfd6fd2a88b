"""The guided report: questions one at a time, as a generator that is handed the answers.

`interview` yields what to ask and is sent what was typed; it returns the report. It prints
nothing and reads nothing, so it is a plain function of the answers. Enter skips a step, one
key makes a choice.
"""

from collections.abc import Generator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.vocabulary import nearest_code
from mendpool_field.sets import Plate

Asking = Generator["Step", str, Any]
_KEYS = "123456789abcdefghijklmnopqrstuvwxyz"
_MATCHES = 9


@dataclass(frozen=True, slots=True)
class Step:
    """One question.

    Args:
        asks: the question.
        choices: key and words of each choice; empty where text is wanted.
        hint: what Enter does, or how to write it.
        trouble: why the last answer could not be used; empty if it could.
    """

    asks: str
    choices: tuple[tuple[str, str], ...] = ()
    hint: str = "Enter to skip"
    trouble: str = ""


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
    report: dict[str, Any] = {"machine": plate or (yield from _set(sets, v.machine["fuel"]))}
    report["complaint"] = yield from _needed_text(
        "What did it do, or not do? In your own words.", "Such as: runs sweet, no power"
    )
    before = yield from _some("What had happened just before?", _labels(v.before))
    readings = yield from _lines(
        "What did you measure? One reading a line, with its unit.",
        "Such as: residual 0.4 V. Enter when there is no more",
    )
    attempts = yield from _attempts(catalogue)
    cause = yield from _cause(catalogue, attempts)
    outcome = yield from _one("How did it end?", v.outcomes, hint="One key", needed=True)
    defeated = yield from _one(
        "Is a shutdown, switch or breaker left bridged or unplugged?",
        {"no": "no, all in place", "yes": "yes, one is left out of action"},
        hint="One key; Enter for no",
    )
    note = yield from _text("Anything else worth knowing? No names or numbers of people.")
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


def _set(sets: Mapping[str, Plate], fuels: Mapping[str, str]) -> Asking:
    if sets:
        names = {name: name for name in sets}
        name = yield from _one("Which set?", names, hint="One key; Enter for another set")
        if name:
            return dict(sets[name])
    fuel = yield from _one("What does it burn?", fuels, hint="One key", needed=True)
    return {"fuel": fuel}


def _attempts(catalogue: Catalogue) -> Asking:
    """Every attempt in order, those in vain too: they count against the part."""
    v = catalogue.vocabulary
    made: list[dict[str, Any]] = []
    while True:
        asks = "What did you try next?" if made else "What did you try first?"
        component = yield from _component(
            catalogue,
            f"{asks} Name the part.",
            "Such as: avr, brushes. Enter when there is no more",
        )
        if component is None:
            return made
        label = v.components[component]
        action = yield from _one(
            f"{label}: what was done?", v.actions, hint="One key", needed=True
        )
        result = yield from _one("And then?", v.results, hint="One key", needed=True)
        attempt = {"component": component, "action": action, "result": result}
        minutes = yield from _minutes("How many minutes did it take?")
        if minutes is not None:
            attempt["minutes"] = minutes
        made.append(attempt)


def _cause(catalogue: Catalogue, attempts: Sequence[Mapping[str, Any]]) -> Asking:
    v = catalogue.vocabulary
    cured = [a["component"] for a in attempts if a["result"] == "fixed"]
    component = None
    if cured:
        label = v.components[cured[-1]]
        answer = yield from _one(
            f"Was it the {label}?", {"yes": "yes", "no": "no, something else"}, hint="One key"
        )
        component = cured[-1] if answer == "yes" else None
    if component is None:
        component = yield from _component(
            catalogue, "What turned out to be wrong? Name the part.", "Enter if it is not known"
        )
    if component is None:
        return None
    known = {cause.failure for cause in catalogue.causes if cause.component == component}
    failures = {code: label for code, label in v.failure_modes.items() if code in known}
    failure = yield from _one(
        f"{v.components[component]}: what was wrong with it?", failures or v.failure_modes
    )
    return {"component": component, "failure": failure} if failure else {"component": component}


def _component(catalogue: Catalogue, asks: str, hint: str) -> Asking:
    """Ask for a part by its name or by any word for it; let the person choose if unsure."""
    trouble = ""
    while True:
        typed = (yield Step(asks, hint=hint, trouble=trouble)).strip()
        if not typed:
            return None
        found = _matching(typed, catalogue)
        if len(found) == 1:
            return next(iter(found))
        if found:
            picked = yield from _one("Which of these?", found, hint="One key; Enter for none")
            if picked:
                return picked
            trouble = ""
        else:
            trouble = f"No part is known as “{typed}”; try another word for it."


def _matching(typed: str, catalogue: Catalogue) -> dict[str, str]:
    """Return the parts a word can mean, exact names alone if there is one."""
    labels = catalogue.vocabulary.components
    wanted = typed.lower()
    code = wanted.replace(" ", "-")
    if code in labels:
        return {code: labels[code]}
    names = {
        c: [labels[c].lower(), *(a.lower() for a in catalogue.components[c].aliases)]
        for c in catalogue.components
    }
    exact = [c for c, known in names.items() if wanted in known]
    held = exact or [c for c, known in names.items() if any(wanted in name for name in known)]
    if not held:
        near = nearest_code(wanted, labels)
        held = [near] if near else []
    return {c: labels[c] for c in held[:_MATCHES]}


def _one(
    asks: str,
    codes: Mapping[str, str],
    *,
    hint: str = "One key; Enter to skip",
    needed: bool = False,
) -> Asking:
    """Ask for one of some codes: by its key, or by the code itself."""
    keyed = _keyed(codes)
    choices = tuple((key, codes[code]) for key, code in keyed.items())
    trouble = ""
    while True:
        typed = (yield Step(asks, choices, hint, trouble)).strip().lower()
        if not typed and not needed:
            return None
        picked = keyed.get(typed) or (typed if typed in codes else None)
        if picked is not None:
            return picked
        trouble = "Type one of the keys." if typed else "This one is needed."


def _some(asks: str, codes: Mapping[str, str]) -> Asking:
    keyed = _keyed(codes)
    choices = tuple((key, codes[code]) for key, code in keyed.items())
    trouble = ""
    while True:
        hint = "One key, or more with spaces; Enter to skip"
        typed = (yield Step(asks, choices, hint, trouble)).lower().replace(",", " ").split()
        picked = [keyed.get(key) or (key if key in codes else "") for key in typed]
        if all(picked):
            return list(dict.fromkeys(picked))
        trouble = "Type keys from the list."


def _text(asks: str) -> Asking:
    return (yield Step(asks)).strip()


def _needed_text(asks: str, hint: str) -> Asking:
    trouble = ""
    while True:
        typed = (yield Step(asks, hint=hint, trouble=trouble)).strip()
        if typed:
            return typed
        trouble = "This one is needed: a few words will do."


def _lines(asks: str, hint: str) -> Asking:
    held: list[str] = []
    while True:
        typed = (yield Step(asks if not held else "And?", hint=hint)).strip()
        if not typed:
            return held
        held.append(typed)


def _minutes(asks: str) -> Asking:
    trouble = ""
    while True:
        typed = (yield Step(asks, trouble=trouble)).strip().replace(",", ".")
        if not typed:
            return None
        try:
            minutes = float(typed)
        except ValueError:
            minutes = -1.0
        if 0 <= minutes <= 100_000:
            return minutes
        trouble = "A number of minutes, such as 40."


def _keyed(codes: Mapping[str, str]) -> dict[str, str]:
    return dict(zip(_keys(len(codes)), codes, strict=True))


def _keys(count: int) -> list[str]:
    """One key a choice; two where there are more choices than keys."""
    if count <= len(_KEYS):
        return list(_KEYS[:count])
    return [a + b for a in _KEYS for b in _KEYS][:count]


def _labels(codes: Sequence[str]) -> dict[str, str]:
    return {code: code.replace("-", " ") for code in codes}
