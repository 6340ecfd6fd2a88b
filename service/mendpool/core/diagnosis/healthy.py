"""Good readings: which of a report's are, and what they are compared under."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.understand import Understanding
from mendpool.core.evidence.case import Healthy
from mendpool.core.evidence.norms import Norm
from mendpool.core.readings.basis import corrected
from mendpool.core.readings.healthy import (
    at_common,
    compare,
    correction_at,
    is_bound,
    own_past,
)
from mendpool.core.readings.steadiness import steady
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Compared, Judged, Reading
from mendpool.core.record.report import Report

_SIZES = (3.0, 6.0, 12.0, 25.0, 50.0)
"""Upper ends in kVA of the sizes that sets are compared within; common practice."""
WELL, REPAIRED = "well", "repaired"


def healthy_of(
    report: Report, understood: Understanding, catalogue: Catalogue
) -> tuple[Healthy, ...]:
    """Return a report's good readings: all of a well set, or those a repair left.

    None of a set left with a protection defeated, and none that the plate calls wrong.
    """
    defeated = report.protection_defeated or (
        report.protection is not None and report.protection.left == "defeated"
    )
    if report.outcome not in {WELL, REPAIRED} or defeated:
        return ()
    found = []
    for judged in understood.judged[: understood.given]:
        wire = judged.judged
        left = wire.stage == "left" or (report.outcome == WELL and wire.stage is None)
        if not left or wire.verdict in {"low", "high"}:
            continue
        reading = as_reading(wire)
        keys = keys_of(reading, report.machine)
        value = common_value(reading, report.machine, catalogue)
        if keys and value is not None and not is_bound(reading):
            found.append(Healthy(keys, value))
    return tuple(found)


def like_it(
    reading: Reading, machine: Machine, catalogue: Catalogue, norms: Mapping[str, Norm]
) -> Compared | None:
    """Compare a reading with sets like this one: its own model first, then its kind."""
    if is_bound(reading):
        return None
    scale = _scale(reading, machine, catalogue)
    norm = next((norms[key] for key in keys_of(reading, machine) if key in norms), None)
    if norm is None or scale is None:
        return None
    good = (norm.middle * scale, norm.spread * scale)
    counts = (norm.readings, norm.people)
    return compare(reading, "sets like it", good, counts, catalogue.tables.healthy)


def with_good_ones(
    judged: Judged,
    machine: Machine,
    catalogue: Catalogue,
    past: Sequence[Reading],
    norms: Mapping[str, Norm],
) -> Judged:
    """Return a judged reading with what good readings say of it.

    The plate's verdict stands where there is one; else that of this set's own past, else
    that of sets like it.
    """
    reading = as_reading(judged)
    table = catalogue.tables.healthy
    found = (
        own_past(reading, past, machine, catalogue.limits, table),
        like_it(reading, machine, catalogue, norms),
    )
    compared = tuple(one for one in found if one is not None)
    changes: dict[str, Any] = {
        "compared": compared,
        "steady": steady(reading, machine, catalogue.tables.classes),
    }
    if judged.verdict != "unjudged":
        changes["against"] = "plate"
    elif compared:
        changes |= _stands_in(compared[0], judged, f"{table.source} ({table.confidence})")
    return judged.model_copy(update=changes)


def _stands_in(good: Compared, judged: Judged, source: str) -> dict[str, Any]:
    return {
        "against": good.against,
        "verdict": good.verdict,
        "low": good.low,
        "high": good.high,
        "means": f"{good.says} {judged.means}",
        "source": source,
    }


def keys_of(reading: Reading, machine: Machine) -> tuple[str, ...]:
    """Return the keys a reading is compared under, the closest first.

    A model is its make and name with the plate's volts and hertz, since a winding is made
    for those; a kind is fuel, excitation, phases, volts, hertz and size.
    """
    which = reading.which if isinstance(reading.which, str) else ""
    place = f"{reading.quantity}@{reading.point}@{reading.condition or ''}@{which}"
    plate = f"{_number(machine.rated_volts)}:{_number(machine.rated_hz)}"
    keys = []
    if machine.make and machine.model:
        keys.append(f"m:{_folded(machine.make)}:{_folded(machine.model)}:{plate}|{place}")
    kind = (machine.fuel, machine.kind("excitation"), machine.phases)
    size = machine.rated_kva or machine.rated_kw
    if None not in kind and None not in (machine.rated_volts, machine.rated_hz, size):
        words = ":".join(str(part) for part in kind)
        keys.append(f"k:{words}:{plate}:{_size(float(size or 0))}|{place}")
    return tuple(keys)


def common_value(reading: Reading, machine: Machine, catalogue: Catalogue) -> float | None:
    """Return a value as norms keep it: a share of the plate, at a common temperature."""
    share = _plate_figure(reading, machine, catalogue)
    if share is None:
        return None
    moves = correction_at(reading, catalogue.limits)
    return round(at_common(reading, machine, moves) / share, 6)


def as_reading(judged: Judged) -> Reading:
    """Return a judged reading as it was understood."""
    return Reading.model_construct(**{n: getattr(judged, n) for n in Reading.model_fields})


def _scale(reading: Reading, machine: Machine, catalogue: Catalogue) -> float | None:
    """What takes a kept value to this set's plate, where this reading was taken."""
    share = _plate_figure(reading, machine, catalogue)
    if share is None:
        return None
    moves = correction_at(reading, catalogue.limits)
    return share * (corrected(moves, reading, machine) or 1.0)


def _plate_figure(reading: Reading, machine: Machine, catalogue: Catalogue) -> float | None:
    """The plate's figure a reading is a share of; 1 where it is none, None where unknown."""
    scaled = catalogue.tables.healthy.scaled_by.get(reading.quantity)
    if scaled is None or reading.point not in scaled.points:
        return 1.0
    figure: float | None = getattr(machine, scaled.figure)
    return figure


def _folded(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "", text.casefold())


def _number(figure: float | None) -> str:
    return "" if figure is None else f"{figure:g}"


def _size(kva: float) -> str:
    return next((f"{top:g}" for top in _SIZES if kva <= top), "more")
