"""What the fuel and air readings give, except the exhaust gas: intake, running mixture, pump.

The starter turns the engine without spark, so the cranking vacuum waits for readiness and compression only;
a cylinder that leaks lowers it too. A running mixture is lean where the vacuum stays below normal at a set
throttle and the choke brings it up. Source: common practice; the published rules they agree with are listed
in docs/sources.md.
"""

from __future__ import annotations

from workbook_tools.language.expressions import (
    BLANK,
    NO,
    YES,
    column,
    constant,
    joined,
    number,
    table,
    word,
    yes_if,
    yes_or_no,
)
from workbook_tools.language.measures import DELIVERY, NONE, VACUUM
from workbook_tools.language.model import (
    AS_FAR_AS_FIGURES,
    IN_LIMITS,
    NEAR_LIMIT,
    OUT_OF_LIMITS,
    PROVEN,
    Limits,
    Result,
)
from workbook_tools.sheets.compression_results import LOW, low_column

TIGHT, SLOW = "tight", "slow to rise: air leak"
TIGHTENED = "leak at the fastenings: tight now"
STILL_LOW = "still low: hoses and base next"
TIGHTEN = "air leak: tighten, read again"
NEAR = "near its limit: read again"
AT_HOSE, AT_BASE = "a hose", "the carburettor base or throttle shaft"
AT_NEITHER = "neither hoses nor carburettor base"
CYLINDER_LOWERS = "; a weak cylinder lowers it too"
NOT_READY = "; readiness and compression first"

CHOKE_NEXT = "below normal: draw the choke slowly"
LEAN = "lean: the choke brings it up"
NOT_LEAN = "below normal, and not by mixture"
NORMAL = "normal"

SECONDS_A_MINUTE = 60


# --- intake --------------------------------------------------------------------------------------------


first_margin, again_margin = number("margin_cranking_vacuum"), number("margin_cranking_vacuum_retest")
slow, lowered = word("cranking_vacuum_rise") == "slow", word("cylinder_lowers_vacuum")
intake = word("intake_word")
stays_low = (again_margin < 0) | ((first_margin < 0) & again_margin.missing)
earlier_proven = word("state_readiness").is_in(PROVEN, AS_FAR_AS_FIGURES)
earlier_proven &= word("state_compression").is_in(PROVEN, AS_FAR_AS_FIGURES)

INTAKE = (
    Result(
        "intake_says",
        "The intake is",
        table(
            (intake.missing | intake.is_in(TIGHT, TIGHTENED), intake),
            (lowered == YES, joined(intake, CYLINDER_LOWERS)),
            (earlier_proven, intake),
            otherwise=joined(intake, NOT_READY),
        ),
        wide=True,
    ),
    Result(
        "intake_word",
        "Cranking vacuum says",
        table(
            (again_margin.known & (word("mark_cranking_vacuum_retest") == OUT_OF_LIMITS), STILL_LOW),
            (again_margin < 0, NEAR),
            (again_margin.known & ((first_margin < 0) | slow), TIGHTENED),
            (again_margin.known, TIGHT),
            (word("mark_cranking_vacuum") == OUT_OF_LIMITS, TIGHTEN),
            (slow, SLOW),
            (first_margin < 0, NEAR),
            (first_margin.known, TIGHT),
        ),
        help="other systems left aside",
        working=True,
    ),
    Result(
        "cylinder_lowers_vacuum",
        "A cylinder lowers it",
        yes_if(low_column.any_is(LOW) | column("mark_leakdown").any_is(OUT_OF_LIMITS)),
        help="one that is low or leaks",
        working=True,
    ),
)


hoses, base = word("hoses_pinched"), word("carburettor_base_tested")

WHERE = (
    Result(
        "leak_found_at",
        "Air leaks in at",
        table(
            (hoses == "vacuum came up", AT_HOSE),
            (base == "engine changed", AT_BASE),
            ((hoses == "no change") & (base == "no change"), AT_NEITHER),
        ),
        wide=True,
    ),
)


# --- running mixture -----------------------------------------------------------------------------------


running_margin, choke_gain = number("margin_running_vacuum"), number("choke_gain")
brings_it_up = word("choke_brings_it_up")

RUNNING = (
    Result(
        "choke_gain",
        "The choke brings",
        (number("running_vacuum_choked") - number("running_vacuum")).round(6),
        VACUUM,
    ),
    Result(
        "running_says",
        "The running mixture is",
        table(
            (running_margin.missing, BLANK),
            (running_margin >= 0, NORMAL),
            (brings_it_up == YES, LEAN),
            (brings_it_up == NO, NOT_LEAN),
            otherwise=CHOKE_NEXT,
        ),
        wide=True,
    ),
    Result(
        "choke_brings_it_up",
        "Choke brings it up",
        table((choke_gain.missing, BLANK), (choke_gain > constant("same_vacuum"), YES), otherwise=NO),
        help="by more than two like readings differ",
        working=True,
    ),
)


# --- fuel pump -----------------------------------------------------------------------------------------


volume, seconds = number("fuel_delivery_volume"), number("fuel_delivery_time")
pressure_mark = word("mark_fuel_pressure")

PUMP = (
    Result(
        "fuel_delivery_rate",
        "Fuel delivery",
        (SECONDS_A_MINUTE * volume / seconds).round(6).where(seconds > 0),
        DELIVERY,
        limits=Limits("spec_fuel_delivery_min"),
    ),
    Result(
        "pump_says",
        "The pump",
        table(
            (
                (pressure_mark == OUT_OF_LIMITS)
                & (number("fuel_pressure") > number("high_limit_fuel_pressure")),
                "pressure high",
            ),
            (pressure_mark == OUT_OF_LIMITS, "pressure low"),
            (word("mark_fuel_delivery_rate") == OUT_OF_LIMITS, "delivery low"),
            (pressure_mark.is_in(IN_LIMITS, NEAR_LIMIT), "in order"),
        ),
        NONE,
    ),
    Result("pressure_asked", "Pressure asked for", yes_or_no(word("fuel_feed") != "gravity"), working=True),
)
