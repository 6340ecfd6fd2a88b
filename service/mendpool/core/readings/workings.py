"""The calculations of the trade: speed, power, resistance, insulation, battery.

Pure functions of plain numbers. Units are in the names; where a figure comes from stands in
each docstring. `workings_load` has motors and conductors, `workings_air` altitude and derating.
"""

import math
from collections.abc import Sequence
from itertools import pairwise

COPPER_K = 234.5
ALUMINIUM_K = 225.0
"""Inferred temperature of zero resistance, degrees C below zero (IEEE 112, UL wording)."""


# --- speed and frequency


def frequency_hz(poles: int, rpm: float) -> float:
    """Return the frequency that a set of so many poles makes at a speed.

    Source: f = PN/120, NEETS module 5 (NAVEDTRA 14177), chapter 3.

    >>> frequency_hz(4, 1800)
    60.0
    """
    return poles * rpm / 120


def speed_rpm(poles: int, frequency: float) -> float:
    """Return the speed at which so many poles make a frequency [Hz]."""
    return 120 * frequency / poles


def droop_percent(no_load_hz: float, full_load_hz: float) -> float:
    """Return the speed droop, per cent of the full-load frequency (ISO 8528-5 definition)."""
    return 100 * (no_load_hz - full_load_hz) / full_load_hz


def slip_percent(synchronous_rpm: float, rpm: float) -> float:
    """Return a motor's slip, per cent of its synchronous speed."""
    return 100 * (synchronous_rpm - rpm) / synchronous_rpm


def no_load_frequency_hz(rated_hz: float, droop: float) -> float:
    """Return the highest no-load frequency for a droop in per cent."""
    return rated_hz * (1 + droop / 100)


def band(nominal: float, below_percent: float, above_percent: float) -> tuple[float, float]:
    """Return the edges so many per cent below and above a nominal figure."""
    return nominal * (1 - below_percent / 100), nominal * (1 + above_percent / 100)


# --- volts, amps, power


def leg_volts(rated_volts: float, phases: int) -> float:
    """Return leg-to-neutral volts: half on a split single phase, ÷ √3 on three phases."""
    return rated_volts / math.sqrt(3) if phases == 3 else rated_volts / 2


def apparent_kva(volts: float, amps: float, phases: int = 1) -> float:
    """Return kVA from volts (line to line on three phases) and amps."""
    return volts * amps * (math.sqrt(3) if phases == 3 else 1.0) / 1000


def amps_of_kva(kva: float, volts: float, phases: int = 1) -> float:
    """Return line amps of an apparent power; volts line to line on three phases."""
    return 1000 * kva / (volts * (math.sqrt(3) if phases == 3 else 1.0))


def amps_of_kw(kw: float, volts: float, power_factor: float = 1.0, phases: int = 1) -> float:
    """Return line amps of a real power at a power factor in (0, 1]."""
    return amps_of_kva(kw / power_factor, volts, phases)


def resistive_load(volts: float, amps: float) -> tuple[float, float]:
    """Return watts and ohms of a resistive load."""
    return volts * amps, volts / amps


def rectified_volts(rms_volts: float, phases: int = 1) -> float:
    """Return the mean dc of a bridge: 2√2/π of rms, or 3√2/π of line volts on three phases."""
    return rms_volts * (3 if phases == 3 else 2) * math.sqrt(2) / math.pi


def capacitor_amps(microfarad: float, volts: float, hz: float) -> float:
    """Return the current through a capacitor: I = 2πfCV."""
    return 2 * math.pi * hz * microfarad * 1e-6 * volts


def capacitance_uf(amps: float, volts: float, hz: float) -> float:
    """Return the capacitance that passes a current at a voltage."""
    return amps / (2 * math.pi * hz * volts) * 1e6


def unbalance_percent(values: Sequence[float]) -> float:
    """Return the largest distance from the mean, per cent of the mean.

    Source: NEMA MG 1-14.36.2.

    >>> round(unbalance_percent([460, 467, 450]), 2)
    1.96
    """
    mean = math.fsum(values) / len(values)
    return 100 * max(abs(value - mean) for value in values) / mean


