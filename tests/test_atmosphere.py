"""The standard atmosphere against its published table and two libraries, and the mechanic's rule of thumb."""

from __future__ import annotations

import ambiance
import fluids
import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook_tools.science.atmosphere import (
    ELEVATION_SCALE_FT,
    ELEVATION_SCALE_M,
    EXPONENT,
    SEA_LEVEL_INHG,
    SEA_LEVEL_KPA,
    standard_pressure_inhg,
    standard_pressure_kpa,
)
from workbook_tools.science.units import convert

# U.S. Standard Atmosphere 1976: pressure altitude in ft, Pa, conventional inHg; computed from its constants.
STANDARD_ATMOSPHERE = [
    (0, 101325.00, 29.9213),
    (1000, 97716.57, 28.8557),
    (2000, 94212.90, 27.8211),
    (3000, 90811.66, 26.8167),
    (4000, 87510.54, 25.8418),
    (5000, 84307.26, 24.8959),
    (6000, 81199.60, 23.9782),
    (7000, 78185.36, 23.0881),
    (8000, 75262.36, 22.2250),
    (9000, 72428.49, 21.3881),
    (10000, 69681.64, 20.5770),
]
EARTH_RADIUS_M = 6356766  # U.S. Standard Atmosphere 1976


@pytest.mark.parametrize(("feet", "pascal", "inhg"), STANDARD_ATMOSPHERE)
def test_pressure_is_that_of_the_standard_atmosphere(feet: int, pascal: float, inhg: float) -> None:
    """Both unit systems give the table's pressure, to the last figure printed there."""
    assert standard_pressure_inhg(feet) == pytest.approx(inhg, abs=1e-4)
    assert standard_pressure_kpa(feet * 0.3048) * 1000 == pytest.approx(pascal, abs=0.1)


@pytest.mark.parametrize("metres", [-300, 0, 250, 1000, 1609, 2500, 4000, 8000])
def test_pressure_agrees_with_two_libraries(metres: int) -> None:
    """`ambiance` and `fluids`, which take surveyed heights, give the same pressure."""
    surveyed = EARTH_RADIUS_M * metres / (EARTH_RADIUS_M - metres)
    ours = standard_pressure_kpa(metres) * 1000
    assert ours == pytest.approx(float(ambiance.Atmosphere(surveyed).pressure[0]), rel=2e-6)
    assert ours == pytest.approx(fluids.ATMOSPHERE_1976(surveyed).P, rel=2e-6)


def test_constants_of_both_unit_systems_are_one_atmosphere() -> None:
    """The feet and metre constants describe the same curve, drawn from the standard's own figures."""
    assert convert(SEA_LEVEL_KPA, "kPa", "inHg") == pytest.approx(SEA_LEVEL_INHG, abs=1e-5)
    assert convert(ELEVATION_SCALE_FT, "ft", "m") == pytest.approx(ELEVATION_SCALE_M, abs=0.1)
    constants = ambiance.CONST
    assert pytest.approx(constants.T_0 / 0.0065, abs=0.01) == ELEVATION_SCALE_M
    assert pytest.approx(constants.g_0 / (constants.R * 0.0065), abs=5e-6) == EXPONENT


@pytest.mark.parametrize("thousands_of_feet", range(1, 6))
def test_one_inch_for_a_thousand_feet_is_near_the_standard(thousands_of_feet: int) -> None:
    """The rule of US Army Ordnance course OD1001, p. 87 (5000 ft: 5 inHg less) is within 0.11 inHg of it."""
    fall = SEA_LEVEL_INHG - standard_pressure_inhg(1000 * thousands_of_feet)
    assert fall == pytest.approx(thousands_of_feet, abs=0.11)
    assert fall > thousands_of_feet


@given(low=st.floats(-1500, 16000), rise=st.floats(1, 1000))
def test_higher_is_always_thinner(low: float, rise: float) -> None:
    """Pressure falls with every foot of height."""
    assert standard_pressure_inhg(low + rise) < standard_pressure_inhg(low)


@given(feet=st.floats(-1500, 16000))
def test_feet_and_metres_agree(feet: float) -> None:
    """A shop's pressure does not depend on the unit system of its workbook."""
    metric = convert(standard_pressure_kpa(convert(feet, "ft", "m")), "kPa", "inHg")
    assert standard_pressure_inhg(feet) == pytest.approx(metric, rel=1e-6)


@pytest.mark.parametrize("metres", [-5001, 11001, 60000])
def test_heights_outside_the_layer_are_refused(metres: int) -> None:
    """Above 11 000 m and far below the sea the formula does not hold, and says so."""
    with pytest.raises(ValueError, match="holds from -5000 m to 11000 m"):
        standard_pressure_kpa(metres)
    with pytest.raises(ValueError, match="holds from -5000 m to 11000 m"):
        standard_pressure_inhg(convert(metres, "m", "ft"))
