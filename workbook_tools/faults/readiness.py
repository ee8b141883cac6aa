"""Readiness: is the engine warm, oiled and turned fast enough, and was compression gauged as it must be?"""

from __future__ import annotations

from workbook_tools.faults.model import Bench, Cause, Sign
from workbook_tools.language.expressions import NO, YES, column, constant, either, number, word
from workbook_tools.language.model import CONFIRMED, POSSIBLE
from workbook_tools.sheets import compression_results as dry
from workbook_tools.sheets.readings import is_above, is_below, is_beyond, is_inside, is_out

coolant, asked = number("coolant_temperature"), word("coolant_asked") != NO
no_range = ~(number("spec_operating_temp_min").known | number("spec_operating_temp_max").known)
COOLER_THAN_USUAL = asked & no_range & (coolant < constant("warm_low"))
TOO_HOT = is_above("coolant_temperature") | (asked & (coolant > constant("hot_high")))
NO_OIL = number("oil_pressure") < constant("oil_stop")
COLD, OFF_SPEED = is_below("coolant_temperature"), is_out("idle_speed")
WARM_OR_HOTTER = is_inside("coolant_temperature") | is_above("coolant_temperature")
ALL_LOW = dry.all_low == YES


def _not_ready(bench: Bench, _: int | None) -> str:
    parts = [f"coolant at {bench.reading('coolant_temperature')}"] if bench.holds(COLD) else []
    parts += [f"idle speed {bench.reading('idle_speed')}"] if bench.holds(OFF_SPEED) else []
    return f"The engine was not ready for testing: {' and '.join(parts)}. Readings taken so are provisional."


def _cool(bench: Bench, _: int | None) -> str:
    return (
        f"The engine may not be warm: coolant at {bench.reading('coolant_temperature')}, and {bench.figure('warm_low', 'coolant_temperature')} "
        "is usual where the engine's own figure is not known."
    )


def _hot(bench: Bench, _: int | None) -> str:
    if bench.holds(is_above("coolant_temperature")):
        return (
            f"The engine is hotter than its working range: coolant at {bench.reading('coolant_temperature')}."
        )
    return f"Coolant at {bench.reading('coolant_temperature')}: over {bench.figure('hot_high', 'coolant_temperature')} no engine is run on."


def _oil(bench: Bench, _: int | None) -> str:
    if bench.has("spec_oil_pressure_min"):
        return f"Oil pressure is low: {bench.reading('oil_pressure')}, at least {bench.reading('spec_oil_pressure_min')} specified."
    return f"Oil pressure is {bench.reading('oil_pressure')}: under {bench.figure('oil_stop', 'oil_pressure')} no engine is run on."


def _slow(bench: Bench, _: int | None) -> str:
    parts = []
    if bench.holds(is_out("cranking_speed")):
        parts.append(
            f"it turned at {bench.reading('cranking_speed')}, {bench.reading('spec_cranking_speed_min')} specified"
        )
    if bench.holds(is_out("battery_cranking")):
        parts.append(
            f"the battery fell to {bench.reading('battery_cranking')}, at least {bench.reading('cranking_voltage_min')} needed"
        )
    return f"The starter turns the engine too slowly: {' and '.join(parts)}."


def _not_under_conditions(bench: Bench, _: int | None) -> str:
    faults = ["the throttle was not held open"] if bench.text("throttle_held_open") == NO else []
    faults += ["plugs were left in"] if bench.text("all_plugs_out") == NO else []
    if bench.holds(dry.too_few_strokes):
        faults.append(f"only {bench.reading('compression_strokes')} strokes were made")
    return f"The compression test was not made under test conditions: {' and '.join(faults)}."


CAUSES = (
    Cause(
        id="engine_not_ready",
        common=1,
        deciding=("readiness",),
        shows={
            "readiness": {"cold, or idle speed off": 0.9},
        },
        system="readiness",
        shown_as="Engine not at working temperature or speed",
        customer_words="The engine did not reach its working temperature or idle speed",
        decided_by="coolant below spec_operating_temp_min, or idle speed out of its range",
        next_step="Warm up, set the idle, take the readings again",
        caution="running engine",
        signs=(
            Sign(COLD | OFF_SPEED, CONFIRMED, _not_ready, "warm and idling"),
            Sign(COOLER_THAN_USUAL, POSSIBLE, _cool, "warm and idling"),
        ),
        cleared=WARM_OR_HOTTER & is_inside("idle_speed"),
        hinted=is_beyond("idle_speed"),
        recheck=("after_coolant_temperature",),
    ),
    Cause(
        id="engine_overheated",
        common=1.6,
        deciding=("readiness",),
        shows={
            "readiness": {"too hot": 0.9},
        },
        complaints=("overheats", "knocks", "lacks power"),
        system="readiness",
        shown_as="Engine hotter than its working range",
        customer_words="The engine ran hotter than it should",
        decided_by="coolant above spec_operating_temp_max",
        next_step="Let it cool, find the reason before any further running test",
        caution="hot parts",
        signs=(Sign(TOO_HOT, CONFIRMED, _hot, "not above working temperature"),),
        cleared=is_inside("coolant_temperature") | is_below("coolant_temperature"),
        recheck=("after_coolant_temperature",),
    ),
    Cause(
        id="low_oil_pressure",
        common=1.3,
        deciding=("readiness",),
        shows={
            "readiness": {"oil pressure low": 0.95},
        },
        complaints=("knocks", "uses oil"),
        system="readiness",
        shown_as="Oil pressure low",
        customer_words="The oil pressure was too low",
        decided_by="oil_pressure below spec_oil_pressure_min",
        next_step="Stop the engine; find the reason before any further running test",
        signs=(Sign(is_out("oil_pressure") | NO_OIL, CONFIRMED, _oil, "oil pressure first"),),
        cleared=is_inside("oil_pressure") & ~NO_OIL,
        recheck=("after_oil_pressure",),
    ),
    Cause(
        id="slow_cranking",
        common=2.5,
        deciding=("battery and starter",),
        shows={
            "battery and starter": {"turns too slowly": 0.95},
        },
        complaints=("hard starting", "does not start"),
        system="readiness",
        shown_as="Starter turns the engine too slowly",
        customer_words="The starter turned the engine too slowly",
        decided_by="cranking_speed below spec, or battery below {cranking_voltage_share} of the nominal voltage while cranking",
        supported_by="all compression readings even and low",
        next_step="Charge or replace the battery, check the starter circuit, then repeat the compression test",
        caution="battery",
        signs=(
            Sign(
                is_out("cranking_speed") | is_out("battery_cranking"),
                CONFIRMED,
                _slow,
                "starter fast enough",
                support=(ALL_LOW & column("compression_dry").known,),
            ),
        ),
        cleared=is_inside("cranking_speed"),
        recheck=("after_cranking_speed",),
        in_short="Battery and starter first, then gauge compression again",
    ),
    Cause(
        id="compression_test_invalid",
        common=0.001,
        system="readiness",
        shown_as="Compression test not made under test conditions",
        customer_words="The compression test has to be made again",
        decided_by="throttle not held open, plugs left in, or fewer than {least_strokes} strokes",
        supported_by="all readings low and even",
        next_step="Repeat the test with the conditions met",
        caution="cranking",
        signs=(
            Sign(
                either(dry.throttle == NO, dry.plugs == NO, dry.too_few_strokes),
                CONFIRMED,
                _not_under_conditions,
                "test conditions",
                support=(dry.throttle.known, dry.plugs.known, dry.strokes.known),
            ),
        ),
        cleared=dry.conditions == dry.MET,
    ),
)
