"""What the edges of a limit are written against: one number of the set for each basis."""

import math
from collections.abc import Callable, Mapping

from mendpool.core.catalogue.limits import Basis, Correction, Limit
from mendpool.core.readings.workings import (
    acid_gravity_at_27c,
    amps_of_kva,
    insulation_factor_to_40c,
    leg_volts,
    resistance_at,
)
from mendpool.core.readings.workings_air import air_density_ratio
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import Reading

_RESIDUAL_VOLTS = 230.0


def scale(limit: Limit, reading: Reading, machine: Machine) -> float | None:
    """Return the number that an edge is multiplied by; None where the plate lacks it."""
    if limit.basis == "absolute":
        return 1.0
    if limit.basis == "per 12 volts of battery":
        return battery_volts(reading, machine, limit.battery_split) / 12
    if limit.basis == "scaled to rated volts":
        return None if machine.rated_volts is None else machine.rated_volts / _RESIDUAL_VOLTS
    whole = _WHOLE[limit.basis](reading, machine)
    return None if whole is None else whole / 100


def battery_volts(reading: Reading, machine: Machine, split: float) -> float:
    """Return the battery's nominal volts: the set's, or read from the value itself."""
    if machine.start_volts is not None:
        return machine.start_volts
    return 24.0 if reading.value >= split else 12.0


def leg(machine: Machine, value: float) -> float | None:
    """Return leg-to-neutral volts of the set.

    Half of the rated volts on one phase at 60 Hz, ÷ √3 on three phases. Where the plate
    leaves it open (phases or hertz not known), the candidate nearest the reading is used.
    """
    rated = machine.rated_volts
    if rated is None:
        return None
    if machine.phases == 3:
        return leg_volts(rated, 3)
    if machine.phases == 1 and machine.rated_hz is not None and machine.rated_hz > 55:
        return leg_volts(rated, 1) if rated > 150 else rated
    candidates = [rated, leg_volts(rated, 1)]
    if machine.phases is None:
        candidates.append(leg_volts(rated, 3))
    return min(candidates, key=lambda volts: abs(volts - value))


def rated_amps(machine: Machine) -> float | None:
    """Return the rated line current from kVA (or kW) and volts; None if a figure lacks."""
    kva = machine.rated_kva or machine.rated_kw
    if kva is None or machine.rated_volts is None:
        return None
    phases = machine.phases or (3 if machine.rated_volts > 300 else 1)
    return amps_of_kva(kva, machine.rated_volts, phases)


_WHOLE: Mapping[Basis, Callable[[Reading, Machine], float | None]] = {
    "percent of mark": lambda reading, _: reading.mark,
    "percent of leg volts": lambda reading, machine: leg(machine, reading.value),
    "percent of rated current": lambda _, machine: rated_amps(machine),
    "percent of rated power": lambda _, machine: machine.rated_kw or machine.rated_kva,
    "percent of rated volts": lambda _, machine: machine.rated_volts,
    "percent of rated hertz": lambda _, machine: machine.rated_hz,
    "percent of rated speed": lambda _, machine: machine.rated_rpm,
}
"""What each basis takes for a hundred per cent."""


def corrected(
    correction: Correction | None, reading: Reading, machine: Machine
) -> float | None:
    """Return the factor that takes an edge to where it was read, None where unknown."""
    if correction == "air density":
        return None if machine.altitude_m is None else air_density_ratio(machine.altitude_m)
    at = reading.at_degC
    if at is None or correction is None:
        return None
    if correction == "copper":
        return resistance_at(1.0, 20, at)
    if correction == "insulation":
        return 1 / insulation_factor_to_40c(at)
    return 1 - (acid_gravity_at_27c(reading.value, at) - reading.value) / reading.value


def rounded(edge: float) -> float:
    """Return an edge as it is shown and compared: four places, or five digits if smaller."""
    if edge == 0:
        return 0.0
    return round(edge, max(4, 4 - math.floor(math.log10(abs(edge)))) if abs(edge) < 1 else 4)
