"""Will it start the pump, and is the cable big enough? Motors and conductors.

The figures of wires and motors stand in the catalogue's `tables.yaml`; a function that needs
a table takes it.
"""

import math
from collections.abc import Mapping, Sequence

from mendpool.core.catalogue.tables import Cable, Iec, MotorAmps, Nec, Wire
from mendpool.core.readings.workings import interpolated

TRANSIENT_REACTANCE = 0.25
"""Per unit, middle of the 0.15 to 0.30 that small alternators have; from memory."""
_COLUMNS = (60, 75, 90)


# --- motors


def locked_rotor_kva(
    letters: Mapping[str, tuple[float, float]], horsepower: float, letter: str
) -> tuple[float, float]:
    """Return the starting kVA of a motor by the code letter on its plate, from and to.

    Args:
        letters: kVA for each horsepower by letter (NEC 430.7(B)).

    Raises:
        ValueError: for a letter that is not used, or V, which is open above.
    """
    if letter not in letters:
        raise ValueError(f"no starting kVA for code letter {letter}")
    low, high = letters[letter]
    return low * horsepower, high * horsepower


def running_amps(table: MotorAmps, horsepower: float, volts: float) -> tuple[float, float]:
    """Return a motor's running amps and the tabled volts they are for.

    The column nearest in volts is used; between two sizes the figure is interpolated.

    Raises:
        ValueError: for a size smaller or larger than the table has.
    """
    smallest, largest = table.rows[0].hp, table.rows[-1].hp
    if not smallest * 0.999 <= horsepower <= largest:
        raise ValueError(f"the table has {smallest:g} to {largest:g} hp")
    column = min(range(len(table.volts)), key=lambda n: abs(table.volts[n] - volts))
    points = [(row.hp, row.amps[column]) for row in table.rows]
    return interpolated(points, horsepower), table.volts[column]


def locked_rotor_amps(
    letters: Mapping[str, tuple[float, float]],
    horsepower: float,
    letter: str,
    volts: float,
    phases: int = 1,
) -> tuple[float, float]:
    """Return the starting amps of a motor by its code letter, from and to."""
    low, high = locked_rotor_kva(letters, horsepower, letter)
    across = volts * (math.sqrt(3) if phases == 3 else 1.0)
    return 1000 * low / across, 1000 * high / across


def dip_percent(
    start_kva: float, set_kva: float, reactance: float = TRANSIENT_REACTANCE
) -> float:
    """Return the voltage dip when a load of so many starting kVA is switched on.

    A divider of the set's transient reactance and the load; above 30 per cent contactors may
    drop out and motors stall. From memory (textbook).
    """
    return 100 * reactance * start_kva / (set_kva + reactance * start_kva)


def most_start_kva(
    set_kva: float, dip: float = 30.0, reactance: float = TRANSIENT_REACTANCE
) -> float:
    """Return the largest starting kVA a set carries within a dip in per cent."""
    return dip / (100 - dip) * set_kva / reactance


def motor_derating(curve: Sequence[tuple[float, float]], unbalance: float) -> float:
    """Return the factor on a motor's power at a voltage unbalance in per cent.

    Args:
        curve: factor against per cent (NEMA MG 1 figure 14-1).

    Raises:
        ValueError: past the end of the curve, where a motor is not to be run.
    """
    if unbalance > curve[-1][0]:
        raise ValueError(f"above {curve[-1][0]:g} per cent unbalance a motor is not to be run")
    return interpolated(curve, unbalance)


def motor_tolerance_percent(volts_off: float, hertz_off: float) -> float:
    """Return volts and hertz off together, in per cent: up to 10 is allowed.

    Source: NEMA MG 1-12.44.1, with hertz within 5 per cent.
    """
    return abs(volts_off) + abs(hertz_off)


# --- conductors


def drop_volts(ohm_per_unit: float, length: float, amps: float, phases: int = 1) -> float:
    """Return the volts lost in a run: two wires, or √3 of one on three phases.

    `ohm_per_unit` and `length` are in the same unit of length.
    """
    return (math.sqrt(3) if phases == 3 else 2.0) * ohm_per_unit * length * amps


def drop_volts_by_area(feet: float, amps: float, circular_mil: float, k: float = 12.9) -> float:
    """Return the volts lost in two copper wires by the K rule: 2·K·I·L/cmil."""
    return 2 * k * amps * feet / circular_mil


def effective_ohms(resistance: float, reactance: float, power_factor: float) -> float:
    """Return R·cos θ + X·sin θ (NEC chapter 9 table 9, note 2)."""
    return resistance * power_factor + reactance * math.sqrt(1 - power_factor**2)


def ampacity(
    nec: Nec, wire: Wire, insulation_c: int = 75, ambient_c: float = 30, wires: int = 3
) -> float:
    """Return what a copper wire may carry, by insulation, heat around and bundling.

    Raises:
        ValueError: for an insulation, a heat or a bundle the tables lack.
    """
    if insulation_c not in _COLUMNS:
        raise ValueError("the columns are 60, 75 and 90 degrees C")
    column = _COLUMNS.index(insulation_c)
    heat = next((row.factors[column] for row in nec.ambient if ambient_c <= row.to), None)
    bundle = next((row.factor for row in nec.bundling if wires <= row.most), None)
    if heat is None or bundle is None:
        raise ValueError("hotter, or more wires together, than the tables go")
    return wire.amps[column] * heat * bundle


def cable_amps(
    iec: Iec, cable: Cable, phases: int = 1, ambient_c: float = 30, circuits: int = 1
) -> float:
    """Return what a metric cable may carry, by heat around and circuits bunched.

    Raises:
        ValueError: for a heat or a bunch the tables lack.
    """
    heat = next((row.factor for row in iec.ambient if ambient_c <= row.to), None)
    bunch = next((row.factor for row in iec.grouping if circuits <= row.most), None)
    if heat is None or bunch is None:
        raise ValueError("hotter, or more circuits together, than the tables go")
    return cable.amps[1 if phases == 3 else 0] * heat * bunch


def pin_amps(single_pair_amps: float, pairs: int, doubling: float = 0.8) -> float:
    """Return what pairs of contacts carry together: each doubling takes off 20 per cent.

    Source: a connector design rule of thumb: 3 A for one pair is 4.8 A for two, 7.68 for four.
    """
    return float(single_pair_amps * pairs * doubling ** math.log2(pairs))


def joint_ohms(volts_dropped: float, amps: float) -> float:
    """Return a joint's resistance from the volts lost over it at a known current."""
    return volts_dropped / amps
