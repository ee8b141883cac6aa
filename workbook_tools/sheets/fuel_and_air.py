"""Sheet Fuel and air: intake, valve clearance, mixture, fuel pump, exhaust and exhaust gas, in that order.

What is worked out from the readings stands in `fuel_results.py` and `gas_results.py`; this module says what
is asked.
"""

from __future__ import annotations

from workbook_tools.language.measures import (
    ATOMS,
    FUEL_PRESSURE,
    PARTS_PER_MILLION,
    SECONDS,
    SPEED,
    VACUUM,
    VOLUME,
    VOLUME_SHARE,
)
from workbook_tools.language.model import ABSENT, Block, Field, Limits, Sheet, Table
from workbook_tools.sheets import fuel_results, gas_results
from workbook_tools.sheets.gas_results import GAS_POINTS

CRANKING_LIMITS = Limits("site_cranking_vacuum_min", tolerance="vacuum_gauge_tolerance")
RUNNING_LIMITS = Limits("site_idle_vacuum_min", tolerance="vacuum_gauge_tolerance")
IDLE_LIMITS = Limits("site_idle_vacuum_min", "site_idle_vacuum_max", "vacuum_gauge_tolerance")
PRESSURE_LIMITS = Limits(
    "spec_fuel_pressure_min", "spec_fuel_pressure_max", "fuel_gauge_tolerance", asked="pressure_asked"
)

