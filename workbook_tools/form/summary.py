"""Sheet Summary: one line a system - proven, fault found, not proven yet - and the next test to make."""

from __future__ import annotations

from workbook_tools.form.compression_results import (
    LITTLE_GAIN,
    LOW,
    MET,
    NOT_MET,
    RECOVERS,
    all_low,
    conditions,
    counts,
    dry_column,
    low_column,
)
from workbook_tools.form.cylinder_verdicts import CONFIRMED, INDICATED, LOW_BUT_TIGHT, POSSIBLE, WET_NEXT
from workbook_tools.language.expressions import (
    BLANK,
    CYLINDERS,
    NO,
    YES,
    Cond,
    column,
    either,
    number,
    table,
    word,
    yes_if,
    yes_or_no,
)
from workbook_tools.language.model import OUT_OF_LIMITS, Block, Result, Sheet

PROVEN, FAULT, OPEN = "proven", "fault found", "not proven yet"
NOTHING_NEXT = "nothing: all systems proven"


def is_inside(name: str) -> Cond:
    """Whether a reading was taken against a limit and is on its good side (a near mark beyond a limit is not)."""
    return number(f"margin_{name}") >= 0


# --- readiness -------------------------------------------------------------------------------------------------------

READINESS_MARKS = ("coolant_temperature", "oil_pressure", "idle_speed", "cranking_speed", "battery_cranking")


has_range = number("spec_operating_temp_min").known | number("spec_operating_temp_max").known
readiness = word("state_readiness")

STATE_READINESS = Result(
    "state_readiness",
    "Readiness",
    table(
        (either(*(word(f"mark_{name}") == OUT_OF_LIMITS for name in READINESS_MARKS)) | (conditions == NOT_MET), FAULT),
        ((is_inside("coolant_temperature") | ~has_range) & is_inside("idle_speed"), PROVEN),
        otherwise=OPEN,
    ),
)
NEXT_READINESS = Result(
    "next_readiness",
    "Next for readiness",
    table(
        (readiness == PROVEN, BLANK),
        (readiness == FAULT, "Mend what is out of limits on Warm-up or Compression, then read again"),
        (number("idle_speed").missing, "Warm the engine up; read coolant, oil pressure and idle speed"),
        otherwise="Fill in the engine's working temperature and idle speed, and read both",
    ),
    wide=True,
)


# --- compression -----------------------------------------------------------------------------------------------------


needle, with_speed = word("needle_judged"), word("needle_with_speed")
clearance, adjusted = word("valve_clearance"), word("needle_after_valve_adjustment")
set_already = (clearance == "in limits") | adjusted.is_in("unchanged", "better")
looks, even = column("plug_look"), word("compression_even")
flutter = needle == "fast flutter"
valve_train = either(
    clearance == "too tight",
    flutter & (adjusted == "steady"),
    (CYLINDERS > 2) & (with_speed == "widens"),
    flutter & (with_speed == "steadies") & (set_already | looks.any_is("oily")),
    (needle == "occasional drops") & (even == YES),
)
how_many_low, wet_verdicts = low_column.count_of(LOW), column("wet_verdict")
told_by_wet = (wet_verdicts.count_of(RECOVERS) == how_many_low) | (wet_verdicts.count_of(LITTLE_GAIN) == how_many_low)
told_unsure = (
    column("small_shortfall").any_is(YES)
    | column("points_to").any_is(LOW_BUT_TIGHT)
    | ((CYLINDERS == 1) & (word("wet_verdict").of(1) == LITTLE_GAIN))
)
most_oily = 2 * looks.count_of("oily") > CYLINDERS
strengths, all_low_strength = column("cylinder_strength"), word("all_low_strength")
compression = word("state_compression")
deposits = column("compression_over_max").known & (counts == YES)