# --- resistance and insulation


def resistance_at(ohms: float, from_c: float, to_c: float, k: float = COPPER_K) -> float:
    """Return a winding's resistance at another temperature: R2 = R1 (k + T2)/(k + T1)."""
    return ohms * (k + to_c) / (k + from_c)


def resistance_by_coefficient(ohms: float, from_c: float, to_c: float, alpha: float) -> float:
    """Return a resistance at another temperature by its coefficient per kelvin at `from_c`."""
    return ohms * (1 + alpha * (to_c - from_c))


def rise_by_resistance(
    cold_ohms: float, hot_ohms: float, cold_c: float, ambient_c: float, k: float = COPPER_K
) -> float:
    """Return a winding's temperature rise over ambient, kelvin, from two resistances."""
    return (hot_ohms - cold_ohms) / cold_ohms * (k + cold_c) + cold_c - ambient_c


def cable_factor_to_20c(celsius: float) -> float:
    """Return the factor that takes a cable's resistance to 20 °C (IEC 60228 table rule)."""
    return 250 / (230 + celsius)


def insulation_factor_to_40c(celsius: float) -> float:
    """Return the factor that takes insulation resistance to 40 °C: 0.5^((40 − T)/10).

    Source: IEEE 43-2000, 6.3, from memory: it halves for every 10 kelvin warmer.
    """
    return float(0.5 ** ((40 - celsius) / 10))


def insulation_factor_thermosetting(celsius: float) -> float:
    """Return the 2013 factor to 40 °C for thermosetting insulation, 10 to 85 °C.

    Source: IEEE 43-2013; structure published, constants from memory.

    Raises:
        ValueError: outside 10 to 85 °C, where the rule gives none.
    """
    if not 10 < celsius < 85:
        raise ValueError("the thermosetting rule holds from 10 to 85 °C")
    constant = 4230 if celsius > 40 else 1245
    return math.exp(-constant * (1 / (celsius + 273) - 1 / 313))


def insulation_at_40c(megohm: float, celsius: float) -> float:
    """Return an insulation resistance as it would be at 40 °C."""
    return megohm * insulation_factor_to_40c(celsius)


# --- battery


def interpolated(points: Sequence[tuple[float, float]], x: float) -> float:
    """Return y at x on a polyline; beyond its ends, the end's own y."""
    if x <= points[0][0]:
        return points[0][1]
    for (x0, y0), (x1, y1) in pairwise(points):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return points[-1][1]


def charge_percent(
    by_volts: Sequence[tuple[float, float]], rested_volts: float, battery_volts: float = 12
) -> float:
    """Return the state of charge from rested volts, 0 to 100 per cent.

    Args:
        by_volts: per cent against rested volts of a 12 V battery.

    A meter that is 1 per cent out is some 16 per cent of charge out: treat as rough.
    """
    return interpolated(by_volts, rested_volts * 12 / battery_volts)


def load_test_minimum_volts(
    by_fahrenheit: Sequence[tuple[float, float]], celsius: float, battery_volts: float = 12
) -> float:
    """Return the lowest volts that pass a load test at a battery temperature.

    Args:
        by_fahrenheit: least volts of a 12 V battery against degrees F.
    """
    return interpolated(by_fahrenheit, fahrenheit(celsius)) * battery_volts / 12


def acid_gravity_at_27c(gravity: float, celsius: float) -> float:
    """Return specific gravity as it would be at 80 °F: 0.004 for every 10 °F."""
    return gravity + 0.004 * (fahrenheit(celsius) - 80) / 10


# --- temperature


def fahrenheit(celsius: float) -> float:
    """Return degrees F."""
    return celsius * 9 / 5 + 32


def celsius(fahrenheit: float) -> float:
    """Return degrees C."""
    return (fahrenheit - 32) * 5 / 9
