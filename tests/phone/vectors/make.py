"""Make the readings by which the page's own rule is held to the service's: `judge.json`.

``python -m tests.phone.vectors.make`` writes it anew, which is due whenever a band or the rule
is changed; `test_vectors.py` says so. The page judges without signal, in JavaScript; a reading
must not say one thing in the shed and another where there is signal.

What is in it: every place a reading is taken at, on sets of every kind and with figures of the
plate missing, at, just under and just over each edge; bounds (over, under, about), readings
that moved, warm windings, marked parts, height, and readings as a repair left them. One is
kept if it says something in words that none before it said, or is the first of its kind at its
place or on its set.
"""

import itertools
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.readings.judge import JudgedReading, judge
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Reading

FILE = Path(__file__).parent / "judge.json"
Body = dict[str, Any]

HOUSE: Body = {
    "fuel": "diesel", "excitation": "brushed-avr", "cooling": "liquid", "phases": 1,
    "starting": "electric", "duty": "standby", "governor": "mechanical", "rated_kva": 6.5,
    "rated_volts": 240, "rated_hz": 60, "rated_rpm": 1800, "start_volts": 12,
}  # fmt: skip
FARM: Body = {
    "fuel": "diesel", "excitation": "brushless-avr", "cooling": "liquid", "phases": 3,
    "duty": "prime", "governor": "electronic", "rated_kva": 30, "rated_kw": 24,
    "rated_volts": 400, "rated_hz": 50, "rated_rpm": 1500, "start_volts": 24, "class": "G3",
}  # fmt: skip
MACHINES: tuple[Body, ...] = (
    {},
    HOUSE,
    FARM,
    {"fuel": "diesel"},
    {"fuel": "petrol", "excitation": "not-known"},
    {**HOUSE, "duty": None, "rated_kva": None},
    {**HOUSE, "rated_volts": 230, "rated_hz": 50, "rated_rpm": 3000, "altitude_m": 1800},
    {**HOUSE, "rated_volts": 120, "rated_hz": None, "phases": None, "start_volts": None},
    {**FARM, "class": "G1", "altitude_m": 2400, "rated_kw": None},
    {**FARM, "class": None, "rated_rpm": None, "rated_volts": 480, "rated_hz": 60},
    {**FARM, "excitation": "brushless-pmg", "class": "G2", "phases": None},
    {
        "fuel": "petrol", "excitation": "inverter", "cooling": "air", "phases": 1,
        "starting": "recoil", "duty": "portable", "rated_kva": 2, "rated_volts": 230,
        "rated_hz": 50,
    },
    {
        "fuel": "petrol", "excitation": "capacitor", "cooling": "air", "phases": 1,
        "starting": "recoil", "duty": "portable", "rated_kva": 3, "rated_volts": 230,
        "rated_hz": 50, "rated_rpm": 3000,
    },
    {"fuel": "natural-gas", "excitation": "transformer", "rated_volts": 230, "rated_kw": 12},
    {"fuel": "lpg", "rated_kva": 8, "class": "G1"},
    {"excitation": "induction", "rated_hz": 50, "phases": 3, "cooling": "air"},
)  # fmt: skip
PROBES = (0.0, 0.02, 0.4, 1.26, 2.0, 9.0, 12.4, 25.0, 61.0, 118.0, 236.0, 410.0, 1500.0, 3100.0)
"""Values across every scale, by which bands are found; their edges are then tried too."""


def vectors(catalogue: Catalogue) -> list[Body]:
    """Return the readings with what the service's rule says of each."""
    seen: set[object] = set()
    kept: list[Body] = []
    for reading, body, machine in _asked(catalogue):
        said = _judged(reading, machine, catalogue)
        told = _told(reading, body, said)
        if not seen.issuperset(told):
            seen |= told
            kept.append(vector(reading, body, said))
    return kept


def text_of(made: list[Body]) -> str:
    """Return the file: a case a line, so that a change shows as lines."""
    lines = ",\n".join(json.dumps(case, ensure_ascii=False) for case in made)
    return f"[\n{lines}\n]\n"