COMPRESSION_WORKINGS = (
    Result(
        "compression_even",
        "Compression even",
        yes_or_no(
            (dry_column.count() == CYLINDERS)
            & (how_many_low == 0)
            & (column("mark_leakdown").count_of(OUT_OF_LIMITS) == 0)
        ),
        help="every cylinder was gauged dry, none is low and none leaks over its limit",
        working=True,
    ),
    Result(
        "compression_in_limits",
        "Compression in limits",
        yes_or_no(
            (even == YES)
            & number("site_compression_min").known
            & (column("margin_compression_dry").count_negative() == 0)
        ),
        help="even, with a figure that says what the cylinders should reach, and none above its range",
        working=True,
    ),
    Result("valve_train_fault", "Valve train fault", yes_if(valve_train), working=True),
    Result(
        "all_low_strength",
        "All low: how sure",
        table(
            ((all_low != YES) | (counts == NO), BLANK),
            (told_by_wet & told_unsure, POSSIBLE),
            (told_by_wet, CONFIRMED),
            (column("wet_gain_share").missing & (most_oily | (word("vacuum_very_low") == YES)), INDICATED),
            otherwise=POSSIBLE,
        ),
        working=True,
    ),
)
STATE_COMPRESSION = Result(
    "state_compression",
    "Compression",
    table(
        (
            strengths.any_is(CONFIRMED)
            | strengths.any_is(INDICATED)
            | all_low_strength.is_in(CONFIRMED, INDICATED)
            | deposits
            | (word("valve_train_fault") == YES),
            FAULT,
        ),
        (
            (conditions == MET) & (word("starter_slow") != YES) & (word("compression_in_limits") == YES),
            PROVEN,
        ),
        otherwise=OPEN,
    ),
)
NEXT_COMPRESSION = Result(
    "next_compression",
    "Next for compression",
    table(
        (compression == PROVEN, BLANK),
        # A low cylinder that no test told yet is tested, not repaired.
        (
            (compression == FAULT) & (column("points_to").count_of(WET_NEXT) == 0),
            "Repair what Compression points to, then gauge again on Recheck",
        ),
        (dry_column.count() < CYLINDERS, "Gauge every cylinder dry, throttle open, all plugs out"),
        (counts == NO, "Repeat the compression test under test conditions"),
        (how_many_low > 0, "Wet test of the low cylinders and one sound one, or leak-down"),
        (conditions != MET, "Write down the test conditions on Compression"),
        (number("site_compression_min").missing, "Fill in the engine's lowest compression on Engine"),
        otherwise="Look at the marks on Compression",
    ),
    wide=True,
)


# --- the sheet -------------------------------------------------------------------------------------------------------

SYSTEM_STATES = ("state_readiness", "state_compression", "state_ignition", "state_fuel_and_air")


NEXT_TEST = table(
    *((word(state) != PROVEN, word(state.replace("state", "next", 1))) for state in SYSTEM_STATES),
    otherwise=NOTHING_NEXT,
)


def summary_sheet(ignition: tuple[Result, ...], fuel: tuple[Result, ...]) -> Sheet:
    """The Summary sheet, with the (state, next, workings...) results of ignition and of fuel and air."""
    state_ignition, next_ignition, *ignition_workings = ignition
    state_fuel, next_fuel, *fuel_workings = fuel
    return Sheet(
        name="Summary",
        purpose="Where the proof stands. Work from the top down: a later system is not judged before the earlier ones.",
        cost="nothing to type; run the check for the findings",
        parts=(
            Block(
                "Next test to make", (Result("next_test", "Next", NEXT_TEST, wide=True),)
            ),
            Block(
                "Systems, in the order of proof",
                (
                    STATE_READINESS,
                    NEXT_READINESS,
                    STATE_COMPRESSION,
                    NEXT_COMPRESSION,
                    state_ignition,
                    next_ignition,
                    state_fuel,
                    next_fuel,
                    *COMPRESSION_WORKINGS,
                    *ignition_workings,
                    *fuel_workings,
                ),
            ),
        ),
    )
