"""State of a battery, power left high up and in heat, fuel hours left."""

from typing import Annotated

from mendpool.core.catalogue.tables import Tables
from mendpool.core.readings.refuse import refused
from mendpool.core.readings.workings import (
    charge_percent,
    fahrenheit,
    interpolated,
    load_test_minimum_volts,
)
from mendpool.core.readings.workings_air import (
    air_pressure_kpa,
    iso_power_ratio,
    rule_power_ratio,
    spark_ignition_correction,
)
from mendpool.core.record.fields import Code, Record
from mendpool.core.workings.amounts import Takes
from mendpool.core.workings.inputs import AirDegrees, Degrees, Kw, YesNo
from mendpool.core.workings.worked import Step, Sum, figure, shown, text

_TESTABLE, _FLAT = 75.0, 10.0
"""Per cent of charge from which a load test tells anything, and below which it is flat."""
_COMPRESSION = "diesel"
_ZERO_C = 273.15


class BatteryState(Record):
    """Inputs of `battery-state`."""

    rested_volts: Annotated[float, Takes("V", 1, 60)]
    battery_volts: Annotated[float, Takes("V", 6, 48)] | None = None
    load_volts: Annotated[float, Takes("V", 0, 60)] | None = None
    at_degC: Degrees | None = None  # noqa: N815 - wire name


def battery_state(given: BatteryState, tables: Tables) -> Sum:
    """Work out how full a battery is, and whether it passed its load test."""
    table = tables.battery
    nominal = given.battery_volts or table.nominal * (
        2 if given.rested_volts >= table.split else 1
    )
    percent = round(charge_percent(table.percent_by_volts, given.rested_volts, nominal), 6)
    freezes = interpolated(table.freezes_by_percent, percent)
    of_twelve = given.rested_volts * table.nominal / nominal
    whole = table.charge[-1].volts - table.charge[0].volts
    spread = 100 * of_twelve * table.meter_percent / 100 / whole
    degrees = given.at_degC if given.at_degC is not None else (70 - 32) * 5 / 9
    least = load_test_minimum_volts(table.load_test, degrees, nominal)
    outcome = "charged" if percent >= _TESTABLE else "flat" if percent < _FLAT else "half"
    notes = ["meter", "freezes", *(() if given.battery_volts else ("class",))]
    if given.load_volts is not None:
        outcome = "passed" if given.load_volts >= least else "failed"
        if percent < _TESTABLE:
            outcome = "too-low-to-test"
        notes += [] if given.at_degC is not None else ["warm"]
    steps = [
        Step(
            formula="charge: between the rows of the table, for 12 V",
            numbers=f"{text(of_twelve)} V: {text(percent)} %",
        )
    ]
    if given.load_volts is not None:
        steps.append(
            Step(
                formula="least volts of the load test by temperature",
                numbers=f"{text(fahrenheit(degrees))} degrees F: {text(least)} V",
            )
        )
    return Sum(
        outcome=outcome,
        answer=figure("charge", percent, "%"),
        steps=tuple(steps),
        words={
            "percent": round(percent), "freezes": round(freezes),
            "meter": table.meter_percent, "spread": round(spread), "battery": nominal,
            "load": given.load_volts or 0.0, "least": shown(least, 3),
        },
        also=(
            figure("freezes", freezes, "degC"),
            *((figure("load_least", least, "V"),) if given.load_volts is not None else ()),
        ),
        notes=tuple(notes),
        assumed=tuple(note for note in notes if note in {"class", "warm"}),
    )  # fmt: skip


class Derating(Record):
    """Inputs of `derating`."""

    rated_kw: Kw
    altitude_m: Annotated[float, Takes("m", -500, 6000)] = 0.0
    air_degC: AirDegrees = 25.0  # noqa: N815 - wire name
    fuel: Code
    turbocharged: YesNo = False


