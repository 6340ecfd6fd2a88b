"""Cable drop and size; whether a connector's pin is big enough."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field

from mendpool.core.catalogue.tables import Cable as CableRow
from mendpool.core.catalogue.tables import Contacts, Tables, Wire
from mendpool.core.readings.refuse import refused
from mendpool.core.readings.workings import resistance_at
from mendpool.core.readings.workings_load import (
    ampacity,
    cable_amps,
    drop_volts,
    effective_ohms,
    joint_ohms,
    pin_amps,
)
from mendpool.core.record.fields import Record
from mendpool.core.workings.amounts import Takes
from mendpool.core.workings.inputs import AirDegrees, Amps, Count, Phases, Share, Volts, YesNo
from mendpool.core.workings.worked import Figure, Step, Sum, figure, shown, text

_FEET_EACH_M = 1 / 0.3048
_AWG = re.compile(r"#?(\d{1,2}|[1-4]/0)\s*(?:awg|ga|gauge)?", re.IGNORECASE)
_MM2 = re.compile(r"(\d{1,3}(?:[.,]\d{1,2})?)\s*(?:mm2|mm²|sqmm|sq\.? ?mm)", re.IGNORECASE)


class Cable(Record):
    """Inputs of `cable`."""

    amps: Amps
    length_m: Annotated[float, Takes("m", 0, 5000, above=True)]
    volts: Volts
    phases: Phases = 1
    size: Annotated[str, Field(min_length=1, max_length=20)] | None = None
    table: Literal["nec", "iec"] | None = None
    insulation_degC: Literal[60, 75, 90] | None = None  # noqa: N815
    ambient_degC: AirDegrees | None = None  # noqa: N815 - wire name
    wires: Count = 3
    circuits: Count = 1
    flexible: YesNo = False
    continuous: YesNo = False
    power_factor: Share = 1.0
    drop_percent: Annotated[float, Takes("%", 0, 50, above=True)] = 3.0


@dataclass(frozen=True, slots=True)
class _Run:
    """One size worked out: what it loses, what it may carry, and by which step."""

    size: str
    drop: float
    allowed: float
    step: Step
    breaker: float | None = None


def cable(given: Cable, tables: Tables) -> Sum:
    """Work out drop and size of a cable.

    Raises:
        RefusedInput: a size no table has, no size and no table, or a heat or bundle past the
            tables.
    """
    table, size = _table_and_size(given)
    sizes = tuple(_nec(given, tables) if table == "nec" else _iec(given, tables))
    asked = given.amps * (tables.nec.continuous if given.continuous else 1.0)
    good = next((run for run in sizes if _carries(run, asked) and _drops(run, given)), None)
    if size is None:
        run = good or sizes[-1]
        outcome = "fits" if good else "none-fits"
    else:
        found = next((run for run in sizes if run.size == size), None)
        if found is None:
            there = ", ".join(run.size for run in sizes)
            raise refused("/size", f"the table has {there}")
        run = found
        outcome = "fits"
        if not _carries(run, asked):
            outcome = "too-small"
        elif not _drops(run, given):
            outcome = "drops-too-much"
    percent = 100 * run.drop / given.volts
    better = good is not None and outcome not in {"fits", "none-fits"}
    notes = _notes(given, table, run)
    return Sum(
        outcome=outcome,
        answer=figure("drop", run.drop, "V"),
        steps=(run.step, _share(run.drop, given.volts, percent)),
        words={
            "size": run.size, "drop": shown(run.drop, 3), "percent": shown(percent, 2),
            "allowed": shown(run.allowed, 3), "amps": shown(asked, 3),
            "limit": given.drop_percent, "breaker": run.breaker or "",
            "runs_at": tables.iec.runs_at, "best_size": good.size if good else "",
            "best": "{best}" if better else "{no-best}" if outcome != "fits" else "",
        },
        also=(
            figure("drop_percent", percent, "%"),
            figure("allowed", run.allowed, "A"),
            figure("size", run.size, ""),
            *_better(good, better=better),
        ),
        notes=notes,
        assumed=tuple(note for note in notes if note in {"column", "ambient"}),
    )  # fmt: skip


def _better(good: _Run | None, *, better: bool) -> Iterable[Figure]:
    if better and good is not None:
        yield figure("smallest_that_does", good.size, "")


def _carries(run: _Run, amps: float) -> bool:
    return run.allowed >= amps * (1 - 1e-9)


def _drops(run: _Run, given: Cable) -> bool:
    return 100 * run.drop / given.volts <= given.drop_percent * (1 + 1e-9)


def _notes(given: Cable, table: str, run: _Run) -> tuple[str, ...]:
    notes = []
    if table == "nec" and given.insulation_degC is None:
        notes.append("column")
    if given.ambient_degC is None:
        notes.append("ambient")
    if run.breaker is not None:
        notes.append("breaker")
    if table == "iec":
        notes.append("hot")
    if given.continuous:
        notes.append("continuous")
    return tuple(notes)


def _table_and_size(given: Cable) -> tuple[str, str | None]:
    if given.size is None:
        if given.table is None:
            raise refused("/table", "without a size, say which table: nec (AWG) or iec (mm2)")
        return given.table, None
    typed = given.size.strip()
    metric, gauge = _MM2.fullmatch(typed), _AWG.fullmatch(typed)
    if metric is not None:
        return _same(given, "iec"), f"{float(metric[1].replace(',', '.')):g} mm2"
    if gauge is not None and (given.table == "nec" or not typed.strip("#").isdigit()):
        return _same(given, "nec"), f"{gauge[1]} AWG"
    if given.table == "iec" and re.fullmatch(r"\d{1,3}([.,]\d{1,2})?", typed):
        return "iec", f"{float(typed.replace(',', '.')):g} mm2"
    raise refused("/size", "write AWG or mm2 with it: 10 AWG, 1/0 AWG, 2.5 mm2")


def _same(given: Cable, table: str) -> str:
    if given.table not in {None, table}:
        raise refused("/table", f"the size is one of {table}", table)
    return table


def _nec(given: Cable, tables: Tables) -> Iterable[_Run]:
    feet = given.length_m * _FEET_EACH_M
    for wire in tables.nec.wires:
        try:
            allowed = ampacity(
                tables.nec, wire, given.insulation_degC or 60, _heat(given), given.wires
            )
        except ValueError as error:
            raise refused(_at(given.wires > 3), str(error)) from None
        ohm = _nec_ohm(wire, given.power_factor)
        drop = drop_volts(ohm, feet / 1000, given.amps, given.phases)
        breaker = wire.breaker
        if breaker is not None:
            allowed = min(allowed, breaker)
        step = _drop_step(given, f"{text(ohm)} ohm/kft x {text(feet / 1000)} kft", drop)
        yield _Run(f"{wire.size} AWG", drop, allowed, step, breaker)


def _nec_ohm(wire: Wire, power_factor: float) -> float:
    if power_factor == 1:
        return wire.copper
    return effective_ohms(wire.copper, wire.reactance, power_factor)


def _iec(given: Cable, tables: Tables) -> Iterable[_Run]:
    iec = tables.iec
    km = given.length_m / 1000
    for row in iec.cables:
        try:
            allowed = cable_amps(iec, row, given.phases, _heat(given), given.circuits)
        except ValueError as error:
            raise refused(_at(given.circuits > 1), str(error)) from None
        ohm = _iec_ohm(row, iec.runs_at, flexible=given.flexible)
        drop = drop_volts(ohm, km, given.amps, given.phases)
        step = _drop_step(given, f"{text(ohm)} ohm/km x {text(km)} km", drop)
        yield _Run(f"{row.size:g} mm2", drop, allowed, step)


def _iec_ohm(row: CableRow, runs_at: float, *, flexible: bool) -> float:
    return resistance_at(row.flexible if flexible else row.ohm, 20, runs_at)


def _heat(given: Cable) -> float:
    return 30.0 if given.ambient_degC is None else given.ambient_degC


def _at(bundled: bool) -> str:  # noqa: FBT001 - a plain choice of two places
    return "/wires" if bundled else "/ambient_degC"


def _drop_step(given: Cable, ohms: str, drop: float) -> Step:
    times = "root 3" if given.phases == 3 else "2"
    return Step(
        formula=f"drop = {times} x R x length x I",
        numbers=f"{times} x {ohms} x {text(given.amps)} A = {text(drop)} V",
    )


def _share(drop: float, volts: float, percent: float) -> Step:
    return Step(
        formula="drop % = 100 x drop/volts",
        numbers=f"100 x {text(drop)}/{text(volts)} = {text(percent)} %",
    )


# --- pins


class ConnectorPin(Record):
    """Inputs of `connector-pin`."""

    amps: Amps
    rating_amps: Amps
    loaded_pairs: Count = 1
    parallel_pins: Count = 1
    drop_volts: Annotated[float, Takes("V", 0, 60)] | None = None


def connector_pin(given: ConnectorPin, tables: Tables) -> Sum:
    """Work out what a connector's pins may carry.

    Raises:
        RefusedInput: more pins side by side than pairs loaded.
    """
    contacts = tables.contacts
    if given.parallel_pins > given.loaded_pairs:
        says = "pins that share a load are loaded: loaded_pairs can't be fewer"
        raise refused("/loaded_pairs", says)
    each = pin_amps(given.rating_amps, given.loaded_pairs, contacts.doubling)
    each /= given.loaded_pairs
    allowed = each * given.parallel_pins
    outcome = "big-enough"
    if given.amps > allowed * (1 + 1e-9):
        outcome = "too-small"
    elif given.amps > allowed * contacts.tight:
        outcome = "tight"
    joint = _joint(given, contacts)
    if given.drop_volts is not None and given.drop_volts > contacts.joint_volts:
        outcome = "bad-joint"
    notes = ("parallel",) if given.parallel_pins > 1 else ()
    if given.drop_volts is not None and outcome != "bad-joint":
        notes = (*notes, "joint")
    return Sum(
        outcome=outcome,
        answer=figure("allowed", allowed, "A"),
        steps=(
            Step(
                formula="allowed = rating x 0.8^log2(loaded pairs) x pins side by side",
                numbers=(
                    f"{text(given.rating_amps)} x {text(contacts.doubling)}^log2"
                    f"({given.loaded_pairs}) x {given.parallel_pins} = {text(allowed)} A"
                ),
            ),
            *joint[0],
        ),
        words={
            "allowed": shown(allowed, 3), "amps": shown(given.amps, 3),
            "drop": shown(given.drop_volts or 0.0, 3), "most": contacts.joint_volts,
            "watts": shown((given.drop_volts or 0.0) * given.amps, 3),
            "ohms": shown(joint_ohms(given.drop_volts or 0.0, given.amps), 3),
        },
        also=(figure("each_pin", each, "A"), *joint[1]),
        notes=notes,
    )  # fmt: skip


def _joint(
    given: ConnectorPin, contacts: Contacts
) -> tuple[tuple[Step, ...], tuple[Figure, ...]]:
    if given.drop_volts is None:
        return (), ()
    ohms = joint_ohms(given.drop_volts, given.amps)
    step = Step(
        formula="R = drop/I",
        numbers=f"{text(given.drop_volts)}/{text(given.amps)} = {ohms:.3g} ohm",
    )
    return (step,), (
        figure("joint_ohm", ohms, "ohm"),
        figure("joint_drop_allowed", contacts.joint_volts, "V"),
    )