def _asked(catalogue: Catalogue) -> Iterator[tuple[Reading, Body, Machine]]:
    bodies = [{n: given for n, given in m.items() if given is not None} for m in MACHINES]
    machines = [(body, Machine.model_validate(body)) for body in bodies]
    for quantity, entry in catalogue.vocabulary.readings.items():
        for point in entry.points:
            limits = catalogue.limits_at.get((quantity, point), ())
            conditions = dict.fromkeys(c for limit in limits for c in limit.conditions)
            which = dict.fromkeys(w for limit in limits for w in limit.which)
            place = {"quantity": quantity, "point": point, "unit": entry.unit}
            for condition, one, (body, machine) in itertools.product(
                (None, *conditions), (None, *which), machines
            ):
                own = {**place, "condition": condition, "which": one}
                yield from ((r, body, machine) for r in _at_place(own, machine, catalogue))


def _at_place(place: Body, machine: Machine, catalogue: Catalogue) -> Iterator[Reading]:
    for more in ({}, *_moved_by(place, catalogue)):
        edges: dict[float, None] = {}
        for probe in PROBES:
            if not _possible(place, probe, catalogue):
                continue
            yield (reading := Reading(**place, value=probe, **more))
            found = _judged(reading, machine, catalogue).judged
            edges.update(dict.fromkeys(e for e in (found.low, found.high) if e is not None))
        for edge in edges:
            near = max(abs(edge) * 1e-3, 1e-4)
            for value in (edge - near, edge, edge + near):
                yield Reading(**place, value=round(value, 6), **more)
        if not more:
            for edge in edges:
                yield from _varied(place, edge)


def _moved_by(place: Body, catalogue: Catalogue) -> Iterator[Body]:
    """What is told with a reading that moves a band of its place."""
    limits = catalogue.limits_at.get((place["quantity"], place["point"]), ())
    if any(limit.basis == "percent of mark" for limit in limits):
        yield {"mark": 30.0}
    if any(limit.correct for limit in limits):
        yield {"at_degC": 5.0}
        yield {"at_degC": 61.0}


def _judged(reading: Reading, machine: Machine, catalogue: Catalogue) -> JudgedReading:
    at = catalogue.limits_at.get((reading.quantity, reading.point), ())
    return judge(reading, machine, at)


def _possible(place: Body, value: float, catalogue: Catalogue) -> bool:
    """Whether it can be a reading at all; the service refuses what can't."""
    for scale in catalogue.reading_words.plausible:
        here = not scale.points or place["point"] in scale.points
        if scale.quantity == place["quantity"] and here:
            return scale.low <= value <= scale.high
    return True


def _varied(place: Body, edge: float) -> Iterator[Reading]:
    for sign in ("over", "under", "about"):
        yield Reading(**place, value=edge, sign=sign)
    least, most = round(edge * 0.93, 6), round(edge * 1.08, 6)
    if least < most:
        for value in (least, edge, most):
            yield Reading(**place, value=value, min=least, max=most)
    yield Reading(**place, value=edge, stage="left")


def _told(reading: Reading, machine: Body, said: JudgedReading) -> set[object]:
    """What a case shows: words, a kind of reading at a place, a verdict on a set."""
    judged = said.judged
    words = re.sub(r"-?\d+(\.\d+)?", "N", judged.means)
    kind = (reading.sign, reading.stage, reading.min is None, reading.mark, reading.at_degC)
    quantity, verdict = reading.quantity, judged.verdict
    return {
        (quantity, verdict, said.danger, words),
        (quantity, reading.point, verdict),
        (quantity, verdict, *kind),
        (quantity, verdict, json.dumps(machine)),
    }


def vector(reading: Reading, machine: Body, said: JudgedReading) -> Body:
    """Return a case of the file; `danger` stands where the reading calls for a caution."""
    asked = reading.model_dump(exclude_none=True, exclude={"said"})
    judged = said.judged
    told = {
        "verdict": judged.verdict,
        "low": judged.low,
        "high": judged.high,
        "means": judged.means,
        "source": judged.source,
    }
    if said.danger is not None:
        told["danger"] = said.danger
    return {"reading": asked, "machine": machine, **told}


if __name__ == "__main__":
    made = vectors(packaged_catalogue())
    FILE.write_text(text_of(made), "utf-8")
    print(f"{len(made)} readings")  # noqa: T201 - run by hand
