"""From a posted form to a question, and what the form has to carry along."""

import re
from collections.abc import Iterable
from typing import Any

from mendpool.api.pages.form import Form
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.errors import Complaint, RefusedInput
from mendpool.core.readings.figures import ways_to_read

Body = dict[str, Any]
KINDS = ("fuel", "excitation", "phases", "cooling", "starting")
FIGURES = ("rated_kva", "rated_volts", "rated_hz")
READINGS_MOST = 20
_FIGURE = re.compile(r"-?\d[\d ]{0,12}([.,][\d.,]{1,12})?")
_PARTS = 3  # part, action, result


def question_of(form: Form, catalogue: Catalogue) -> Body:
    """Return the body of a question.

    Raises:
        RefusedInput: a figure that is none.
    """
    body = case_of(form, catalogue)
    if tried := [
        {"component": part, "action": action, "result": result}
        for part, action, result in _split(form.all("did"), _PARTS)
    ]:
        body["tried"] = tried
    if form.one("get_by"):
        body["get_by"] = True
    return body


def case_of(form: Form, catalogue: Catalogue) -> Body:
    """Return what question and report share: the plate, the complaint, what was measured."""
    body: Body = {"machine": machine_of(form)}
    if words := form.one("complaint"):
        body["complaint"] = words
    if symptoms := [s for s in dict.fromkeys(form.all("symptoms")) if s]:
        body["symptoms"] = symptoms
    lines = [line.strip() for line in form.one("readings").split("\n")]
    if readings := [{"text": line} for line in lines if line][:READINGS_MOST]:
        body["readings"] = readings
    # Looked at again: the newer look counts.
    looks = {look[0]: look[1] for look in _split(form.all("saw"), 2)}
    if looks:
        body["observations"] = [{"check": c, "found": f} for c, f in looks.items()]
        body["machine"] |= catalogue.settled(looks)
    return body


def machine_of(form: Form) -> Body:
    """Return the nameplate.

    Raises:
        RefusedInput: a figure that is none.
    """
    machine: Body = {name: form.one(name) for name in KINDS if form.one(name)}
    if "phases" in machine:
        machine["phases"] = int(number(machine["phases"], "/machine/phases"))
    for name in FIGURES:
        if text := form.one(name):
            machine[name] = number(text, f"/machine/{name}")
    return machine


def number(text: str, at: str) -> float:
    """Return a figure typed with a point or a comma.

    Raises:
        RefusedInput: at `at`; also where it can be read two ways, a thousandfold apart.
    """
    ways = ways_to_read(text) if _FIGURE.fullmatch(text) else ()
    if not ways:
        raise RefusedInput([Complaint(at, "a figure such as 12.5 is needed")])
    if len(ways) > 1:
        one, other = (f"{float(way):g}" for way in ways)
        says = f"{text} can be read two ways; type {one}, or {other}"
        raise RefusedInput([Complaint(at, says)])
    return float(ways[0])


def _split(given: Iterable[str], parts: int) -> list[tuple[str, ...]]:
    found = [tuple(one.split(":")) for one in given]
    return [one for one in found if len(one) == parts]
