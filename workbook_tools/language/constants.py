"""Every figure of the judging rules that is not a shop's own specification, written down once, in both unit systems.

Formulas take these by name in braces (`{rings_share}`), Python through `Values.constant`, docs print this table.
`practice` means common practice, with no published source.
"""

from __future__ import annotations

from dataclasses import dataclass

from workbook_tools.language.measures import (
    ANGLE,
    COMPRESSION,
    NONE,
    OIL_PRESSURE,
    PARTS_PER_MILLION,
    RATIO,
    TEMPERATURE,
    VACUUM,
    VOLUME_SHARE,
)
from workbook_tools.language.model import Measure, UnitSystem
from workbook_tools.science import atmosphere, engine_geometry, exhaust_gas, road_power
from workbook_tools.science.units import conversion_factor

PRACTICE = "common practice, no source"


@dataclass(frozen=True)
class Constant:
    """A figure in US and metric units, what it means and where it comes from."""

    us: float
    metric: float
    meaning: str
    source: str = PRACTICE
    #: Its unit in prose, where it has one.
    measure: Measure = NONE
    #: Said in words in prose: half, a fifth, four.
    spoken: bool = False

    def value(self, units: UnitSystem) -> float:
        """The figure in that unit system."""
        return self.us if units == "us" else self.metric


def same(
    figure: float, meaning: str, source: str = PRACTICE, measure: Measure = NONE, spoken: bool = False
) -> Constant:
    """A figure without a unit, or with the same unit in both systems."""
    return Constant(figure, figure, meaning, source, measure, spoken)


STANDARD_ATMOSPHERE = "U.S. Standard Atmosphere 1976"
OD1001 = "US Army OD1001, vacuum lesson, p. 87"
BRETTSCHNEIDER = "J. Brettschneider, Technische Berichte 6 (1979); constants from memory"
J1349 = "SAE J1349 (2004 and later), naturally aspirated"

