"""Sheet Recheck: the readings that decided, taken again after the repair, and a timed pull before and
after.

What the timed pull gives is worked out in `pull_results.py`.
"""

from __future__ import annotations

from workbook_tools.language.measures import (
    ANGLE,
    BAROMETER,
    COMPRESSION,
    DELIVERY,
    FUEL_PRESSURE,
    GAP,
    MASS,
    PERCENT,
    ROAD_SPEED,
    SECONDS,
    TEMPERATURE,
    TIMING,
    VACUUM,
)
from workbook_tools.language.model import Block, Chart, Field, Limits, Line, Notes, Sheet, Table
from workbook_tools.sheets import after_results, pull_results
from workbook_tools.sheets.fuel_and_air import CRANKING_LIMITS, IDLE_LIMITS, PRESSURE_LIMITS, RUNNING_LIMITS
from workbook_tools.sheets.ignition_results import DWELL_LIMITS, GAP_LIMITS, TIMING_LIMITS
from workbook_tools.sheets.pull_results import PULL_RUNS
from workbook_tools.sheets.vacuum import NEEDLE

RECHECK = Sheet(
    name="Recheck",
    purpose="Take the readings again that showed the fault: a repair is proven by them and by nothing else.",
    cost="as long as the tests that are repeated; the same gauges as before",
    parts=(
        Block(
            "Engine warm again",
            (
                Field(
                    "after_coolant_temperature",
                    "Coolant temperature",
                    measure=TEMPERATURE,
                    low=-20,
                    high=280,
                    limits=Limits("spec_operating_temp_min", "spec_operating_temp_max"),
                ),
                Field(
                    "after_idle_vacuum_low",
                    "Needle, lowest point",
                    measure=VACUUM,
                    low=0,
                    high=29,
                    limits=IDLE_LIMITS,
                ),
                Field(
                    "after_idle_vacuum_high",
                    "Needle, highest point",
                    measure=VACUUM,
                    low=0,
                    high=29,
                    limits=IDLE_LIMITS,
                ),
                Field("after_needle", "What the needle does", "choice", choices=NEEDLE),
                *after_results.IDLE,
            ),
            cautions=("running engine", "exhaust gas", "hot parts"),
        ),
        Table(
            "Compression and leak-down again",
            per="cylinder",
            row_label="Cylinder",
            columns=(
                Field(
                    "after_compression",
                    "Dry",
                    measure=COMPRESSION,
                    per="cylinder",
                    low=0,
                    high=300,
                    limits=after_results.COMPRESSION_LIMITS,
                ),
                Field(
                    "after_leakdown",
                    "Leak-down",
                    measure=PERCENT,
                    per="cylinder",
                    low=0,
                    high=100,
                    limits=Limits(high="spec_leakdown_max"),
                ),
                after_results.GAUGED_LAST,
            ),
            what_to_do="The cylinders that were repaired; one left blank is compared as it was gauged before.",
            cautions=("cranking", "compressed air"),
        ),
        Block("All cylinders together", after_results.COMPRESSION_RESULTS),
        Chart(
            "Compression before and after",
            per="cylinder",
            bars=(Line("compression_dry", "before"), Line("after_compression", "after")),
            limits=(Line("site_compression_min", "lowest allowed", as_level=True),),
            x_title="Cylinder",
            y_title=COMPRESSION,
        ),
        Block(
            "Ignition again",
            (
                Field(
                    "after_point_gap",
                    "Point gap",
                    measure=GAP,
                    low=0.002,
                    high=0.06,
                    limits=GAP_LIMITS,
                ),
                Field("after_dwell", "Dwell", measure=ANGLE, low=2, high=180, limits=DWELL_LIMITS),
                Field("after_timing", "Timing", measure=TIMING, low=-40, high=60, limits=TIMING_LIMITS),
            ),
            cautions=("running engine", "high voltage"),
        ),
        Block(
            "Fuel and air again",
            (
                Field(
                    "after_cranking_vacuum",
                    "Cranking vacuum",
                    measure=VACUUM,
                    low=0,
                    high=29,
                    limits=CRANKING_LIMITS,
                ),
                Field(
                    "after_running_vacuum",
                    "Vacuum at running speed",
                    measure=VACUUM,
                    low=0,
                    high=29,
                    limits=RUNNING_LIMITS,
                ),
                Field(
                    "after_fuel_pressure",
                    "Fuel pressure",
                    measure=FUEL_PRESSURE,
                    low=0,
                    high=30,
                    limits=PRESSURE_LIMITS,
                ),
                Field(
                    "after_fuel_delivery_rate",
                    "Fuel delivery",
                    measure=DELIVERY,
                    low=0.1,
                    high=10,
                    limits=Limits("spec_fuel_delivery_min"),
                ),
            ),
            cautions=("running engine", "fuel"),
        ),
        Block(
            "Timed pull",
            (
                Field("pull_from_speed", "From this speed", measure=ROAD_SPEED, low=5, high=100),
                Field("pull_to_speed", "To this speed", measure=ROAD_SPEED, low=10, high=120),
                Field("pull_mass", "Mass", measure=MASS, low=500, high=80000),
                Field("pull_barometer_before", "Barometer, before", measure=BAROMETER, low=15, high=32),
                Field(
                    "pull_temperature_before",
                    "Air temperature, before",
                    measure=TEMPERATURE,
                    low=-40,
                    high=130,
                ),
                Field("pull_barometer_after", "Barometer, after", measure=BAROMETER, low=15, high=32),
                Field(
                    "pull_temperature_after", "Air temperature, after", measure=TEMPERATURE, low=-40, high=130
                ),
            ),
            what_to_do="Same place, same direction, same load, one fixed gear, full throttle; up to three "
            "runs before the repair and three after.",
            cautions=("road test",),
        ),
        Table(
            "Runs",
            per=PULL_RUNS,
            row_label="Run",
            columns=(
                Field("pull_seconds_before", "Before", measure=SECONDS, per=PULL_RUNS, low=1, high=200),
                Field("pull_seconds_after", "After", measure=SECONDS, per=PULL_RUNS, low=1, high=200),
                *pull_results.RUNS,
            ),
        ),
        Block("What the pulls show", pull_results.PULL),
        Notes(
            "What the pull leaves out",
            (
                "Drag and rolling resistance are not measured: the power is what sped the vehicle up, not "
                "what the engine gave. The air factor was made for full engine power; humidity is "
                "not asked for.",
            ),
        ),
        Block(
            "Released",
            (
                Field("released_by", "Released by", "text", wide=True),
                Field("released_on", "Released on", "date"),
            ),
        ),
    ),
)
