"""The air an engine breathes: pressure with height, and what it takes off the power."""

import math

SEA_LEVEL_KPA = 101.325
_LAPSE = 0.0065
_SEA_LEVEL_K = 288.15


def air_pressure_kpa(altitude_m: float) -> float:
    """Return the pressure of the standard atmosphere (US 1976) at a height in metres."""
    return float(SEA_LEVEL_KPA * (1 - 2.25577e-5 * altitude_m) ** 5.25588)


def air_density_ratio(altitude_m: float) -> float:
    """Return the standard atmosphere's density over that at sea level."""
    warmth = (_SEA_LEVEL_K - _LAPSE * altitude_m) / _SEA_LEVEL_K
    return air_pressure_kpa(altitude_m) / SEA_LEVEL_KPA / warmth


def iso_power_ratio(pressure_kpa: float, air_k: float, mechanical: float = 0.80) -> float:
    """Return rated power left for a naturally aspirated diesel, dry air, 0 to about 1.

    Args:
        pressure_kpa: the air's pressure.
        air_k: its temperature, kelvin.
        mechanical: mechanical efficiency.

    Source: ISO 3046-1 with a = 1, m = 1, n = 0.75 against 100 kPa and 298 K, exponents from
    memory.
    """
    k = pressure_kpa / 100 * (298 / air_k) ** 0.75
    return float(k - 0.7 * (1 - k) * (1 / mechanical - 1))


def spark_ignition_correction(dry_kpa: float, air_k: float) -> float:
    """Return the SAE J1349 factor that takes measured power to 99 kPa and 25 °C.

    Source: SAE J1349, from memory.
    """
    return 1.18 * (99 / dry_kpa) * math.sqrt(air_k / 298) - 0.18


def diesel_engine_factor(fuel_mg_per_litre_cycle: float) -> float:
    """Return f_m of SAE J1349: 0.036 q − 1.14, at least 0.2 and at most 1.2."""
    return min(1.2, max(0.2, 0.036 * fuel_mg_per_litre_cycle - 1.14))


def rule_power_ratio(
    altitude_m: float, percent: float = 3.5, each_m: float = 300, above_m: float = 300
) -> float:
    """Return power left by a rule of so many per cent for each so many metres above a height.

    The default is the trade's rule; the textbook one is 3 per cent for each 1000 ft (304.8 m)
    above 500 ft (152.4 m).
    """
    return 1 - percent / 100 * max(0.0, altitude_m - above_m) / each_m


def fuel_kwh_per_litre(btu_per_us_gallon: float) -> float:
    """Return a fuel's energy in kWh per litre; 1 kWh is 3412.14 Btu, a US gallon 3.785412 L."""
    return btu_per_us_gallon / 3412.142 / 3.785411784


def fuel_litres(kwh: float, efficiency: float, kwh_per_litre: float) -> float:
    """Return the fuel burnt for so much energy at an efficiency in (0, 1]."""
    return kwh / efficiency / kwh_per_litre