FUEL_AND_AIR = Sheet(
    name="Fuel and air",
    purpose="Prove the intake tight and the fuel pressure right before mixture or carburettor is blamed.",
    cost="45 minutes; vacuum gauge, fuel pressure gauge, measuring can, watch, exhaust analyser",
    parts=(
        Block(
            "Cranking vacuum",
            (
                Field(
                    "cranking_vacuum",
                    "Cranking vacuum",
                    measure=VACUUM,
                    low=0,
                    high=29,
                    limits=CRANKING_LIMITS,
                    doubted_beyond=("site_cranking_vacuum_min", "site_idle_vacuum_max"),
                ),
                Field(
                    "cranking_vacuum_rise", "It rises", "choice", choices=("fast", "slow"), sound=("fast",)
                ),
                Field(
                    "cranking_vacuum_retest",
                    "Again, fastenings tightened",
                    measure=VACUUM,
                    low=0,
                    high=29,
                    limits=CRANKING_LIMITS,
                    doubted_beyond=("site_cranking_vacuum_min", "site_idle_vacuum_max"),
                ),
                *fuel_results.INTAKE,
            ),
            cautions=("running engine", "hot parts"),
            what_to_do="Ignition disabled, throttle and idle bypass shut: read while the starter turns the "
            "engine. Low: tighten the manifold fastenings, engine stopped, and read again.",
        ),
        Block(
            "Where air leaks in",
            (
                Field(
                    "hoses_pinched",
                    "Hoses pinched off one by one",
                    "choice",
                    choices=("no change", "vacuum came up"),
                    help="servo, crankcase ventilation, advance line; let each go again",
                    sound=("no change",),
                ),
                Field(
                    "carburettor_base_tested",
                    "Carburettor base and shaft",
                    "choice",
                    choices=("no change", "engine changed"),
                    help="base gasket and throttle shaft tested for air",
                    sound=("no change",),
                ),
                *fuel_results.WHERE,
            ),
            what_to_do="Only where the vacuum stays low with the fastenings tight: before anything is taken off.",
            needed=fuel_results.stays_low,
            cautions=("pinched servo hose", "spray", "running engine", "exhaust gas"),
        ),
        Block(
            "Valve clearance and heat riser",
            (
                Field(
                    "valve_clearance",
                    "Valve clearance",
                    "choice",
                    choices=("in limits", "too tight", "too wide", "not checked"),
                    sound=("in limits", "not checked"),
                ),
                Field(
                    "needle_after_valve_adjustment",
                    "Needle after adjusting",
                    "choice",
                    choices=("steady", "unchanged", "better", "not done"),
                    sound=("steady", "not done"),
                ),
                Field(
                    "heat_riser",
                    "Heat riser",
                    "choice",
                    choices=("free", "stuck", "burned through", ABSENT),
                    sound=("free", "not fitted"),
                ),
            ),
            what_to_do="Clearance before mixture: a valve that does not close lowers every vacuum reading.",
            cautions=("hot parts",),
        ),
        Block(
            "Idle mixture",
            (
                Field(
                    "mixture_best_vacuum",
                    "Highest steady vacuum",
                    measure=VACUUM,
                    low=0,
                    high=29,
                    limits=IDLE_LIMITS,
                ),
            ),
            what_to_do="Turn the mixture screw for the highest steady needle.",
            cautions=("running engine", "exhaust gas"),
        ),
        Block(
            "Running mixture",
            (
                Field("running_speed", "Running speed", measure=SPEED, low=800, high=5000),
                Field(
                    "running_vacuum",
                    "Vacuum at that speed",
                    measure=VACUUM,
                    low=0,
                    high=29,
                    limits=RUNNING_LIMITS,
                    doubted_beyond=("site_idle_vacuum_min", "site_idle_vacuum_max"),
                ),
                Field("running_vacuum_choked", "Vacuum with the choke drawn", measure=VACUUM, low=0, high=29),
                *fuel_results.RUNNING,
            ),
            what_to_do="Set and hold the throttle. Below normal: draw the choke slowly and watch "
            "whether the needle rises.",
            cautions=("running engine", "exhaust gas"),
        ),
        Block(
            "Fuel pump",
            (
                Field(
                    "fuel_pressure",
                    "Fuel pressure",
                    measure=FUEL_PRESSURE,
                    low=0,
                    high=30,
                    limits=PRESSURE_LIMITS,
                ),
                Field("fuel_delivery_volume", "Fuel delivered", measure=VOLUME, low=0, high=10),
                Field("fuel_delivery_time", "In this time", measure=SECONDS, low=1, high=600),
                *fuel_results.PUMP,
            ),
            what_to_do="Pressure first, gauge teed in at the carburettor; then pump into a can and time it.",
            cautions=("fuel", "running engine"),
        ),
        Block(
            "Exhaust",
            (
                Field(
                    "backpressure",
                    "Back-pressure",
                    measure=FUEL_PRESSURE,
                    low=0,
                    high=30,
                    limits=Limits(high="spec_backpressure_max"),
                    quantity="",
                ),
            ),
            what_to_do="Gauge in the exhaust before the muffler, engine at the running speed.",
            cautions=("lifting", "hot parts", "running engine", "exhaust gas"),
        ),
        Block(
            "Analyser and fuel",
            (
                Field(
                    "gas_hc_read_as",
                    "Hydrocarbons read as",
                    "choice",
                    choices=("hexane", "propane", "methane"),
                    default="hexane",
                ),
                Field(
                    "fuel_h_per_c",
                    "Hydrogen to carbon of the fuel",
                    measure=ATOMS,
                    low=0.1,
                    high=4.5,
                    default=1.7261,
                ),
                Field(
                    "fuel_o_per_c",
                    "Oxygen to carbon of the fuel",
                    measure=ATOMS,
                    low=0,
                    high=1.5,
                    default=0.0175,
                ),
                *gas_results.FUEL_CONSTANTS,
            ),
        ),
        Table(
            "Exhaust gas",
            per=GAS_POINTS,
            row_label="Point",
            what_to_do="Point 1 at idle, point 2 at raised speed, probe deep in the pipe, readings settled.",
            columns=(
                Field("gas_speed", "Speed", measure=SPEED, per=GAS_POINTS, low=300, high=8000),
                Field("gas_co", "CO", measure=VOLUME_SHARE, per=GAS_POINTS, low=0, high=15),
                Field("gas_co2", "CO2", measure=VOLUME_SHARE, per=GAS_POINTS, low=0, high=20),
                Field("gas_hc", "HC", measure=PARTS_PER_MILLION, per=GAS_POINTS, low=0, high=20000),
                Field("gas_o2", "O2", measure=VOLUME_SHARE, per=GAS_POINTS, low=-0.5, high=22),
                *gas_results.GAS,
            ),
            cautions=("exhaust gas", "running engine"),
        ),
    ),
)
