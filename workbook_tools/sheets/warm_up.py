"""Sheet Warm-up: is the engine warm, oiled and turned fast enough for any other reading to mean something?"""

from __future__ import annotations

from workbook_tools.language.expressions import word, yes_or_no
from workbook_tools.language.measures import OIL_PRESSURE, SPEED, TEMPERATURE, VOLTAGE
from workbook_tools.language.model import Block, Field, Limits, Result, Sheet

WARM_UP = Sheet(
    name="Warm-up",
    purpose="Warm the engine up, then write down what you read: cold readings prove nothing.",
    cost="15 minutes; thermometer, oil pressure gauge, tachometer, voltmeter",
    parts=(
        Block(
            "Engine warm, at idle",
            (
                Field(
                    "coolant_temperature",
                    "Coolant temperature",
                    measure=TEMPERATURE,
                    low=-20,
                    high=280,
                    limits=Limits(
                        "spec_operating_temp_min", "spec_operating_temp_max", asked="coolant_asked"
                    ),
                ),
                Result(
                    "coolant_asked",
                    "Coolant asked for",
                    yes_or_no(word("cooling") != "air"),
                    working=True,
                ),
                Field(
                    "oil_pressure",
                    "Oil pressure",
                    measure=OIL_PRESSURE,
                    low=0,
                    high=150,
                    limits=Limits("spec_oil_pressure_min"),
                    help="hot, at idle; stop the engine if it is low",
                ),
                Field(
                    "idle_speed",
                    "Idle speed",
                    measure=SPEED,
                    low=150,
                    high=3000,
                    limits=Limits("spec_idle_speed_min", "spec_idle_speed_max"),
                ),
            ),
            cautions=("running engine", "exhaust gas", "hot parts"),
        ),
        Block(
            "Battery and starter",
            (
                Field(
                    "battery_rest",
                    "Battery at rest",
                    measure=VOLTAGE,
                    low=0,
                    high=32,
                    help="engine and lights off",
                    quantity="battery",
                ),
                Field(
                    "battery_cranking",
                    "Battery while cranking",
                    measure=VOLTAGE,
                    low=0,
                    high=32,
                    limits=Limits("cranking_voltage_min"),
                    help="ignition disabled",
                ),
                Field(
                    "cranking_speed",
                    "Cranking speed",
                    measure=SPEED,
                    low=0,
                    high=600,
                    limits=Limits("spec_cranking_speed_min"),
                ),
            ),
            cautions=("battery", "running engine"),
        ),
        Block(
            "Air cleaner",
            (
                Field(
                    "air_cleaner",
                    "Air cleaner",
                    "choice",
                    choices=("clean", "dirty", "blocked", "missing"),
                    help="look before any vacuum reading",
                    sound=("clean",),
                ),
            ),
        ),
    ),
)
