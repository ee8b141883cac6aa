"""Ignition timing, read or suspected.

The points come first: a wrong gap moves the timing, and how far is worked out in `sheets/ignition_results.py`. A low or
high steady needle agrees with the timing, or points to it where it was not read.
"""

from __future__ import annotations

from workbook_tools.faults import vacuum
from workbook_tools.faults.model import Bench, Cause, Sign, Words
from workbook_tools.faults.points import points_out
from workbook_tools.faults.words import at_the_head
from workbook_tools.language.expressions import (
    Cond,
    constant,
    number,
    word,
)
from workbook_tools.language.model import CONFIRMED, INDICATED, POSSIBLE
from workbook_tools.sheets.compression_results import dry_column
from workbook_tools.sheets.readings import is_above, is_below, is_beyond, is_inside, near_by_gauge

error = number("timing_error")


timing_off = error.known & is_beyond("timing")


late, early = timing_off & (error < 0), timing_off & ~(error < 0)


off_speed = number("timing_speed_difference") > constant("timing_speed_margin")


def _points_first(bench: Bench) -> str:
    """What setting the points does to the timing, in words."""
    shift, then = bench.number("dwell_timing_shift"), bench.number("timing_after_dwell")
    if shift is not None and then is not None:
        low, high = bench.number("timing_low"), bench.number("timing_high")
        inside = low is not None and high is not None and low <= then <= high
        way = "later" if shift < 0 else "earlier"
        moved = f"about {abs(shift):g}° {way}" if shift else "no earlier or later"
        where = f"to {bench.reading('timing_after_dwell')}, " + (
            "which would be in limits" if inside else "still out of limits"
        )
        return f"the points are out too: setting the dwell to the middle of its range makes the spark {moved}, {where}"
    direction = bench.text("gap_timing_direction")
    moved = f"setting the gap makes the spark {direction}" if direction else "setting them moves the spark"
    return f"the points are out too: {moved}"


def _timing(word_for_it: str, agrees: Cond, steady: str) -> Words:
    def statement(bench: Bench, _: int | None) -> str:
        off = abs(bench.number("timing_error") or 0.0)
        measured = f"Timing is {word_for_it} by {off:g}°: {bench.reading('timing')} measured, {bench.reading('spec_timing')} specified"
        if bench.holds(agrees):
            measured += f"; the vacuum agrees ({bench.reading('idle_vacuum_mean')}, {steady})"
        reasons = [_points_first(bench)] if bench.holds(points_out) else []
        if bench.holds(off_speed):
            reasons.append(
                f"it was read at {bench.reading('timing_speed')}, not at {bench.reading('spec_timing_speed')}"
            )
        return f"{measured}." + "".join(f" {at_the_head(reason)}." for reason in reasons)

    return statement


#: Much too early, and yet a vacuum below its range: the mark, not the spark, is in the wrong place.
slipped_mark = (
    early
    & (error > constant("slipped_mark"))
    & (word("idle_off_range") == "low")
    & ~vacuum.explained_by_compression
    & ~vacuum.explained_by_a_cause
)


def _timing_unsettled(bench: Bench, _: int | None) -> str:
    reasons = ["set the points, then read the timing again"] if bench.holds(points_out) else []
    reasons += ["read the timing again at its specified speed"] if bench.holds(off_speed) else []
    reasons += (
        ["prove top dead centre: the vacuum speaks against so much advance"]
        if bench.holds(slipped_mark)
        else []
    )
    return "; ".join(reasons)


late_agrees = (word("idle_off_range") == "low") & vacuum.even


early_agrees = vacuum.high_and_steady


SHIFT_SHOWN = (
    points_out & number("point_gap").known,
    points_out & number("dwell").known,
    points_out & number("dwell_timing_shift").known,
    points_out & number("timing_after_dwell").known,
)


TIMING_SHOWN = (
    number("timing_speed").known,
    number("spec_timing").known,
    number("spec_timing_tolerance").known,
    number("spec_timing_speed").known,
)


LATE_SHOWN = (number("idle_vacuum_low").known & late_agrees, number("idle_vacuum_high").known & late_agrees)


EARLY_SHOWN = (
    number("idle_vacuum_low").known & early_agrees,
    number("idle_vacuum_high").known & early_agrees,
)


high_untimed = vacuum.high_and_steady & ~(is_inside("timing") | is_beyond("timing"))


