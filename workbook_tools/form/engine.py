"""Sheet Engine: what the engine is and the limits it is judged by, and those limits moved to the site."""

from __future__ import annotations

import math

from workbook_tools.language.measures import (
    ANGLE,
    BAROMETER,
    COMPRESSION,
    DELIVERY,
    DISPLACEMENT,
    FUEL_PRESSURE,
    GAP,
    LENGTH,
    NONE,
    OIL_PRESSURE,
    PERCENT,
    RATIO,
    SPEED,
    TEMPERATURE,
    TIMING,
    VACUUM,
    VOLTAGE,
)
from workbook_tools.language.model import Block, Field, Measure, Result, Sheet, Table, Value
from workbook_tools.language.values import Values
from workbook_tools.science.sheet_math import sheet_round

PRACTICE_HELP = "common practice {figure} where the manual is silent"


def pressure_fall(v: Values, _: int | None) -> Value:
    """Fall of station pressure below the standard at sea level, 0 where it is above."""
    station = v.number("station_pressure")
    return None if station is None else max(0.0, v.constant("sea_level_pressure") - station)


def pressure_share(v: Values, _: int | None) -> Value:
    """Station pressure as a share of the standard at sea level."""
    station = v.number("station_pressure")
    return None if station is None else station / v.constant("sea_level_pressure")


def less_the_fall(name: str, label: str, spec: str) -> Result:
    """A steady-idle vacuum limit at the site: about 1 inHg less for each 1000 ft (common practice)."""

    def compute(v: Values, _: int | None) -> Value:
        limit, fall = v.number(spec), v.number("pressure_fall")
        return None if limit is None or fall is None else sheet_round(limit - fall, 2)

    return Result(name, label, f'=IF(COUNT({spec},pressure_fall)<2,"",ROUND({spec}-pressure_fall,2))', compute, VACUUM)


def times_the_share(name: str, label: str, spec: str, measure: Measure) -> Result:
    """A limit that is proportional to station pressure: cranking vacuum, compression."""

    def compute(v: Values, _: int | None) -> Value:
        limit, share = v.number(spec), v.number("pressure_share")
        return None if limit is None or share is None else sheet_round(limit * share, 2)

    formula = f'=IF(COUNT({spec},pressure_share)<2,"",ROUND({spec}*pressure_share,2))'
    return Result(name, label, formula, compute, measure)


def rod_to_crank(v: Values, _: int | None) -> Value:
    """Rod length over crank radius; blank where the rod would be no longer than the crank."""
    rod, stroke = v.number("rod_length"), v.number("stroke")
    if rod is None or stroke is None or stroke <= 0 or 2 * rod / stroke <= 1:
        return None
    return 2 * rod / stroke


def effective_ratio(v: Values, _: int | None) -> Value:
    """Compression ratio from intake closing on: slider-crank volume (Heywood eq. 2.6), else the geometric ratio."""
    ratio, closing, rod = v.number("compression_ratio"), v.number("intake_closing"), v.number("rod_to_crank")
    if ratio is None or closing is None or rod is None:
        return ratio
    angle = math.radians(180 + closing)
    travel = rod + 1 - math.cos(angle) - math.sqrt(rod**2 - math.sin(angle) ** 2)
    return 1 + (ratio - 1) / 2 * travel


def expected_compression(v: Values, _: int | None) -> Value:
    """Cranking pressure expected from the ratio where the shop has no figure: an estimate, never a limit."""
    ratio, station = v.number("effective_ratio"), v.number("station_pressure")
    specified = v.number("spec_compression_min") is not None or v.number("spec_compression_max") is not None
    if ratio is None or station is None or specified:
        return None
    rise = ratio ** v.constant("cranking_exponent") - 1
    return sheet_round(station * v.constant("psi_per_pressure") * rise, 1)


def timing_limit(name: str, label: str, sign: str) -> Result:
    """Specified timing less or plus its tolerance."""

    def compute(v: Values, _: int | None) -> Value:
        timing, tolerance = v.number("spec_timing"), v.number("spec_timing_tolerance") or 0.0
        return None if timing is None else (timing - tolerance if sign == "-" else timing + tolerance)

    formula = f'=IF(COUNT(spec_timing)=0,"",spec_timing{sign}SUM(spec_timing_tolerance))'
    return Result(name, label, formula, compute, TIMING)


def cranking_voltage_min(v: Values, _: int | None) -> Value:
    """Least battery voltage while cranking: 0.8 of the nominal (from memory)."""
    nominal = v.number("system_voltage")
    return None if nominal is None else sheet_round(v.constant("cranking_voltage_share") * nominal, 2)


