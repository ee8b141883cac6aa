"""Air pressure at the shop's height above the sea, by the international standard atmosphere.

In the lowest layer (to 11 000 m) the pressure is `sea level * (1 - height / SCALE) ** EXPONENT`, a formula
that a worksheet repeats as it stands; it takes the constants from here.

Source: U.S. Standard Atmosphere 1976 (NOAA-S/T 76-1562), the same there as ICAO Doc 7488: 101 325 Pa and
288.15 K at the sea, 6.5 K less for each 1000 m. The scale is 288.15 / 0.0065 m; the exponent is g0 M / (R *
0.0065 K/m). Heights count as geopotential, which at 10 000 ft differs from the surveyed height by 5 ft and
from its pressure by 0.02 %.
"""

from __future__ import annotations

SEA_LEVEL_INHG = 29.92126
SEA_LEVEL_KPA = 101.325
ELEVATION_SCALE_FT = 145442.0
ELEVATION_SCALE_M = 44330.77
EXPONENT = 5.255876

_LOWEST_M, _HIGHEST_M = -5000.0, 11000.0
_M_PER_FT = ELEVATION_SCALE_M / ELEVATION_SCALE_FT


def standard_pressure_inhg(elevation_ft: float) -> float:
    """Standard station pressure in inHg, absolute, at `elevation_ft` feet above the sea (below it:
    negative).

    Raises ValueError outside -5000 m to 11 000 m (36 089 ft), where the formula does not hold.
    """
    _check_height(elevation_ft * _M_PER_FT)
    return SEA_LEVEL_INHG * (1 - elevation_ft / ELEVATION_SCALE_FT) ** EXPONENT


def standard_pressure_kpa(elevation_m: float) -> float:
    """Standard station pressure in kPa, absolute, at `elevation_m` metres above the sea (below it:
    negative).

    Raises ValueError outside -5000 m to 11 000 m, where the formula does not hold.
    """
    _check_height(elevation_m)
    return SEA_LEVEL_KPA * (1 - elevation_m / ELEVATION_SCALE_M) ** EXPONENT


def _check_height(elevation_m: float) -> None:
    if not _LOWEST_M <= elevation_m <= _HIGHEST_M:
        raise ValueError(
            f"the standard atmosphere's formula holds from {_LOWEST_M:.0f} m to {_HIGHEST_M:.0f} m, "
            f"not at {elevation_m:.0f} m"
        )
