"""What a steward should look at: pure, so that every way of asking tells the same."""

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from mendpool.core.catalogue.admits import admits
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.evidence.case import Case
from mendpool.core.evidence.duplicates import near_duplicates
from mendpool.core.record.machine import Machine

FLOOD = 30
"""Reports of one member on one day from which they are looked at (common practice: nobody
mends so many sets in a day; a shed's old book is keyed in once)."""
_COMPARED = ("value", "min", "max")


class Looked(NamedTuple):
    """A report as it is looked at: its case, the day it came (UTC), its stored body."""

    case: Case
    day: str
    body: Mapping[str, Any]


class Why(NamedTuple):
    """One thing about a report: a code, and a sentence for a steward. No word of its text."""

    code: str
    says: str


def suspects(reports: Sequence[Looked], catalogue: Catalogue) -> dict[str, list[Why]]:
    """Return what is odd about reports, by id; those with nothing odd are left out.

    Args:
        reports: in the order they came.
        catalogue: its advice, its possible figures, what parts a set has.
    """
    copies = _copies([report.case for report in reports])
    by_day = Counter((report.case.group, report.day) for report in reports)
    found: dict[str, list[Why]] = {}
    for report in reports:
        why = [*_advice(report, catalogue), *_readings(report, catalogue)]
        why += _misfits(report, catalogue)
        many = by_day[report.case.group, report.day]
        if many >= FLOOD:
            why.append(Why("flood", f"one of {many} by one member on {report.day}"))
        if report.case.id in copies:
            why.append(Why("copy", f"much like {copies[report.case.id]}"))
        if why:
            found[report.case.id] = why
    return found


def _copies(cases: Sequence[Case]) -> dict[str, str]:
    return {case.id: group[0].id for group in near_duplicates(cases) for case in group[1:]}


def _advice(report: Looked, catalogue: Catalogue) -> Iterator[Why]:
    later = [c for f in report.body.get("followups", ()) for c in f.get("advice", ())]
    held = {*report.case.advice, *report.body.get("advice", ()), *later}
    for advice in catalogue.advice:
        if advice.code in held:
            yield Why("advice", f"dangerous: {advice.label}")


def _readings(report: Looked, catalogue: Catalogue) -> Iterator[Why]:
    for reading in report.body.get("readings", ()):
        possible = catalogue.possible.get(str(reading.get("quantity")))
        if possible is None:
            continue
        for name in _COMPARED:
            value = reading.get(name)
            if value is None or (
                math.isfinite(value) and possible.low <= value <= possible.high
            ):
                continue
            where = f"{reading['quantity']} at {reading.get('point')}"
            span = f"{possible.low:g} to {possible.high:g}"
            says = f"{where} of {value:g} {reading.get('unit')}; a set shows {span}"
            yield Why("impossible", says)
            break


def _misfits(report: Looked, catalogue: Catalogue) -> Iterator[Why]:
    machine = Machine.model_validate(report.body.get("machine", {}))
    causes = [cause.split("/", 1)[0] for cause in report.case.causes]
    parts = dict.fromkeys([*(a.component for a in report.case.attempts), *causes])
    for code in parts:
        component = catalogue.components.get(code)
        if component is not None and not admits(component.only, machine):
            yield Why("misfit", f"such a set has none: {code}")