CONSTANTS: dict[str, Constant] = {
    "sea_level_pressure": Constant(
        atmosphere.SEA_LEVEL_INHG,
        atmosphere.SEA_LEVEL_KPA,
        "standard pressure at sea level, inHg or kPa",
        STANDARD_ATMOSPHERE,
    ),
    "elevation_scale": Constant(
        atmosphere.ELEVATION_SCALE_FT,
        atmosphere.ELEVATION_SCALE_M,
        "elevation scale of the standard atmosphere",
        STANDARD_ATMOSPHERE,
    ),
    "pressure_exponent": same(
        atmosphere.EXPONENT, "pressure exponent of the standard atmosphere", STANDARD_ATMOSPHERE
    ),
    "barometer_conflict": Constant(
        1.5, 5.0, "barometer and elevation further apart than this can't both be right, inHg or kPa"
    ),
    "psi_per_pressure": Constant(
        0.4911540775,
        1.0,
        "gauge pressure unit in one station pressure unit (psi in an inHg; kPa in a kPa)",
        "NIST SP 811",
    ),
    "cranking_exponent": same(
        engine_geometry.CRANKING_EXPONENT,
        "polytropic exponent of the expected cranking pressure",
        "between 1.2 and 1.3 for cranking; an estimate",
    ),
    "near_share": same(0.1, "inside a limit by less than this share of the allowed width is near it"),
    "near_one_limit": same(0.03, "inside an only limit by less than this share of it is near it"),
    "near_temperature": Constant(
        5, 3, "a temperature inside an only limit by less than this is near it", measure=TEMPERATURE
    ),
    "equal_neighbours": Constant(
        10, 70, "two neighbours within this of each other are equally low, psi or kPa", measure=COMPRESSION
    ),
    "small_shortfall": Constant(
        15,
        100,
        "a verdict on a smaller shortfall stays possible: rounding of the gauge decides it, psi or kPa",
        measure=COMPRESSION,
    ),
    "rings_share": same(0.5, "wet gain share from which oil has sealed the rings", spoken=True),
    "valve_share": same(0.2, "wet gain share below which oil has changed little", spoken=True),
    "usual_gain_share": same(
        0.1,
        "most that oil raises a sound cylinder, as a share of the good level, where none was re-tested",
        spoken=True,
    ),
    "least_strokes": same(
        4,
        "compression strokes of a valid test",
        "TM 1-1500-204-23-1: at least 4 revolutions; practice",
        spoken=True,
    ),
    "builds_up_share": same(
        0.6,
        "first stroke under this share of the final reading builds up over the strokes; else it stays low",
    ),
    "steady_swing": Constant(
        1.0, 3.4, "a needle swinging wider than this is not steady, inHg or kPa", measure=VACUUM
    ),
    "very_low_share": same(0.6, "steady below this share of the site's minimum is very low", spoken=True),
    "weak_drop_share": same(0.5, "a cylinder whose speed drop is under this share of the sound ones is weak"),
    "cranking_voltage_share": same(
        0.8, "least battery voltage while cranking, as a share of the nominal", "from memory"
    ),
    "same_vacuum": Constant(
        1.0, 3.4, "two vacuum readings within this are the same, inHg or kPa", measure=VACUUM
    ),
    "lambda_lean": same(1.05, "running mixture leaner than this is lean", measure=RATIO),
    "lambda_rich": same(0.90, "running mixture richer than this is rich", measure=RATIO),
    "snap_low": Constant(
        1.0, 3.4, "snapped throttle: falling to this or less supports rings, inHg or kPa", measure=VACUUM
    ),
    "snap_high": Constant(
        22.0,
        74.5,
        "snapped throttle: rising to less than this (less the site's shift) supports rings, inHg or kPa",
        measure=VACUUM,
    ),
    "snap_sound_low": Constant(
        2, 7, "a sound engine falls to about this when the throttle is snapped open", OD1001, measure=VACUUM
    ),
    "snap_sound_high": Constant(
        25, 85, "and rises to about this when it is let close", OD1001, measure=VACUUM
    ),
    "held_fall": Constant(
        1.0,
        3.4,
        "vacuum falling by more than this at held speed falls slowly while held, inHg or kPa",
        measure=VACUUM,
    ),
    "crank_per_dwell": same(
        1.0, "crank degrees that the spark comes later for one degree more dwell", "geometry of cam and crank"
    ),
    "timing_speed_margin": same(
        100.0,
        "timing read faster than its specified speed by more than this, in rpm: the advance may have begun",
    ),
    "full_turn": same(360.0, "degrees of a distributor turn, shared among the cylinders", "geometry"),
    "misfire_hc": same(
        600.0,
        "hydrocarbons over this, as hexane in ppm, with oxygen over its own figure are unburned charges",
        measure=PARTS_PER_MILLION,
    ),
    "misfire_o2": same(
        2.0,
        "oxygen over this, in % vol, with hydrocarbons over their own figure: unburned charges",
        measure=VOLUME_SHARE,
    ),
    "air_co": same(
        0.5,
        "CO over this, in % vol, with oxygen over its own figure: air in the exhaust",
        measure=VOLUME_SHARE,
    ),
    "air_o2": same(
        2.5,
        "oxygen over this, in % vol, with CO over its own figure: air in the exhaust",
        measure=VOLUME_SHARE,
    ),
    "slipped_mark": same(
        8.0, "degrees too early, with a low vacuum, from which the timing mark is doubted", measure=ANGLE
    ),
    "large_leak": same(3.0, "a leak of so many times the others' median stands out", spoken=True),
    "half_of_limit": same(
        0.5, "share of the leak-down limit from which a leak that stands out counts", spoken=True
    ),
    "warm_low": Constant(
        160, 71, "coolant from this on counts as warm where no figure is given", measure=TEMPERATURE
    ),
    "hot_high": Constant(
        230, 110, "coolant over this stops all running tests, figures or not", measure=TEMPERATURE
    ),
    "oil_stop": Constant(
        4, 28, "oil pressure under this stops all running tests, figures or not", measure=OIL_PRESSURE
    ),
    "water_gas": same(
        exhaust_gas.WATER_GAS_CONSTANT,
        "water-gas equilibrium constant of the lambda equation",
        BRETTSCHNEIDER,
    ),
    "h_per_c": same(
        exhaust_gas.H_PER_C, "hydrogen to carbon of gasoline, where none is given", BRETTSCHNEIDER
    ),
    "o_per_c": same(exhaust_gas.O_PER_C, "oxygen to carbon of gasoline, where none is given", BRETTSCHNEIDER),
    "ppm_per_percent": same(exhaust_gas.PPM_PER_PERCENT, "ppm in one % vol", "definition"),
    "whole_carbon": same(
        exhaust_gas.STOICHIOMETRIC_CARBON_SUM,
        "CO + CO2 of complete combustion at lambda 1, % vol",
        "carbon balance",
    ),
    "air_oxygen": same(exhaust_gas.OXYGEN_IN_AIR, "oxygen in dry air, % vol", STANDARD_ATMOSPHERE),
    "least_balance": same(
        exhaust_gas.LEAST_BALANCE, "a smaller gas balance is no exhaust", "5490 roadworthiness records"
    ),
    "most_shifted_balance": same(
        exhaust_gas.MOST_SHIFTED_BALANCE, "a shifted point is believed up to this gas balance"
    ),
    "least_carbon": same(
        exhaust_gas.LEAST_CARBON_SUM,
        "CO + CO2 under this, % vol: the sample is thinned with air",
        measure=VOLUME_SHARE,
    ),
    "most_carbon": same(
        exhaust_gas.MOST_CARBON_SUM,
        "CO + CO2 over this, % vol: no gasoline exhaust holds it",
        "carbon balance",
        measure=VOLUME_SHARE,
    ),
    "pull_power": Constant(
        road_power.HP_PER_LB_MPH2_PER_S,
        road_power.KW_PER_KG_KMH2_PER_S,
        "power of a unit of mass gaining a unit of speed squared in a second, hp or kW",
        "NIST SP 811",
    ),
    "kpa_per_pressure": Constant(
        conversion_factor("inHg", "kPa"), 1.0, "kPa in one unit of station pressure", "NIST SP 811"
    ),
    "kelvin_per_degree": Constant(5 / 9, 1.0, "kelvins in one degree of air temperature", "NIST SP 811"),
    "kelvin_at_zero": Constant(
        459.67 * 5 / 9, road_power.ZERO_CELSIUS_K, "0 degrees of air temperature in kelvins", "NIST SP 811"
    ),
    "reference_pressure": same(
        road_power.J1349_DRY_PRESSURE_KPA, "dry pressure of the reference air, kPa", J1349
    ),
    "reference_temperature": same(
        road_power.J1349_TEMPERATURE_K, "temperature of the reference air, K", J1349
    ),
    "mechanical_efficiency": same(
        road_power.J1349_MECHANICAL_EFFICIENCY, "mechanical efficiency in the power correction", J1349
    ),
    "least_factor": same(
        road_power.LEAST_TRUSTED_FACTOR,
        "a smaller power correction factor extrapolates",
        "ISO 1585, from memory",
    ),
    "most_factor": same(
        road_power.MOST_TRUSTED_FACTOR,
        "a larger power correction factor extrapolates",
        "ISO 1585, from memory",
    ),
}
