"""A report as another pool may have it: too coarse to tell who or where.

Out go the make and model (the class of set stays), the region, the note, what was paid, and
the month within the year; hours run go into bands, sizes into classes. A follow-up keeps how
many months after the repair it was, in quarters. What diagnosis learns from stays: what the
set did, in scrubbed words, what was measured, what was tried and what came of it.

A function of the report alone, so that a report gives the same coarse one for ever.

Source of the bands and of what is dropped: common practice in de-identified sharing
(HHS guidance on the Safe Harbor method, 45 CFR 164.514(b)(2), keeps the year of a date).
"""

from bisect import bisect_right
from collections.abc import Mapping
from typing import Any

Body = dict[str, Any]
HOURS = (0, 100, 500, 1000, 2000, 5000)
KVA = (0, 3, 6, 12, 25, 50)
_MACHINE = (
    "fuel", "excitation", "cooling", "phases", "starting", "duty", "drive", "control",
    "governor",
)  # fmt: skip
_USUAL: Mapping[str, tuple[float, ...]] = {
    "rated_volts": (120, 208, 220, 230, 240, 380, 400, 415, 480),
    "rated_hz": (50, 60),
    "rated_rpm": (1500, 1800, 3000, 3600),
}
"""Figures of a plate that say no more than what mains it stands in for (IEC 60038 and ANSI
C84.1, from memory; speeds of two and four poles). A rarer one would tell whose set it is, and
stays at home."""
_ON_SIGHT = (
    "fuel", "phases", "cooling", "starting", "drive", "rated_volts", "rated_hz", "rated_rpm",
)  # fmt: skip
"""What anyone who sees the set, or its plate, knows of it; its size besides."""
_KEPT = (
    "complaint", "symptoms", "readings", "observations", "cause", "causes", "outcome",
    "protection_defeated", "protection", "before",
)  # fmt: skip
_ATTEMPT = ("component", "action", "result", "failure", "minutes", "with_next", "part_from")
_QUARTER = 3


def coarse_report(body: Mapping[str, Any]) -> Body:
    """Return a report's coarse form, as a record that can be filed.

    The month is January of its year: only the year means anything, and says so as `year`.

    Args:
        body: as it was given, scrubbed.
    """
    given = body.get("machine") or {}
    machine = {field: given[field] for field in _MACHINE if given.get(field) is not None}
    for field, usual in _USUAL.items():
        if given.get(field) in usual:
            machine[field] = given[field]
    for field in ("rated_kva", "rated_kw"):
        if given.get(field):
            machine[field] = middle(given[field])
    if given.get("hours") is not None:
        machine["hours"] = band(given["hours"], HOURS)
    found: Body = {"machine": machine}
    found |= {field: body[field] for field in _KEPT if body.get(field) not in (None, [], ())}
    attempts = [
        {field: attempt[field] for field in _ATTEMPT if attempt.get(field) is not None}
        for attempt in body.get("attempts") or ()
    ]
    if attempts:
        found["attempts"] = attempts
    if body.get("happened"):
        found["happened"] = f"{body['happened'][:4]}-01"
    return found


def coarse_followup(body: Mapping[str, Any], repaired: str | None) -> Body:
    """Return a follow-up's coarse form: its state, and how many months after the repair.

    It is dated so many months after the January that its report's coarse form has.

    Args:
        body: as it was given.
        repaired: the month of the repair, ``YYYY-MM``; where it is not known, the follow-up
            counts as made in its year, which tells no span.
    """
    if repaired is None:
        return {"happened": f"{body['happened'][:4]}-01", "state": body["state"]}
    months = max(0, _months(body["happened"]) - _months(repaired))
    months -= months % _QUARTER
    year, month = divmod(int(repaired[:4]) * 12 + months, 12)
    return {"happened": f"{year:04d}-{month + 1:02d}", "state": body["state"]}


def class_of(coarse: Mapping[str, Any]) -> str:
    """Return what an outsider could know of a set and its year: its class, for counting.

    How a set is excited and what it did are on no plate and in no neighbour's eye; make,
    model, month and place are gone already.
    """
    machine = coarse["machine"]
    seen = [
        *(machine.get(field) for field in _ON_SIGHT),
        machine.get("rated_kva") or machine.get("rated_kw"),
        (coarse.get("happened") or "")[:4],
    ]
    return "|".join("" if part is None else str(part) for part in seen)


def band(value: float, edges: tuple[int, ...]) -> int:
    """Return the lower edge of the band a value lies in."""
    return edges[max(0, bisect_right(edges, value) - 1)]


def middle(kva: float) -> float:
    """Return the middle of the class of size a set belongs to; the largest class is open."""
    at = max(0, bisect_right(KVA, kva) - 1)
    return float(KVA[at]) if at + 1 == len(KVA) else (KVA[at] + KVA[at + 1]) / 2


def _months(month: str) -> int:
    return int(month[:4]) * 12 + int(month[5:7])
