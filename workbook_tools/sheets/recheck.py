"""Sheet Recheck: the readings that decided, taken again after the repair, and a timed pull before and
after.

What the timed pull gives is worked out in `pull_results.py`.
"""

from __future__ import annotations

from dataclasses import replace

from workbook_tools.language.measures import (
    BAROMETER,
    COMPRESSION,
    DELIVERY,
    MASS,
    ROAD_SPEED,
    SECONDS,
    TEMPERATURE,
)
from workbook_tools.language.model import Block, Chart, Field, Limits, Line, Notes, Sheet, Table
from workbook_tools.sheets import after_results, pull_results
from workbook_tools.sheets.compression import COMPRESSION_SHEET
from workbook_tools.sheets.fuel_and_air import (
    FUEL_AND_AIR,
)
from workbook_tools.sheets.ignition import IGNITION
from workbook_tools.sheets.pull_results import PULL_RUNS
from workbook_tools.sheets.vacuum import VACUUM_SHEET
from workbook_tools.sheets.warm_up import WARM_UP

ASKED = {
    item.name: item
    for sheet in (WARM_UP, VACUUM_SHEET, COMPRESSION_SHEET, IGNITION, FUEL_AND_AIR)
    for part in sheet.parts
    if isinstance(part, (Block, Table))
    for item in part.items
    if isinstance(item, Field)
}


#: Names of what is taken again after a repair begin so.
AFTER = "after_"
#: The reading before the repair, where it is not called as the one after it.
BEFORE = {"after_compression": "compression_dry"}


def is_taken_again(name: str) -> bool:
    """Whether an item is of the time after the repair."""
    return name.startswith(AFTER)


def before_of(name: str) -> str:
    """The reading before the repair of one that was taken again: `timing` of `after_timing`."""
    return BEFORE.get(name, name.removeprefix(AFTER))


def again(name: str, label: str = "", **changes: object) -> Field:
    """The field of a reading to be taken again after the repair: the same in all but its name."""
    field = ASKED[name]
    after = next((each for each, before in BEFORE.items() if before == name), AFTER + name)
    return replace(field, name=after, label=label or field.label, help="", **changes)  # type: ignore[arg-type]


RECHECK = Sheet(
    name="Recheck",
    purpose="Take the readings again that showed the fault: a repair is proven by them and by nothing else.",
    cost="as long as the tests that are repeated; the same gauges as before",
    parts=(
        Block(
            "Engine warm again",
            (
                again("coolant_temperature"),
                again("oil_pressure"),
                again("cranking_speed"),
                again("idle_vacuum_low"),
                again("idle_vacuum_high"),
                again("needle"),
                *after_results.IDLE,
            ),
            cautions=("running engine", "exhaust gas", "hot parts"),
        ),
        Table(
            "Compression and leak-down again",
            per="cylinder",
            row_label="Cylinder",
            columns=(
                again("compression_dry", "Dry", limits=after_results.COMPRESSION_LIMITS),
                again("leakdown"),
                *after_results.LAST,
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
                again("point_gap"),
                again("dwell"),
                again("timing"),
                again("spark"),
            ),
            cautions=("running engine", "high voltage"),
        ),
        Block(
            "Fuel and air again",
            (
                again("cranking_vacuum"),
                again("running_vacuum", label="Vacuum at running speed"),
                again("fuel_pressure"),
                Field(
                    "after_fuel_delivery_rate",
                    "Fuel delivery",
                    measure=DELIVERY,
                    low=0.1,
                    high=10,
                    limits=Limits("spec_fuel_delivery_min"),
                ),
                again("backpressure"),
            ),
            cautions=("running engine", "fuel"),
        ),
        Block(
            "Exhaust gas again, raised speed",
            (
                *(again(name, per="job") for name in ("gas_speed", "gas_co", "gas_co2", "gas_hc", "gas_o2")),
                *after_results.GAS,
            ),
            cautions=("exhaust gas", "running engine"),
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

#: How each item of the sheet repeats, by name.
PER_AGAIN = {
    item.name: item.per for part in RECHECK.parts if isinstance(part, (Block, Table)) for item in part.items
}
#: Readings taken again that are words, with the word of a sound engine.
SOUND_WORDS = {
    item.name: item.sound[0]
    for part in RECHECK.parts
    if isinstance(part, (Block, Table))
    for item in part.items
    if isinstance(item, Field) and item.sound
}