def derating(given: Derating, _tables: Tables) -> Sum:
    """Work out the power left at a height and in heat.

    Raises:
        RefusedInput: a turbocharged engine; a fuel nobody knows.
    """
    if given.turbocharged:
        raise refused("/turbocharged", "a turbocharged engine goes by its maker's table")
    pressure = air_pressure_kpa(given.altitude_m)
    kelvin = given.air_degC + _ZERO_C
    if given.fuel == _COMPRESSION:
        ratio = iso_power_ratio(pressure, kelvin)
        step = Step(
            formula="share = k - 0.7 (1 - k)(1/0.8 - 1), k = p/100 x (298/T)^0.75",
            numbers=f"p {text(pressure)} kPa, T {text(kelvin)} K: {text(ratio)}",
        )
    else:
        ratio = 1 / spark_ignition_correction(pressure, kelvin)
        step = Step(
            formula="share = 1/(1.18 (99/p) root(T/298) - 0.18)",
            numbers=f"p {text(pressure)} kPa, T {text(kelvin)} K: {text(ratio)}",
        )
    share = min(1.0, ratio)
    rule = min(1.0, rule_power_ratio(given.altitude_m))
    left = given.rated_kw * share
    return Sum(
        outcome="full" if share == 1 else "worked",
        answer=figure("kw", left, "kW"),
        steps=(step, Step(formula="kW left = rated x share",
                          numbers=f"{text(given.rated_kw)} x {text(share)} = {text(left)} kW")),
        words={
            "kw": shown(left, 3), "rated": shown(given.rated_kw), "share": round(100 * share),
            "rule": round(100 * rule),
        },
        also=(
            figure("share", 100 * share, "%"),
            figure("by_rule", 100 * rule, "%"),
            figure("pressure", pressure, "kPa"),
        ),
        notes=("rule",),
    )  # fmt: skip


class FuelHours(Record):
    """Inputs of `fuel-hours`."""

    litres: Annotated[float, Takes("L", 0, 100_000, above=True)]
    load_kw: Kw
    fuel: Code
    used_litres: Annotated[float, Takes("L", 0, 100_000, above=True)] | None = None
    used_hours: Annotated[float, Takes("h", 0, 10_000, above=True)] | None = None
    used_kw: Kw | None = None


_THIRSTY = 1.5
"""An engine that burns this many times the usual is at fault, or the load is misread."""


def fuel_hours(given: FuelHours, tables: Tables) -> Sum:
    """Work out how long the fuel lasts.

    Raises:
        RefusedInput: a fuel that comes in no tank; half of what was burnt.
    """
    fuel = tables.fuels.rows.get(given.fuel)
    if fuel is None:
        there = ", ".join(tables.fuels.rows)
        raise refused("/fuel", f"the table has {there}")
    low, high = fuel.litres_per_kwh
    own = _own_rate(given)
    notes = ["part"]
    words: dict[str, float | str] = {}
    if own is not None and own > _THIRSTY * high:
        notes.append("thirsty")
        words["times"] = shown(own / high, 2)
    rate = (own, own) if own is not None else (low, high)
    hours = tuple(given.litres / (given.load_kw * each) for each in (rate[1], rate[0]))
    words |= {"hours_low": shown(hours[0], 2), "hours_high": shown(hours[1], 2)}
    return Sum(
        outcome="by-own" if own is not None else "by-table",
        answer=figure("hours", hours[0], "h", (hours[0], hours[1])),
        steps=(
            Step(
                formula="hours = litres/(kW x litres for each kWh)",
                numbers=(
                    f"{text(given.litres)}/({text(given.load_kw)} x {text(rate[1])}) = "
                    f"{text(hours[0])} h"
                ),
            ),
        ),
        words=words,
        also=(figure("litres_per_kwh", (rate[0] + rate[1]) / 2, "L/kWh", rate),),
        notes=tuple(notes),
    )


def _own_rate(given: FuelHours) -> float | None:
    parts = {"used_litres": given.used_litres, "used_hours": given.used_hours,
             "used_kw": given.used_kw}  # fmt: skip
    if all(part is None for part in parts.values()):
        return None
    missing = next((name for name, part in parts.items() if part is None), None)
    if missing is not None:
        raise refused(f"/{missing}", "what was burnt needs litres, hours and kW")
    return (given.used_litres or 0.0) / ((given.used_hours or 1.0) * (given.used_kw or 1.0))