low_untimed = (
    vacuum.low_and_steady
    & ~vacuum.timing_measured
    & (~vacuum.very_low | vacuum.intake_measured)
    & vacuum.even
)

CAUSES = (
    Cause(
        id="late_timing",
        common=4,
        deciding=("timing by the light",),
        shows={
            "idle vacuum": {"steady, low": 0.7},
            "timing by the light": {"late": 0.95},
            "running mixture and choke": {"below normal, not by mixture": 0.35},
            "readiness": {"too hot": 0.05},
        },
        complaints=("lacks power", "overheats", "high fuel use", "hard starting", "does not start"),
        system="ignition",
        shown_as="Ignition timing late",
        customer_words="The ignition sparked too late",
        decided_by="timing below spec_timing by more than the tolerance",
        supported_by="low steady vacuum with normal compression",
        next_step="Set points first (gap moves timing), then timing",
        caution="running engine",
        signs=(
            Sign(
                late,
                CONFIRMED,
                _timing("late", late_agrees, "low and steady, compression being even"),
                "timing by the light",
                lambda bench, _: "" if bench.holds(points_out) else "Set timing",
                unsettled=_timing_unsettled,
                support=(*TIMING_SHOWN, *SHIFT_SHOWN, *LATE_SHOWN),
            ),
        ),
        cleared=is_inside("timing") | is_above("timing"),
        hinted=is_below("timing"),
        replaced_by=("early_timing",),
        recheck=("after_timing",),
        in_short="Set the timing, then look at the advance",
        turn=2,
    ),
    Cause(
        id="early_timing",
        common=2.5,
        deciding=("timing by the light",),
        shows={
            "idle vacuum": {"above its range": 0.5},
            "timing by the light": {"early": 0.95},
        },
        complaints=("knocks", "hard starting", "overheats", "rough idle", "stalls", "does not start"),
        system="ignition",
        shown_as="Ignition timing early",
        customer_words="The ignition sparked too early",
        decided_by="timing above spec_timing by more than the tolerance",
        supported_by="vacuum above the site's maximum and steady; knock",
        spoken_against_by="idle vacuum below its range",
        next_step="Set timing; check for knock on the road fuel",
        caution="running engine",
        signs=(
            Sign(
                early,
                CONFIRMED,
                _timing("early", early_agrees, "high and steady"),
                "timing by the light",
                unsettled=_timing_unsettled,
                support=(*TIMING_SHOWN, *SHIFT_SHOWN, *EARLY_SHOWN),
            ),
            Sign(
                high_untimed,
                POSSIBLE,
                lambda bench, _: (
                    f"Vacuum is high and steady: {bench.reading('idle_vacuum_mean')}, at most "
                    f"{bench.reading('site_idle_vacuum_max')} here; timing may be early."
                ),
                "vacuum above range",
                "Measure timing with the light",
                waits_for=("readiness", "compression"),
                support=vacuum.needle_shown,
            ),
        ),
        cleared=is_inside("timing") | is_below("timing"),
        hinted=is_above("timing"),
        replaced_by=("late_timing",),
        recheck=("after_timing",),
        in_short="Set the timing, then look at the advance",
        turn=2,
    ),
    Cause(
        id="timing_suspected",
        common=0.001,
        complaints=("lacks power", "overheats", "knocks", "high fuel use"),
        system="ignition",
        shown_as="Ignition timing to be checked",
        customer_words="The moment of the spark had to be checked",
        decided_by="low steady vacuum, compression proven normal, timing not measured",
        next_step="Measure timing with the light",
        caution="running engine",
        signs=tuple(
            Sign(
                when,
                strength,
                lambda bench, _: (
                    f"{vacuum.low_vacuum(bench)}, and compression is even: ignition timing is to be checked first."
                ),
                "steady and low",
                waits_for=("readiness", "compression"),
                support=(*vacuum.needle_shown, dry_column.known),
            )
            for when, strength in (
                (low_untimed & near_by_gauge("idle_vacuum_mean"), POSSIBLE),
                (low_untimed, INDICATED),
            )
        ),
        cleared=is_inside("timing"),
        hinted=is_beyond("timing"),
        recheck=("after_timing", "after_idle_vacuum_mean"),
        in_short="Vacuum is low and compression even: read the timing with the light",
        turn=3,
    ),
)
