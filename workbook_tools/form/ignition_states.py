"""Where the proof of the ignition stands, and its next step, for sheet Summary.

Fault found, when one of these is confirmed or indicated (in this order the next step is chosen):

    points    gap or dwell out of limits, or contacts worn, out of line, burned or pitted; not where no
              points are fitted
    timing    measured timing out of limits
    to read   timing not measured, while a steady vacuum is out below its range, compression is even and
              counts, and the vacuum is not so low that an untested intake explains it better
    advance   the unit does not move, and line and manifold vacuum tell whether unit or line; the rotor does
              not spring back at once; or a reading out of the curve's band
    plugs     a plug cracked or worn, or its gap out of limits; or the plug alone wet or sooty in a cylinder
              that hardly slows the engine, though its compression is normal
    spark     weak or none; or, not called strong, most plugs sooty with the mixture in order, and unburned
              gas with even compression

Proven, when none is found and the timing, and gap or dwell where points are fitted, were read and are in
limits. Otherwise not proven yet. Points count as fitted where the engine says so, or where it says nothing
and they were read.
"""

from __future__ import annotations

from workbook_tools.form.compression_results import counts
from workbook_tools.form.gas_results import IN_ORDER, MISFIRE
from workbook_tools.form.ignition_results import LINE, UNIT, contacts, dwell, fitted, gap, gap_fault, timing
from workbook_tools.form.summary import FAULT, OPEN, PROVEN, is_inside
from workbook_tools.language.expressions import (
    BLANK,
    NO,
    YES,
    any_known,
    column,
    number,
    table,
    word,
    words_for,
    yes_if,
)
from workbook_tools.language.model import OUT_OF_LIMITS, Result

#: Which fault goes first, and what to do about it.
NEXT_FOR_FAULT = {
    "points": "Set or renew the points, then read the timing",
    "timing": "Set the timing, then look at the advance",
    "to read": "Vacuum is low and compression even: read the timing with the light",
    "advance": "Mend what Ignition points to, then check the advance again",
    "plugs": "Renew the plugs that are worn or out of gap",
    "spark": "Check coil, leads, cap and rotor",
}
WORN_CONTACTS = ("worn", "out of line", "burned", "pitted")


fault, state = word("ignition_fault"), word("state_ignition")
even = (word("compression_even") == YES) & (counts != NO)
idle_mean = number("idle_vacuum_mean")
idle_is_low = idle_mean < number("low_limit_idle_vacuum_mean")
intake_was_read = any_known(number("margin_cranking_vacuum"), number("margin_cranking_vacuum_retest"))
plugs, corrected = column("plug_look"), column("mark_advance_corrected")
spark, mixture = word("spark"), word("mixture_says")
sooty_though_in_order = (word("plugs_mostly") == "dry soot") & mixture.of(2).is_in(IN_ORDER, MISFIRE)
unburned = (mixture.of(1) == MISFIRE) | (mixture.of(2) == MISFIRE)
points_are_right = (fitted != YES) | is_inside("point_gap") | is_inside("dwell")
gap_out = column("mark_plug_gap").count_of(OUT_OF_LIMITS)
unfit_plugs = plugs.count_of("cracked or worn") + gap_out + column("plug_unfired").count_of(YES)

IGNITION_SUMMARY = (
    Result(
        "state_ignition",
        "Ignition",
        table((fault.known, FAULT), (is_inside("timing") & points_are_right, PROVEN), otherwise=OPEN),
    ),
    Result(
        "next_ignition",
        "Next for ignition",
        table(
            (fault.known, words_for(fault, NEXT_FOR_FAULT)),
            (state == PROVEN, BLANK),
            ((fitted == YES) & gap.missing & dwell.missing, "Measure point gap or dwell, then the timing"),
            (timing.missing, "Read the timing with the light, vacuum line off and plugged"),
            (number("spec_timing").missing, "Fill in the engine's timing on Engine"),
            (
                number("margin_point_gap").missing & number("margin_dwell").missing,
                "Fill in the engine's point gap or dwell on Engine",
            ),
            otherwise="Look at the marks on Ignition",
        ),
        wide=True,
    ),
    Result(
        "timing_to_read",
        "Low vacuum asks for the timing",
        yes_if(
            (word("idle_is_steady") == YES)
            & (word("mark_idle_vacuum_mean") == OUT_OF_LIMITS)
            & idle_is_low
            & even
            & number("margin_timing").missing
            & ((word("vacuum_very_low") != YES) | intake_was_read)
        ),
        help="steady and low, compression even, timing not measured",
        working=True,
    ),
    Result(
        "spark_suspected",
        "Signs of a weak spark",
        yes_if((spark != "strong") & sooty_though_in_order & unburned & even),
        help="not tested, and both soot and unburned gas speak against it",
        working=True,
    ),
    Result(
        "ignition_fault",
        "Fault in ignition",
        table(
            ((gap_fault == YES) | ((fitted == YES) & contacts.is_in(*WORN_CONTACTS)), "points"),
            (word("mark_timing") == OUT_OF_LIMITS, "timing"),
            (word("timing_to_read") == YES, "to read"),
            (
                word("line_compare").is_in(UNIT, LINE)
                | word("rotor_springs_back").is_in("sluggish", "no")
                | corrected.any_is(OUT_OF_LIMITS),
                "advance",
            ),
            (unfit_plugs > 0, "plugs"),
            (spark.is_in("weak", "none") | (word("spark_suspected") == YES), "spark"),
        ),
        working=True,
    ),
)
