"""Power from a timed pull on the road, and whether a repair changed it.

The mean net accelerating power between two speeds is the gain of kinetic energy over the time. Drag and
rolling resistance are not measured and not in it; compare pulls of one vehicle at one place only. Two days
are compared after bringing both to the same air; the factor was made for full engine power and is applied
here to the accelerating power. Humidity is not measured: station pressure stands for the dry pressure.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from workbook_tools.science.units import conversion_factor

# Power of one pound (kilogram) brought from rest to one mile (kilometre) an hour within one second.
HP_PER_LB_MPH2_PER_S = (
    0.5 * conversion_factor("lb", "kg") * conversion_factor("mph", "m/s") ** 2 * conversion_factor("W", "hp")
)
KW_PER_KG_KMH2_PER_S = 0.5 * conversion_factor("km/h", "m/s") ** 2 * conversion_factor("W", "kW")

# SAE J1349 (2004 and later), naturally aspirated: reference air and mechanical efficiency.
J1349_DRY_PRESSURE_KPA = 99.0
J1349_TEMPERATURE_K = 298.15
J1349_MECHANICAL_EFFICIENCY = 0.85
# Outside this range a factor extrapolates: the limits of ISO 1585 (from memory).
LEAST_TRUSTED_FACTOR, MOST_TRUSTED_FACTOR = 0.93, 1.07
ZERO_CELSIUS_K = 273.15

# Student's t for a two-sided 95 % interval; three runs on each day leave four degrees of freedom.
T_95_PERCENT: dict[int, float] = {1: 12.706, 2: 4.303, 3: 3.182, 4: 2.776}


def accelerating_power_w(mass_kg: float, from_speed_m_s: float, to_speed_m_s: float, seconds: float) -> float:
    """Mean net accelerating power in watts: m (v2^2 - v1^2) / (2 t).

    Raises ValueError when the time is not above zero or the second speed is not above the first.
    """
    _check_pull(from_speed_m_s, to_speed_m_s, seconds)
    return mass_kg * (to_speed_m_s**2 - from_speed_m_s**2) / (2 * seconds)


def accelerating_power_hp(
    mass_lb: float, from_speed_mph: float, to_speed_mph: float, seconds: float
) -> float:
    """Mean net accelerating power in horsepower (550 ft lbf/s).

    Raises ValueError when the time is not above zero or the second speed is not above the first.
    """
    _check_pull(from_speed_mph, to_speed_mph, seconds)
    return HP_PER_LB_MPH2_PER_S * mass_lb * (to_speed_mph**2 - from_speed_mph**2) / seconds


def accelerating_power_kw(
    mass_kg: float, from_speed_km_h: float, to_speed_km_h: float, seconds: float
) -> float:
    """Mean net accelerating power in kilowatts.

    Raises ValueError when the time is not above zero or the second speed is not above the first.
    """
    _check_pull(from_speed_km_h, to_speed_km_h, seconds)
    return KW_PER_KG_KMH2_PER_S * mass_kg * (to_speed_km_h**2 - from_speed_km_h**2) / seconds


def j1349_factor(dry_pressure_kpa: float, temperature_c: float) -> float:
    """Factor that brings measured power to 99 kPa dry and 25 °C, naturally aspirated spark ignition.

    Source: SAE J1349 (2004 and later), fa / 0.85 - 0.15 / 0.85 with fa = 99 / p * sqrt(T / 298.15). Raises
    ValueError for a pressure or an absolute temperature that is not above zero.
    """
    temperature_k = temperature_c + ZERO_CELSIUS_K
    _check_air(dry_pressure_kpa, temperature_k)
    air = J1349_DRY_PRESSURE_KPA / dry_pressure_kpa * math.sqrt(temperature_k / J1349_TEMPERATURE_K)
    friction = 1 - J1349_MECHANICAL_EFFICIENCY
    return (air - friction) / J1349_MECHANICAL_EFFICIENCY


def j607_factor(dry_pressure_inhg: float, temperature_f: float) -> float:
    """Factor of the older practice, which brings power to 29.92 inHg dry and 60 °F; for comparison only.

    Source: SAE J607, 29.92 / p * sqrt((t + 460) / 520). Raises ValueError as `j1349_factor` does.
    """
    temperature_r = temperature_f + 460
    _check_air(dry_pressure_inhg, temperature_r)
    return 29.92 / dry_pressure_inhg * math.sqrt(temperature_r / 520)


def iso1585_factor(dry_pressure_kpa: float, temperature_c: float) -> float:
    """Factor of ISO 1585 and UN Regulation 85 for naturally aspirated spark ignition; for comparison only.

    (99 / p)^1.2 * (T / 298)^0.6 with T counted from -273 °C. Raises ValueError as `j1349_factor` does.
    """
    temperature_k = temperature_c + 273
    _check_air(dry_pressure_kpa, temperature_k)
    return (99 / dry_pressure_kpa) ** 1.2 * (temperature_k / 298) ** 0.6


def factor_in_range(factor: float) -> bool:
    """Whether a correction factor lies in the range that its standard states for it, 0.93 to 1.07."""
    return LEAST_TRUSTED_FACTOR <= factor <= MOST_TRUSTED_FACTOR


def gain_percent(power_before: float, factor_before: float, power_after: float, factor_after: float) -> float:
    """Gain of power in %, each day's power brought to the same air by its own factor.

    Raises ValueError when the corrected power before is not above zero.
    """
    corrected_before = power_before * factor_before
    if corrected_before <= 0:
        raise ValueError(f"the power before the repair must be above zero, not {corrected_before}")
    return 100 * (power_after * factor_after / corrected_before - 1)


def gain_uncertainty_percent(
    seconds_before: Sequence[float], seconds_after: Sequence[float], gain: float = 0.0
) -> float | None:
    """Half the 95 % interval of a gain in %, from how far the runs of a day differ; None for a day without.

    Power goes as one over the time, so times and powers scatter by the same share. Both days are taken to
    scatter alike, and the mean of n runs scatters by the square root of n less. `gain` in % is the gain that
    the result stands beside. None also where no day has two runs, or there are more than six runs in all.
    Source: JCGM 100:2008 (GUM), 4.2 and annex G.
    """
    runs = [list(seconds_before), list(seconds_after)]
    if not all(runs):
        return None
    freedom = sum(len(day) - 1 for day in runs)
    if freedom not in T_95_PERCENT:
        return None
    means = [sum(day) / len(day) for day in runs]
    squares = sum((t / mean - 1) ** 2 for day, mean in zip(runs, means, strict=True) for t in day)
    of_the_means = math.sqrt(squares / freedom * sum(1 / len(day) for day in runs))
    return 100 * T_95_PERCENT[freedom] * of_the_means * (1 + gain / 100)


def within_scatter(gain: float, uncertainty: float | None) -> bool:
    """Whether a gain in % is no larger than its uncertainty; a gain of unknown uncertainty is not said to be.

    Callers tell an unknown uncertainty (single runs) in words of its own.
    """
    return uncertainty is not None and abs(gain) <= uncertainty


def _check_pull(from_speed: float, to_speed: float, seconds: float) -> None:
    if seconds <= 0:
        raise ValueError(f"a pull takes more than zero seconds, not {seconds}")
    if not 0 <= from_speed < to_speed:
        raise ValueError(f"a pull goes from a lower to a higher speed, not from {from_speed} to {to_speed}")


def _check_air(pressure: float, absolute_temperature: float) -> None:
    if pressure <= 0 or absolute_temperature <= 0:
        raise ValueError("pressure and absolute temperature of the air must be above zero")
