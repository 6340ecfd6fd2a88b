"""One valid object of each kind; what a test cares about is given, the rest is plain."""

import itertools
import uuid
from typing import Any

from mendpool.core.evidence.case import Case, Seen, Tried

_numbers = itertools.count(1)


def make_id(number: int | None = None) -> uuid.UUID:
    """A UUIDv7 that counts up."""
    value = (number if number is not None else next(_numbers)) & (1 << 60) - 1
    return uuid.UUID(int=0x0199_0000_0000_7000_8000_000000000000 | value)


def make_attempt(
    component: str = "brushes",
    action: str = "replace",
    result: str = "fixed",
    failure: str | None = None,
    shared: int = 1,
    minutes: float | None = 25,
    cost: float | None = None,
) -> Tried:
    """One attempt of a case."""
    return Tried(component, action, failure, result, shared, minutes, cost)


def make_case(**changes: Any) -> Case:
    """A brushed diesel set that gave no output and got new brushes."""
    fields: dict[str, Any] = {
        "id": str(make_id()),
        "group": 1,
        "vouched": True,
        "kind": {"fuel": "diesel", "excitation": "brushed-avr"},
        "terms": (
            "s:no-output",
            "k:fuel=diesel",
            "k:excitation=brushed-avr",
            "w:dead",
            "w:outlet",
        ),
        "symptoms": ("no-output",),
        "absent": (),
        "found": (),
        "causes": ("brushes/worn",),
        "attempts": (make_attempt(),),
        "outcome": "repaired",
        "defeated": False,
        "words": (),
        "happened": "2026-03",
        "followups": (),
    }
    return Case(**{**fields, **changes})


def make_report(**changes: Any) -> dict[str, Any]:
    """A full wire report of an invented set."""
    body: dict[str, Any] = {
        "machine": {
            "make": "Harrow", "model": "6D", "fuel": "diesel", "excitation": "brushed-avr",
            "cooling": "liquid", "phases": 1, "starting": "electric", "duty": "standby",
            "rated_kva": 6.5, "rated_volts": 240, "rated_hz": 60, "rated_rpm": 1800,
            "hours": 1240,
        },
        "complaint": "engine runs sweet but nothing at the outlets",
        "readings": [
            {"quantity": "residual-voltage", "point": "output", "value": 3.1, "unit": "V"},
        ],
        "attempts": [
            {"component": "avr", "action": "replace", "minutes": 40, "result": "no-change"},
            {"component": "brushes", "failure": "worn", "action": "replace", "minutes": 25,
             "result": "fixed"},
        ],
        "cause": {"component": "brushes", "failure": "worn"},
        "outcome": "repaired",
        "happened": "2026-10",
    }  # fmt: skip
    return {**body, **changes}


def make_seen(months: int = 6, state: str = "holding") -> Seen:
    """A follow-up of a case."""
    return Seen(months, state)