ENGINE = Sheet(
    name="Engine",
    purpose="Copy the engine's figures from its manual: every reading is judged by them.",
    cost="10 minutes with the manual; nothing to do where the form came from the specs book",
    parts=(
        Block(
            "Which engine",
            (
                Field("engine_name", "Engine name", "text", help="key into the shop's specs book", wide=True),
                Field(
                    "spec_source",
                    "Source of the figures",
                    "text",
                    help="manual, edition and page; blank means common practice",
                    wide=True,
                ),
                Field("cylinder_count", "Cylinders", "whole", low=1, high=16, locked=True, help="set when the form was made"),
                Field(
                    "cylinder_banks",
                    "Banks, front to rear",
                    "text",
                    locked=True,
                    help="set when the form was made; neighbours on a bank share a gasket land",
                    wide=True,
                ),
                Field("firing_order", "Firing order", "text", help="for example 1-3-4-2", wide=True),
                Field("ignition_type", "Ignition", "choice", choices=("contact points", "electronic", "magneto")),
                Field("system_voltage", "System voltage", "choice", choices=("6", "12", "24"), default="12", help="V"),
            ),
        ),
        Block(
            "Compression and leak-down, at sea level",
            (
                Field("spec_compression_min", "Compression, lowest", measure=COMPRESSION, low=30, high=300),
                Field("spec_compression_max", "Compression, highest", measure=COMPRESSION, low=30, high=300),
                Field(
                    "spec_compression_spread",
                    "Largest difference between cylinders",
                    measure=COMPRESSION,
                    low=1,
                    high=60,
                    default=10,
                    default_metric=70,
                    help=PRACTICE_HELP.format(figure="10 psi (70 kPa)"),
                ),
                Field(
                    "spec_lowest_percent",
                    "Lowest as a share of the highest",
                    measure=PERCENT,
                    low=50,
                    high=100,
                    default=75,
                    help=PRACTICE_HELP.format(figure="75 %"),
                ),
                Field(
                    "spec_leakdown_max",
                    "Leak-down, highest",
                    measure=PERCENT,
                    low=1,
                    high=60,
                    default=25,
                    help="25 %: FAA AC 43.13-1B; many shops use less",
                ),
            ),
        ),
        Block(
            "Vacuum and idle",
            (
                Field(
                    "spec_idle_vacuum_min",
                    "Steady idle vacuum, lowest",
                    measure=VACUUM,
                    low=5,
                    high=26,
                    default=18,
                    default_metric=61,
                    help="at sea level; " + PRACTICE_HELP.format(figure="18 to 21 inHg (61 to 71 kPa)"),
                ),
                Field(
                    "spec_idle_vacuum_max",
                    "Steady idle vacuum, highest",
                    measure=VACUUM,
                    low=5,
                    high=28,
                    default=21,
                    default_metric=71,
                ),
                Field(
                    "spec_cranking_vacuum_min",
                    "Cranking vacuum, lowest",
                    measure=VACUUM,
                    low=1,
                    high=25,
                    default=15,
                    default_metric=51,
                    help="throttle closed, at sea level; " + PRACTICE_HELP.format(figure="15 inHg (51 kPa)"),
                ),
                Field("spec_idle_speed_min", "Idle speed, lowest", measure=SPEED, low=200, high=2000),
                Field("spec_idle_speed_max", "Idle speed, highest", measure=SPEED, low=200, high=2500),
            ),
        ),
        Block(
            "Warm-up and starter",
            (
                Field("spec_operating_temp_min", "Working temperature, lowest", measure=TEMPERATURE, low=100, high=260),
                Field("spec_operating_temp_max", "Working temperature, highest", measure=TEMPERATURE, low=120, high=300),
                Field("spec_oil_pressure_min", "Oil pressure, lowest", measure=OIL_PRESSURE, low=2, high=120, help="hot, at idle"),
                Field("spec_cranking_speed_min", "Cranking speed, lowest", measure=SPEED, low=50, high=500),
            ),
        ),
        Block(
            "Ignition",
            (
                Field(
                    "spec_timing",
                    "Initial timing",
                    measure=TIMING,
                    low=-15,
                    high=40,
                    help="at the speed below; after top dead centre is negative",
                ),
                Field("spec_timing_speed", "Speed for the timing", measure=SPEED, low=200, high=2500),
                Field("spec_timing_tolerance", "Timing tolerance", measure=ANGLE, low=0.5, high=10, default=2),
                Field("spec_point_gap_min", "Point gap, lowest", measure=GAP, low=0.004, high=0.05),
                Field("spec_point_gap_max", "Point gap, highest", measure=GAP, low=0.004, high=0.05),
                Field("spec_dwell_min", "Dwell, lowest", measure=ANGLE, low=5, high=180),
                Field("spec_dwell_max", "Dwell, highest", measure=ANGLE, low=5, high=180),
                Field("spec_plug_gap_min", "Plug gap, lowest", measure=GAP, low=0.01, high=0.1),
                Field("spec_plug_gap_max", "Plug gap, highest", measure=GAP, low=0.01, high=0.1),
            ),
        ),
        Table(
            "Advance curve, vacuum line off",
            per=6,
            row_label="Point",
            what_to_do="Total advance that the manual gives, initial timing included, from the lowest speed up.",
            columns=(
                Field("spec_advance_speed", "Speed", measure=SPEED, per=6, low=300, high=7000),
                Field("spec_advance_min", "Least advance", measure=ANGLE, per=6, low=-5, high=60),
                Field("spec_advance_max", "Most advance", measure=ANGLE, per=6, low=-5, high=60),
            ),
        ),
        Block(
            "Fuel and exhaust",
            (
                Field(
                    "spec_fuel_pressure_min",
                    "Fuel pressure, lowest",
                    measure=FUEL_PRESSURE,
                    low=0.5,
                    high=15,
                    default=2.5,
                    default_metric=17,
                    help="at the carburettor; " + PRACTICE_HELP.format(figure="2.5 to 3.5 psi (17 to 24 kPa)"),
                ),
                Field(
                    "spec_fuel_pressure_max",
                    "Fuel pressure, highest",
                    measure=FUEL_PRESSURE,
                    low=0.5,
                    high=15,
                    default=3.5,
                    default_metric=24,
                ),
                Field("spec_fuel_delivery_min", "Fuel delivery, lowest", measure=DELIVERY, low=0.1, high=10, help="free flow"),
                Field(
                    "spec_backpressure_max",
                    "Exhaust back-pressure, highest",
                    measure=FUEL_PRESSURE,
                    low=0.2,
                    high=10,
                    default=3,
                    default_metric=21,
                    help="at the running-speed check; common practice",
                ),
            ),
        ),
        Block(
            "Dimensions, where no compression figure is known",
            (
                Field("displacement", "Displacement", measure=DISPLACEMENT, low=3, high=1500),
                Field("bore", "Bore", measure=LENGTH, low=1, high=8),
                Field("stroke", "Stroke", measure=LENGTH, low=1, high=9),
                Field("rod_length", "Rod length", measure=LENGTH, low=2, high=16, help="centre to centre"),
                Field("compression_ratio", "Compression ratio", measure=RATIO, low=3.5, high=16),
                Field(
                    "intake_closing",
                    "Intake valve closes",
                    measure=ANGLE,
                    low=0,
                    high=110,
                    help="crank degrees after bottom dead centre",
                ),
            ),
        ),
        Block(
            "Limits at this site",
            (
                Result(
                    "pressure_fall",
                    "Pressure below sea level's by",
                    "=MAX(0,{sea_level_pressure}-station_pressure)",
                    pressure_fall,
                    BAROMETER,
                ),
                Result(
                    "pressure_share",
                    "Pressure as a share of sea level's",
                    "=station_pressure/{sea_level_pressure}",
                    pressure_share,
                    NONE,
                    percent=True,
                ),
                less_the_fall("site_idle_vacuum_min", "Steady idle vacuum, lowest here", "spec_idle_vacuum_min"),
                less_the_fall("site_idle_vacuum_max", "Steady idle vacuum, highest here", "spec_idle_vacuum_max"),
                times_the_share("site_cranking_vacuum_min", "Cranking vacuum, lowest here", "spec_cranking_vacuum_min", VACUUM),
                times_the_share("site_compression_min", "Compression, lowest here", "spec_compression_min", COMPRESSION),
                times_the_share("site_compression_max", "Compression, highest here", "spec_compression_max", COMPRESSION),
                timing_limit("timing_low", "Timing, latest allowed", "-"),
                timing_limit("timing_high", "Timing, earliest allowed", "+"),
                Result(
                    "cranking_voltage_min",
                    "Battery while cranking, lowest",
                    '=IF(COUNT(system_voltage)=0,"",ROUND({cranking_voltage_share}*system_voltage,2))',
                    cranking_voltage_min,
                    VOLTAGE,
                    help="V; 0.8 of the nominal (from memory)",
                ),
                Result(
                    "rod_to_crank",
                    "Rod length over crank radius",
                    '=IF(COUNT(rod_length,stroke)<2,"",IF(stroke<=0,"",IF(2*rod_length/stroke<=1,"",2*rod_length/stroke)))',
                    rod_to_crank,
                    RATIO,
                ),
                Result(
                    "effective_ratio",
                    "Compression ratio from intake closing",
                    '=IF(COUNT(compression_ratio)=0,"",IF(COUNT(intake_closing,rod_to_crank)<2,compression_ratio,'
                    "1+(compression_ratio-1)/2*(rod_to_crank+1-COS(RADIANS(180+intake_closing))"
                    "-SQRT(rod_to_crank^2-SIN(RADIANS(180+intake_closing))^2))))",
                    effective_ratio,
                    RATIO,
                ),
                Result(
                    "expected_compression",
                    "Expected compression, an estimate",
                    '=IF(COUNT(spec_compression_min,spec_compression_max)>0,"",IF(COUNT(effective_ratio)=0,"",'
                    "ROUND(station_pressure*{psi_per_pressure}*(effective_ratio^{cranking_exponent}-1),1)))",
                    expected_compression,
                    COMPRESSION,
                    help="polytropic; shown only where no compression figure is given; never makes a cylinder low by itself",
                ),
            ),
            what_to_do="Worked out from the figures above and the station pressure on sheet Job.",
        ),
    ),
)
