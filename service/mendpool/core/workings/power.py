"""Amps, kVA and kW; poles, speed and hertz, and droop."""

from typing import Annotated

from pydantic import Field

from mendpool.core.catalogue.tables import ClassName, Tables
from mendpool.core.readings.refuse import refused
from mendpool.core.readings.workings import (
    amps_of_kva,
    apparent_kva,
    droop_percent,
    frequency_hz,
    speed_rpm,
)
from mendpool.core.record.fields import Record
from mendpool.core.workings.amounts import Takes
from mendpool.core.workings.inputs import Amps, Code, Hertz, Kva, Kw, Phases, Share, Volts
from mendpool.core.workings.worked import Step, Sum, figure, shown, text

_INVERTER = "inverter"
_NOISE_PERCENT = 0.5
"""An electronic governor holds one speed, and a meter reads it a little off either way."""


class Power(Record):
    """Inputs of `power`."""

    volts: Volts
    phases: Phases = 1
    amps: Amps | None = None
    kva: Kva | None = None
    kw: Kw | None = None
    power_factor: Share | None = None
    rated_kva: Kva | None = None


def power(given: Power, _tables: Tables) -> Sum:
    """Work out amps, kVA and kW from one of them.

    Raises:
        RefusedInput: none of them, or more than one, given.
    """
    known = [name for name in ("amps", "kva", "kw") if getattr(given, name) is not None]
    if len(known) != 1:
        raise refused(f"/{known[1]}" if known else "/amps", "give one of amps, kva and kw")
    factor = given.power_factor or 1.0
    if given.amps is not None:
        kva = apparent_kva(given.volts, given.amps, given.phases)
    else:
        kva = given.kva if given.kva is not None else (given.kw or 0.0) / factor
    amps = amps_of_kva(kva, given.volts, given.phases)
    kw = kva * factor
    share = None if given.rated_kva is None else 100 * kva / given.rated_kva
    outcome = "worked" if share is None else "over" if share > 100 else "within"
    root = "root 3 x " if given.phases == 3 else ""
    asked = ("kva", kva, "kVA") if given.amps is not None else ("amps", amps, "A")
    figures = {"amps": (amps, "A"), "kva": (kva, "kVA"), "kw": (kw, "kW")}
    notes = ("unity",) if given.power_factor is None else ()
    return Sum(
        outcome=outcome,
        answer=figure(*asked),
        steps=(
            Step(
                formula=f"S = {root}V x I/1000",
                numbers=f"{root}{text(given.volts)} x {text(amps)}/1000 = {text(kva)} kVA",
            ),
            Step(
                formula="P = S x power factor",
                numbers=f"{text(kva)} x {text(factor)} = {text(kw)} kW",
            ),
        ),
        words={
            "amps": shown(amps, 3), "kva": shown(kva, 3), "kw": shown(kw, 3),
            "share": shown(share or 0.0, 3),
        },
        also=tuple(
            figure(name, value, unit)
            for name, (value, unit) in figures.items()
            if name != asked[0]
        ),
        notes=notes,
        assumed=notes,
    )  # fmt: skip


class Speed(Record):
    """Inputs of `speed`."""

    poles: Annotated[int, Field(strict=True, ge=2, le=60, multiple_of=2)] | None = None
    rpm: Annotated[float, Takes("rpm", 50, 12_000)] | None = None
    hertz: Hertz | None = None
    no_load_hertz: Hertz | None = None
    full_load_hertz: Hertz | None = None
    class_: ClassName | None = Field(default=None, alias="class")
    excitation: Code | None = None


def speed(given: Speed, tables: Tables) -> Sum:
    """Work out poles, speed and hertz, or the droop.

    Raises:
        RefusedInput: an inverter set, too little, too much, or figures that disagree.
    """
    if given.excitation == _INVERTER:
        says = "an inverter set's module makes the hertz: neither poles nor droop hold there"
        raise refused("/excitation", says)
    if given.no_load_hertz is not None or given.full_load_hertz is not None:
        return _droop(given, tables)
    poles, rpm, hertz = _settled(given)
    asked = (
        figure("hertz", hertz, "Hz")
        if given.hertz is None
        else figure("rpm", rpm, "rpm")
        if given.rpm is None
        else figure("poles", float(poles), "")
    )
    return Sum(
        outcome="worked",
        answer=asked,
        steps=(
            Step(
                formula="f = poles x rpm/120",
                numbers=f"{poles} x {text(rpm)}/120 = {text(hertz)} Hz",
            ),
        ),
        words={"poles": poles, "rpm": shown(rpm), "hertz": shown(hertz)},
        also=tuple(
            f
            for f in (
                figure("poles", float(poles), ""),
                figure("rpm", rpm, "rpm"),
                figure("hertz", hertz, "Hz"),
            )
            if f.name != asked.name
        ),
    )


def _settled(given: Speed) -> tuple[int, float, float]:
    known = [n for n in ("poles", "rpm", "hertz") if getattr(given, n) is not None]
    if len(known) < 2:
        missing = next(n for n in ("poles", "rpm", "hertz") if n not in known)
        raise refused(f"/{missing}", "give two of poles, rpm and hertz, or the droop's two")
    if len(known) == 3:
        raise refused("/poles", "give two of poles, rpm and hertz: the third comes out")
    if given.poles is None:
        rpm, hertz = given.rpm or 0.0, given.hertz or 0.0
        exact = 120 * hertz / rpm
        poles = max(2, 2 * round(exact / 2))
        # A set held within a tenth of its speed has one number of poles and no other.
        if abs(exact / poles - 1) > 0.1:
            says = f"{hertz:g} Hz at {rpm:g} rpm is {exact:.2f} poles: one of them is wrong"
            raise refused("/rpm", says)
        return poles, rpm, hertz
    if given.rpm is None:
        return given.poles, speed_rpm(given.poles, given.hertz or 0.0), given.hertz or 0.0
    return given.poles, given.rpm, frequency_hz(given.poles, given.rpm)


def _droop(given: Speed, tables: Tables) -> Sum:
    no_load, full_load = given.no_load_hertz, given.full_load_hertz
    if no_load is None or full_load is None:
        missing = "no_load_hertz" if no_load is None else "full_load_hertz"
        raise refused(f"/{missing}", "the droop needs both")
    droop = droop_percent(no_load, full_load)
    if droop < -_NOISE_PERCENT:
        raise refused("/full_load_hertz", "more than at no load: are the two swapped?")
    outcome, limit = "droop", 0.0
    if given.class_ is not None:
        limit = tables.classes.rows[given.class_].droop
        outcome = "droop-within" if droop <= limit * (1 + 1e-9) else "droop-wide"
    return Sum(
        outcome=outcome,
        answer=figure("droop", droop, "%"),
        steps=(
            Step(
                formula="droop % = 100 (f no load - f full load)/f full load",
                numbers=(
                    f"100 x ({text(no_load)} - {text(full_load)})/{text(full_load)} = "
                    f"{text(droop)} %"
                ),
            ),
        ),
        words={"droop": shown(droop, 3), "limit": limit, "class_": given.class_ or ""},
    )
