"""One repair from the first question to the follow-up, walked as a member would walk it.

The set, its owner and its fault are invented. Nothing of the answer is: each step is the
one the service names, and what a test shows is what the catalogue says that fault shows
most often.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import httpx

from mendpool.core.catalogue.catalogue import Catalogue

PLATE = {
    "make": "Harrow", "model": "6D", "fuel": "diesel", "cooling": "liquid", "phases": 1,
    "starting": "electric", "duty": "standby", "rated_kva": 6.5, "rated_volts": 240,
    "rated_hz": 60, "rated_rpm": 1800,
}  # fmt: skip
COMPLAINT = "engine runs sweet but nothing at the outlets, stood all winter"
READINGS = ("output 4 V no load", "60.4 hz")
KIND = "brushed-avr"
TRUTH = "brushes/worn"
_STEPS_MOST = 14


@dataclass
class Walk:
    """What has been done so far, in the words of the wire."""

    observations: list[dict[str, str]] = field(default_factory=list)
    tried: list[dict[str, Any]] = field(default_factory=list)
    minutes: float = 0.0
    running: bool = False


def question(walk: Walk) -> dict[str, Any]:
    """Return the question as it stands now."""
    return {
        "machine": PLATE,
        "complaint": COMPLAINT,
        "readings": [{"text": text} for text in READINGS],
        "observations": walk.observations,
        "tried": walk.tried,
        "before": ["stood-long"],
    }


def walk_the_plan(
    client: httpx.Client, catalogue: Catalogue, walk: Walk, answer: Mapping[str, Any]
) -> Iterator[str]:
    """Do what each answer says next until the set runs; yields a line for each step."""
    for _ in range(_STEPS_MOST):
        step = next(step for step in answer["plan"] if step["do"] not in ("safe", "prove"))
        if step["do"] == "test":
            result = shown_by_the_fault(catalogue, step["check"])
            walk.observations.append({"check": step["check"], "found": result})
            says = catalogue.checks[step["check"]].found[result].says
            yield f"test  {catalogue.checks[step['check']].label}: {says}"
        elif step["do"] == "fix":
            works = step["component"] == TRUTH.split("/", maxsplit=1)[0]
            attempt = {
                "component": step["component"],
                "action": step["action"],
                "minutes": step.get("minutes") or 30.0,
                "result": "fixed" if works else "no-change",
            }
            if works:
                attempt["failure"] = TRUTH.split("/")[1]
            walk.tried.append(attempt)
            came = "it runs again" if works else "no change"
            label = catalogue.components[step["component"]].label
            yield f"fix   {label}, {step['action']}: {came}"
            walk.running = works
        else:
            return
        walk.minutes += step.get("minutes") or 0.0
        if walk.running:
            return
        reply = client.post("/v1/ask", json=question(walk))
        reply.raise_for_status()
        answer = reply.json()


def shown_by_the_fault(catalogue: Catalogue, check_code: str) -> str:
    """Return the result this fault shows most often at a check."""
    check = catalogue.checks[check_code]
    if check.tells is not None:
        return KIND
    component = TRUTH.split("/", maxsplit=1)[0]
    likely = {
        code: found.likely.get(TRUTH, found.likely.get(component, -1.0))
        for code, found in check.found.items()
    }
    named = {code: value for code, value in likely.items() if value >= 0}
    left = 100.0 - sum(named.values())
    unnamed = {code: f.usual for code, f in check.found.items() if code not in named}
    total = sum(unnamed.values()) or 1.0
    chances = {**named, **{code: left * usual / total for code, usual in unnamed.items()}}
    return max(chances, key=lambda code: (chances[code], code))


def report(walk: Walk, month: str) -> dict[str, Any]:
    """Return the report of the repair, every attempt in it."""
    component, failure = TRUTH.split("/")
    return {
        "machine": {**PLATE, "excitation": KIND},
        "complaint": COMPLAINT,
        "readings": [{"text": text} for text in READINGS]
        + [{"text": "output 239 V no load", "stage": "left"}],
        "observations": walk.observations,
        "attempts": walk.tried,
        "cause": {"component": component, "failure": failure},
        "outcome": "repaired",
        "before": ["stood-long"],
        "happened": month,
        "note": "left brush was down to the holder; written by the demo about an invented set",
    }
