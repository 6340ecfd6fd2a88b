"""The load that matters: what is assumed of it, and whether the set can carry it."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.planning import NamedLoad
from mendpool.core.errors import RefusedInput
from mendpool.core.record.answer import Flag
from mendpool.core.record.machine import Machine
from mendpool.core.workings.motors import PumpStart, pump_start
from mendpool.core.workings.worked import text

_NAMELESS = "what must run"
_SURE = 0.45
"""A symptom understood less surely than this does not turn the plan round."""
_VOLTS = (230.0, 400.0)
"""Taken for one and for three phases where the plate is not known: 240 V differs little."""
_SIZE = re.compile(r"(?<!\d)(\d+(?:[.,]\d+)?)\s*(kva|va|kw|w|hp)\b", re.IGNORECASE)
_TOO_MUCH, _DOUBTFUL = (
    frozenset({"stalls", "inverter-stalls"}),
    frozenset({"doubtful", "inverter-doubtful"}),
)


@dataclass(frozen=True, slots=True)
class Wanted:
    """A load that must run.

    Args:
        says: its name.
        kva: as it runs; None where only its motor is known, or nothing is.
        start_kva: as it starts, where that is more.
        motor_hp: of its motor.
        assumed: what was assumed of it, in words; empty where it was given.
    """

    says: str
    kva: float | None = None
    start_kva: float | None = None
    motor_hp: float | None = None
    assumed: str = ""


def wanted(must_run: float | str | None, catalogue: Catalogue) -> Wanted | None:
    """Return the load that must run, from its kVA, its name, or both ("1.5 hp pump")."""
    if must_run is None or must_run == "" or (not isinstance(must_run, str) and must_run <= 0):
        return None
    if not isinstance(must_run, str):
        return Wanted(says=_NAMELESS, kva=float(must_run))
    size = _SIZE.search(must_run)
    name = re.sub(r"[\s\-_]+", " ", _SIZE.sub(" ", must_run)).strip(" ,.").lower()
    load = _named(name, catalogue)
    says = load.says if load is not None else (f"the {name}" if name else _NAMELESS)
    if size is not None:
        return _sized(says, float(size[1].replace(",", ".")), size[2].lower(), catalogue)
    if load is None:
        return Wanted(says=says, assumed="Its size was not given: say it in kVA or kW.")
    if load.motor_hp is not None:
        assumed = f"taken for a motor of {text(load.motor_hp)} hp"
    else:
        assumed = f"taken for {text(load.kva or 0.0)} kVA"
        if load.start_kva is not None:
            assumed += f", {text(load.start_kva)} kVA as it starts"
    return Wanted(
        says, load.kva, load.start_kva, load.motor_hp,
        assumed=f"{_capital(says)} is {assumed}; say its own size if you know it.",
    )  # fmt: skip


def points_to_load(symptoms: Mapping[str, float], catalogue: Catalogue) -> bool:
    """Tell whether what it does may be no more than too much load."""
    wanted_by = catalogue.planning.must_run.symptoms
    return any(symptoms.get(code, 0.0) >= _SURE for code in wanted_by)


def flags_of(load: Wanted, machine: Machine, catalogue: Catalogue) -> tuple[Flag, ...]:
    """Return what is to be said of the load: can this set carry it, and what was assumed."""
    stagger = catalogue.planning.must_run.stagger.format(load=load.says)
    code, verdict = _verdict(load, machine, catalogue)
    if code == "must-run-too-much":
        stagger = ""
    said = " ".join(part for part in (verdict, load.assumed, stagger) if part)
    return (Flag(code=code, says=said),)


def _verdict(load: Wanted, machine: Machine, catalogue: Catalogue) -> tuple[str, str]:
    """The flag's code, and whether the plate carries the load."""
    rated = _rated_kva(machine, catalogue)
    if load.kva is None and load.motor_hp is None:
        return "must-run", ""
    if rated is None:
        return (
            "must-run",
            f"Whether this set carries {load.says} can't be said without its kVA.",
        )
    plate = f"{text(rated)} kVA"
    if load.motor_hp is not None:
        return _of_motor(load, load.motor_hp, machine, rated, catalogue)
    kva = load.kva or 0.0
    start = load.start_kva or kva
    peak = rated * catalogue.tables.starting.inverter_peak[0]
    if kva > rated:
        says = f"{_capital(load.says)} wants {text(kva)} kVA and this set is {plate}"
        return "must-run-too-much", f"{says}: mended or not, it will not carry it."
    if start > peak:
        says = f"{_capital(load.says)} takes about {text(start)} kVA as it starts"
        return (
            "must-run-too-much",
            f"{says}, this set is {plate}: it may run it, and fail to start it.",
        )
    return "must-run", f"By its plate of {plate} this set carries {load.says}."


def _of_motor(
    load: Wanted, horsepower: float, machine: Machine, rated: float, catalogue: Catalogue
) -> tuple[str, str]:
    phases: Literal[1, 3] = 3 if machine.phases == 3 else 1
    given = PumpStart(
        motor_hp=horsepower,
        volts=machine.rated_volts or _VOLTS[phases == 3],
        phases=phases,
        set_kva=rated,
        set_kw=machine.rated_kw,
        excitation=machine.excitation,
    )
    try:
        done = pump_start(given, catalogue.tables)
    except RefusedInput:
        return "must-run", ""
    by_plate = f"By its plate of {text(rated)} kVA"
    if done.outcome in _TOO_MUCH:
        says = f"{by_plate} this set will not start {load.says}, mended or not"
        return "must-run-too-much", f"{says}: it wants a soft starter or a larger set."
    if done.outcome in _DOUBTFUL:
        return "must-run", f"{by_plate} it is doubtful that it starts {load.says}, even alone."
    return "must-run", f"{by_plate} this set starts {load.says} alone."


def _rated_kva(machine: Machine, catalogue: Catalogue) -> float | None:
    if machine.rated_kva:
        return float(machine.rated_kva)
    if machine.rated_kw:
        return float(machine.rated_kw) / catalogue.tables.starting.set_power_factor
    return None


def _sized(says: str, size: float, unit: str, catalogue: Catalogue) -> Wanted | None:
    if size <= 0:
        return None
    if unit == "hp":
        return Wanted(says, motor_hp=size)
    kva = size / 1000 if unit in ("w", "va") else size
    if unit in ("w", "kw"):
        factor = catalogue.tables.starting.set_power_factor
        assumed = f"Its kW are taken at a power factor of {text(factor)}."
        return Wanted(says, kva=kva / factor, assumed=assumed)
    return Wanted(says, kva=kva)


def _named(name: str, catalogue: Catalogue) -> NamedLoad | None:
    """The load whose longest alias stands in the words; none if none does."""
    found = [
        (len(alias), code)
        for code, load in catalogue.planning.must_run.loads.items()
        for alias in (*load.aliases, code.replace("-", " "))
        if re.search(rf"(?<!\w){re.escape(alias)}s?(?!\w)", name)
    ]
    return catalogue.planning.must_run.loads[max(found)[1]] if found else None


def _capital(said: str) -> str:
    return said[:1].upper() + said[1:]
