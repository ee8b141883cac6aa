"""Sheet Engine: what the engine is and the limits it is judged by, and those limits moved to the site."""

from __future__ import annotations

from workbook_tools.language.expressions import (
    constant,
    largest,
    number,
    table,
)
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
from workbook_tools.language.model import Block, Field, Measure, Result, Sheet, Table

PRACTICE_HELP = "common practice {default} where the manual is silent"


station, sea_level = number("station_pressure"), constant("sea_level_pressure")
fall, share = number("pressure_fall"), number("pressure_share")


def less_the_fall(name: str, label: str, spec: str) -> Result:
    """A steady-idle vacuum limit at the site: about 1 inHg less for each 1000 ft (common practice)."""
    return Result(name, label, (number(spec) - fall).round(2), VACUUM)


def times_the_share(name: str, label: str, spec: str, measure: Measure) -> Result:
    """A limit that is proportional to station pressure: cranking vacuum, compression."""
    return Result(name, label, (number(spec) * share).round(2), measure)


timing, tolerance = number("spec_timing"), number("spec_timing_tolerance").or_zero
ratio, closing, rod = number("compression_ratio"), number("intake_closing"), number("rod_to_crank")
twice_rod_over_stroke = 2 * number("rod_length") / number("stroke")
#: Piston travel from intake closing on, in crank radii (slider-crank: Heywood eq. 2.6).
travel = rod + 1 - (180 + closing).cos() - (rod**2 - (180 + closing).sin() ** 2).sqrt()
effective = number("effective_ratio")
specified = number("spec_compression_min").known | number("spec_compression_max").known
polytropic = station * constant("psi_per_pressure") * (effective ** constant("cranking_exponent") - 1)

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
                    help="manual, edition and page",
                    wide=True,
                ),
                Field(
                    "cylinder_count",
                    "Cylinders",
                    "whole",
                    low=1,
                    high=16,
                    locked=True,
                    help="set when the form was made",
                ),
                Field(
                    "cylinder_banks",
                    "Banks, front to rear",
                    "text",
                    locked=True,
                    help="set when the form was made; neighbours on a bank share a gasket land",
                    wide=True,
                ),
                Field(
                    "firing_order",
                    "Firing order",
                    "text",
                    help="as the engine fires; many fours: 1-3-4-2",
                    wide=True,
                ),
                Field(
                    "ignition_type", "Ignition", "choice", choices=("contact points", "electronic", "magneto")
                ),
                Field(
                    "cooling",
                    "Cooling",
                    "choice",
                    choices=("liquid", "air"),
                    default="liquid",
                    help="air: no coolant temperature is asked for",
                ),
                Field(
                    "fuel_feed",
                    "Fuel feed",
                    "choice",
                    choices=("pump", "gravity"),
                    default="pump",
                    help="gravity: delivery is measured, not pressure",
                ),
                Field(
                    "system_voltage",
                    "System voltage",
                    "choice",
                    choices=("6", "12", "24"),
                    default="12",
                    help="V",
                ),
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
                    help=PRACTICE_HELP,
                ),
                Field(
                    "spec_lowest_percent",
                    "Lowest as a share of the highest",
                    measure=PERCENT,
                    low=50,
                    high=100,
                    default=75,
                    help=PRACTICE_HELP,
                ),
                Field(
                    "spec_leakdown_max",
                    "Leak-down, highest",
                    measure=PERCENT,
                    low=1,
                    high=60,
                    default=25,
                    help="{default}: FAA AC 43.13-1B; many shops use less",
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
                    help="at sea level; " + PRACTICE_HELP,
                ),
                Field(
                    "spec_idle_vacuum_max",
                    "Steady idle vacuum, highest",
                    measure=VACUUM,
                    low=5,
                    high=28,
                    default=21,
                    default_metric=71,
                    help="at sea level; " + PRACTICE_HELP,
                ),
                Field(
                    "spec_cranking_vacuum_min",
                    "Cranking vacuum, lowest",
                    measure=VACUUM,
                    low=1,
                    high=25,
                    default=15,
                    default_metric=51,
                    help="throttle closed, at sea level; " + PRACTICE_HELP,
                ),
                Field("spec_idle_speed_min", "Idle speed, lowest", measure=SPEED, low=200, high=2000),
                Field("spec_idle_speed_max", "Idle speed, highest", measure=SPEED, low=200, high=2500),
            ),
        ),
        Block(
            "Warm-up and starter",
            (
                Field(
                    "spec_operating_temp_min",
                    "Working temperature, lowest",
                    measure=TEMPERATURE,
                    low=100,
                    high=260,
                ),
                Field(
                    "spec_operating_temp_max",
                    "Working temperature, highest",
                    measure=TEMPERATURE,
                    low=120,
                    high=300,
                ),
                Field(
                    "spec_oil_pressure_min",
                    "Oil pressure, lowest",
                    measure=OIL_PRESSURE,
                    low=2,
                    high=120,
                    help="hot, at idle",
                ),
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
                Field(
                    "spec_timing_tolerance", "Timing tolerance", measure=ANGLE, low=0.5, high=10, default=2
                ),
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
                    help="at the carburettor; " + PRACTICE_HELP,
                ),
                Field(
                    "spec_fuel_pressure_max",
                    "Fuel pressure, highest",
                    measure=FUEL_PRESSURE,
                    low=0.5,
                    high=15,
                    default=3.5,
                    default_metric=24,
                    help=PRACTICE_HELP,
                ),
                Field(
                    "spec_fuel_delivery_min",
                    "Fuel delivery, lowest",
                    measure=DELIVERY,
                    low=0.1,
                    high=10,
                    help="free flow",
                ),
                Field(
                    "spec_backpressure_max",
                    "Exhaust back-pressure, highest",
                    measure=FUEL_PRESSURE,
                    low=0.2,
                    high=10,
                    default=3,
                    default_metric=21,
                    help="at the running-speed check; common practice {default}",
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
                    largest(0, sea_level - station).where(station.known),
                    BAROMETER,
                ),
                Result(
                    "pressure_share",
                    "Pressure as a share of sea level's",
                    station / sea_level,
                    NONE,
                    percent=True,
                ),
                less_the_fall(
                    "site_idle_vacuum_min", "Steady idle vacuum, lowest here", "spec_idle_vacuum_min"
                ),
                less_the_fall(
                    "site_idle_vacuum_max", "Steady idle vacuum, highest here", "spec_idle_vacuum_max"
                ),
                times_the_share(
                    "site_cranking_vacuum_min",
                    "Cranking vacuum, lowest here",
                    "spec_cranking_vacuum_min",
                    VACUUM,
                ),
                times_the_share(
                    "site_compression_min", "Compression, lowest here", "spec_compression_min", COMPRESSION
                ),
                times_the_share(
                    "site_compression_max", "Compression, highest here", "spec_compression_max", COMPRESSION
                ),
                Result("timing_low", "Timing, latest allowed", timing - tolerance, TIMING),
                Result("timing_high", "Timing, earliest allowed", timing + tolerance, TIMING),
                Result(
                    "cranking_voltage_min",
                    "Battery while cranking, lowest",
                    (constant("cranking_voltage_share") * number("system_voltage")).round(2),
                    VOLTAGE,
                    help="V; 0.8 of the nominal (from memory)",
                ),
                Result(
                    "rod_to_crank",
                    "Rod length over crank radius",
                    twice_rod_over_stroke.where((number("stroke") > 0) & (twice_rod_over_stroke > 1)),
                    RATIO,
                ),
                Result(
                    "effective_ratio",
                    "Compression ratio from intake closing",
                    table((closing.known & rod.known, 1 + (ratio - 1) / 2 * travel), otherwise=ratio),
                    RATIO,
                ),
                Result(
                    "expected_compression",
                    "Expected compression, an estimate",
                    polytropic.round(1).where(~specified & (effective > 0)),
                    COMPRESSION,
                    help="polytropic; shown only where no compression figure is given; never makes a cylinder low by itself",
                ),
            ),
            what_to_do="Worked out from the figures above and the station pressure on sheet Job.",
        ),
    ),
)
