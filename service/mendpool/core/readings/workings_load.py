"""Will it start the pump, and is the cable big enough? Motors and conductors.

The figures of wire and motors are copies of published tables: NEC chapter 9 tables 8 and 9,
table 310.16, 430.248, 430.250 and 430.7(B); NEMA MG 1 figure 14-1; IEC 60228.
"""

import math

from mendpool.core.readings.workings import interpolated

TRANSIENT_REACTANCE = 0.25
"""Per unit, middle of the 0.15 to 0.30 that small alternators have; from memory."""

CODE_LETTERS = {
    "A": (0.0, 3.14), "B": (3.15, 3.54), "C": (3.55, 3.99), "D": (4.0, 4.49), "E": (4.5, 4.99),
    "F": (5.0, 5.59), "G": (5.6, 6.29), "H": (6.3, 7.09), "J": (7.1, 7.99), "K": (8.0, 8.99),
    "L": (9.0, 9.99), "M": (10.0, 11.19), "N": (11.2, 12.49), "P": (12.5, 13.99),
    "R": (14.0, 15.99), "S": (16.0, 17.99), "T": (18.0, 19.99), "U": (20.0, 22.39),
}  # fmt: skip
"""Locked-rotor kVA per horsepower, from and to (NEC 430.7(B)); V, 22.4 and up, is open."""

FULL_LOAD_AMPS_230V_1PH = {
    0.25: 2.9, 1 / 3: 3.6, 0.5: 4.9, 0.75: 6.9, 1.0: 8.0, 1.5: 10.0, 2.0: 12.0, 3.0: 17.0,
    5.0: 28.0, 7.5: 40.0, 10.0: 50.0,
}  # fmt: skip
"""Running amps of single-phase motors at 230 V by horsepower (NEC 430.248)."""

DERATING_BY_UNBALANCE = (
    (0.0, 1.0),
    (1.0, 1.0),
    (2.0, 0.95),
    (3.0, 0.88),
    (4.0, 0.82),
    (5.0, 0.75),
)
"""Motor derating against voltage unbalance in per cent (NEMA MG 1 figure 14-1, as read)."""

OHM_PER_KFT_STRANDED = {
    "14": 3.14, "12": 1.98, "10": 1.24, "8": 0.778, "6": 0.491, "4": 0.308, "2": 0.194,
    "1/0": 0.122,
}  # fmt: skip
"""Copper at 75 °C, stranded, by AWG (NEC chapter 9 table 8)."""
CIRCULAR_MIL = {
    "14": 4110, "12": 6530, "10": 10380, "8": 16510, "6": 26240, "4": 41740, "2": 66360,
    "1/0": 105600,
}  # fmt: skip
AMPACITY_COPPER = {
    "14": (15, 20, 25), "12": (20, 25, 30), "10": (30, 35, 40), "8": (40, 50, 55),
    "6": (55, 65, 75), "4": (70, 85, 95), "2": (95, 115, 130), "1/0": (125, 150, 170),
}  # fmt: skip
"""Amps at 30 °C, three wires together, 60, 75, 90 °C insulation (NEC table 310.16)."""
_AMBIENT_FACTORS = (
    (35, (0.91, 0.94, 0.96)),
    (40, (0.82, 0.88, 0.91)),
    (45, (0.71, 0.82, 0.87)),
)
_BUNDLING = ((3, 1.0), (6, 0.80), (9, 0.70), (20, 0.50))
_INSULATION = {60: 0, 75: 1, 90: 2}
OHM_PER_KM_20C = {
    1.5: 12.1, 2.5: 7.41, 4.0: 4.61, 6.0: 3.08, 10.0: 1.83, 16.0: 1.15, 25.0: 0.727,
    35.0: 0.524, 50.0: 0.387,
}  # fmt: skip
"""Copper, class 1 and 2, by mm² (IEC 60228)."""


# --- motors


def locked_rotor_kva(horsepower: float, letter: str) -> tuple[float, float]:
    """Return the starting kVA of a motor by the code letter on its plate, from and to.

    Raises:
        ValueError: for a letter that is not used, or V, which is open above.
    """
    if letter not in CODE_LETTERS:
        raise ValueError(f"no starting kVA for code letter {letter}")
    low, high = CODE_LETTERS[letter]
    return low * horsepower, high * horsepower


def locked_rotor_amps(
    horsepower: float, letter: str, volts: float, phases: int = 1
) -> tuple[float, float]:
    """Return the starting amps of a motor by its code letter, from and to."""
    low, high = locked_rotor_kva(horsepower, letter)
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


def motor_derating(unbalance: float) -> float:
    """Return the factor on a motor's power at a voltage unbalance in per cent.

    Raises:
        ValueError: above 5 per cent, where a motor is not to be run.
    """
    if unbalance > 5:
        raise ValueError("above 5 per cent unbalance a motor is not to be run")
    return interpolated(DERATING_BY_UNBALANCE, unbalance)


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


def ampacity(awg: str, insulation_c: int = 75, ambient_c: float = 30, wires: int = 3) -> float:
    """Return what a copper wire may carry, by size, insulation, heat around and bundling.

    Raises:
        ValueError: for a size, insulation, heat (over 45 °C) or bundle the tables lack.
    """
    column = _INSULATION.get(insulation_c)
    if awg not in AMPACITY_COPPER or column is None:
        raise ValueError("no such row in the table")
    heat = 1.0
    if ambient_c > 30:
        heat = next((f[column] for top, f in _AMBIENT_FACTORS if ambient_c <= top), 0.0)
    bundle = next((f for most, f in _BUNDLING if wires <= most), 0.0)
    if not heat or not bundle:
        raise ValueError("hotter, or more wires together, than the tables go")
    return AMPACITY_COPPER[awg][column] * heat * bundle


def pin_amps(single_pair_amps: float, pairs: int) -> float:
    """Return what pairs of contacts carry together: each doubling takes off 20 per cent.

    Source: a connector design rule of thumb: 3 A for one pair is 4.8 A for two, 7.68 for four.
    """
    return float(single_pair_amps * pairs * 0.8 ** math.log2(pairs))


def joint_ohms(volts_dropped: float, amps: float) -> float:
    """Return a joint's resistance from the volts lost over it at a known current."""
    return volts_dropped / amps
