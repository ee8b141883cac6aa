"""Ignition: points before timing, timing, advance by vacuum and by speed, the spark, and the plugs.

All of it is measured or seen, so each finding is a fact once made; only the timing waits, for the points: a wrong gap
moves it, and how far is worked out in `sheets/ignition_results.py`.
"""

from __future__ import annotations

from workbook_tools.faults import vacuum
from workbook_tools.faults.model import Bench, Cause, Sign, Words
from workbook_tools.faults.words import allowed, at_the_head
from workbook_tools.language.expressions import (
    NO,
    YES,
    Cond,
    column,
    constant,
    either,
    number,
    word,
)
from workbook_tools.language.model import ABSENT, CONFIRMED, INDICATED, POSSIBLE
from workbook_tools.sheets.compression_results import dry_column
from workbook_tools.sheets.gas_results import IN_ORDER, MISFIRE, RAISED
from workbook_tools.sheets.ignition_results import LINE, LINE_OR_UNIT, MOVES, UNIT, contacts, moves
from workbook_tools.sheets.readings import is_above, is_below, is_beyond, is_inside, near_by_gauge
from workbook_tools.sheets.spark_plugs import is_on_most, look, looks, unfired_alone, weak_though_sound

WORN_CONTACTS = ("worn", "out of line", "burned")
POINT_LIMITS = {
    "point_gap": ("spec_point_gap_min", "spec_point_gap_max", "point gap"),
    "dwell": ("spec_dwell_min", "spec_dwell_max", "dwell"),
}
has_points = word("ignition_type") != "electronic"
points_out = is_beyond("point_gap") | is_beyond("dwell")
error, spark = number("timing_error"), word("spark")
timing_off = error.known & is_beyond("timing")
late, early = timing_off & (error < 0), timing_off & ~(error < 0)
off_speed = number("timing_speed_difference") > constant("timing_speed_margin")
mixture = word("mixture_says")
in_order = mixture.of(RAISED).is_in(IN_ORDER, MISFIRE)
misfires = (mixture.of(1) == MISFIRE) | (mixture.of(2) == MISFIRE)
electronic = word("ignition_type") == "electronic"


# --- points ----------------------------------------------------------------------------------------------------------


def _points_out(bench: Bench, _: int | None) -> str:
    parts = [
        f"{words} {bench.reading(name)} ({allowed(bench, low, high)})"
        for name, (low, high, words) in POINT_LIMITS.items()
        if bench.holds(is_beyond(name))
    ]
    return f"The points are out of limits: {' and '.join(parts)}."


POINTS_SHOWN = tuple(number(name).known for name, limits in POINT_LIMITS.items())


# --- timing ----------------------------------------------------------------------------------------------------------


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


# --- advance ---------------------------------------------------------------------------------------------------------

plugged = number("advance_line_vacuum_plugged")
in_line, manifold = number("advance_line_vacuum"), number("manifold_vacuum_then")
compared, still = word("line_compare"), moves == NO
line_is_empty = still & manifold.missing & (in_line <= constant("same_vacuum"))
READ_BOTH_AGAIN = "Read the vacuum in the line and in the manifold at the same throttle, part open"
LINE_SHOWN = (in_line.known, manifold.known, plugged.known)


def _line(bench: Bench, _: int | None) -> str:
    if bench.has("advance_line_vacuum_plugged"):
        return (
            f"The advance unit does not move, and with its end plugged the line carries {bench.reading('advance_line_vacuum_plugged')} "
            f"where the manifold has {bench.reading('manifold_vacuum_then')}: the line is clogged or leaks."
        )
    return (
        f"The advance unit does not move, and its line carries {bench.reading('advance_line_vacuum')} where the manifold has "
        f"{bench.reading('manifold_vacuum_then')}: the line is clogged or leaks."
    )


def _unit(bench: Bench, _: int | None) -> str:
    if bench.has("advance_line_vacuum_plugged"):
        return (
            "The advance unit does not move, and with its end plugged the line comes up to the manifold's vacuum "
            f"({bench.reading('advance_line_vacuum_plugged')} of {bench.reading('manifold_vacuum_then')}): the unit leaks."
        )
    return (
        "The advance unit does not move, although its line carries the manifold's vacuum "
        f"({bench.reading('advance_line_vacuum')} of {bench.reading('manifold_vacuum_then')}): the unit."
    )


def _line_empty(bench: Bench, _: int | None) -> str:
    return (
        f"The advance unit does not move, and its line shows no vacuum ({bench.reading('advance_line_vacuum')}); the manifold's "
        "was not read beside it."
    )


def _some_vacuum(bench: Bench, _: int | None) -> str:
    return (
        f"The advance unit does not move, and its line carries some vacuum ({bench.reading('advance_line_vacuum')} of the manifold's "
        f"{bench.reading('manifold_vacuum_then')}): a torn unit bleeds it off, or the line is narrow."
    )


PLUG_THE_END = "Plug the end of the line at the unit and read it again: it comes up where the unit leaks"


def _unit_or_line(bench: Bench, _: int | None) -> str:
    return (
        "The advance unit does not move; whether its line carries the manifold's vacuum is not known, so it may be the unit "
        "or the line."
    )


rotor, mark_wanders = word("rotor_springs_back"), word("timing_mark") == "wanders"
sticks = rotor.is_in("no", "sluggish")
#: A reading beyond its band on either side.
off_curve = column("margin_advance_corrected").count_negative() > 0
on_curve = column("margin_advance_corrected").known & ~off_curve
initial_unknown = error.missing


def _off_curve(bench: Bench, n: int) -> str:
    read = bench.reading("advance_corrected", n)
    if bench.holds(is_below("advance_corrected"), n):
        limit = f"at least {bench.reading('advance_band_min', n)}"
    else:
        limit = f"at most {bench.reading('advance_band_max', n)}"
    less = " with the initial timing error taken off" if bench.number("timing_error") else ""
    return f"at {bench.reading('advance_speed', n)} it reads {read}{less}, {limit} specified"


def _mechanical(bench: Bench, _: int | None) -> str:
    parts = []
    if bench.holds(sticks):
        parts.append(
            f"the rotor {'does not spring back' if bench.text('rotor_springs_back') == NO else 'springs back sluggishly'}"
        )
    points = range(1, 7)
    off = [n for n in points if (bench.number("margin_advance_corrected", n) or 0.0) < 0]
    parts += [_off_curve(bench, n) for n in off]
    parts += ["the timing mark wanders"] if bench.holds(mark_wanders) else []
    doubt = (
        " The initial timing was not measured, and all readings move with it."
        if _curve_unsettled(bench, None)
        else ""
    )
    return f"Mechanical advance: {'; '.join(parts)}.{doubt}"


def _curve_unsettled(bench: Bench, _: int | None) -> str:
    doubtful = bench.holds(off_curve & ~sticks & initial_unknown)
    return "read the initial timing at its specified speed" if doubtful else ""


CURVE_SHOWN = (off_curve, off_curve & error.known, mark_wanders)


# --- spark and plugs -------------------------------------------------------------------------------------------------

sooty_though_in_order = is_on_most("dry soot") & in_order
unburned = misfires & vacuum.even
untested = spark != "strong"
plug_in_order = (look == "normal") & is_inside("plug_gap")
unfit = (look == "cracked or worn") | is_beyond("plug_gap")
weak = weak_though_sound & ~unfit
gas_shown = tuple(
    (mixture.of(n) == MISFIRE) & number(gas).of(n).known
    for n in (2, 1)
    for gas in ("gas_co", "gas_co2", "gas_hc", "gas_o2", "lambda")
)
no_plug_found = ~either(
    column("cylinder_fault_plug_fault").any_is(CONFIRMED), column("plug_suspect").any_is(YES)
)
SPARK_NEXT = (
    "Look at the spark on this lead, swap the plug with a neighbour's, and read the fall in speed again"
)


def _spark_signs(bench: Bench) -> list[str]:
    found = []
    if bench.holds(sooty_though_in_order):
        found.append(
            f"plugs are sooty although the mixture is in order (lambda {bench.reading('lambda', RAISED)})"
        )
    if bench.holds(unburned):
        found.append(
            "unburned fuel and oxygen leave together with lambda near one: charges that did not fire, not the mixture"
        )
    return found


def _spark_seen(bench: Bench, _: int | None) -> str:
    also = _spark_signs(bench)
    seen = "The spark is weak." if bench.text("spark") == "weak" else "There is no spark."
    return seen + (f" Also: {'; '.join(also)}." if also else "")


def _spark_not_tested(bench: Bench, _: int | None) -> str:
    return f"The spark was not tested, and {'; and '.join(_spark_signs(bench))}."


SOOT_SHOWN = (sooty_though_in_order & looks.any_is("dry soot"), *(unburned & each for each in gas_shown))
LOOK_AT_SPARK = "Look at the spark on each lead; then coil, leads, cap, rotor and plugs"


def _unfit(bench: Bench, n: int | None) -> str:
    parts = ["is cracked or worn"] if bench.text("plug_look", n) == "cracked or worn" else []
    if bench.holds(is_beyond("plug_gap"), n):
        low, high = bench.reading("spec_plug_gap_min"), bench.reading("spec_plug_gap_max")
        parts.append(f"has a gap of {bench.reading('plug_gap', n)} ({low} to {high} specified)")
    agrees = (
        f"; the engine hardly slows without it ({bench.reading('speed_drop', n)}), though compression is normal"
        if bench.holds(weak_though_sound, n)
        else ""
    )
    return f"The plug of cylinder {n} {' and '.join(parts)}{agrees}."


def _weak(bench: Bench, n: int | None) -> str:
    """Plug, lead or mixture: the plug first, unless it was looked at and gapped and found in order."""
    slows = (bench.number("speed_drop", n) or 0.0) > 0
    falls = (
        f"Cylinder {n} falls only {bench.reading('speed_drop', n)}"
        if slows
        else f"The engine does not slow without cylinder {n}"
    )
    seen = f"{falls} ({bench.reading('sound_drop')} is usual here), though its compression is normal"
    if bench.holds(unfired_alone, n):
        seen += (
            ", and its plug alone is wet with fuel"
            if bench.text("plug_look", n) == "wet with fuel"
            else ", and its plug alone has dry soot"
        )
    blame = (
        "its plug is in order, so look at the lead, then at its mixture"
        if bench.holds(plug_in_order, n)
        else "its plug, its lead or its mixture"
    )
    return f"{seen}: {blame}."


def _weak_sign(when: Cond, strength: object) -> Sign:
    return Sign(
        when,
        strength,  # type: ignore[arg-type]
        _weak,
        "small fall in speed",
        SPARK_NEXT,
        caution="high voltage",
        waits_for=("readiness", "compression"),
        support=(
            number("compression_dry").known,
            look.known,
            number("plug_gap").known,
            number("sound_drop").known,
        ),
        rests_on=("speed_drop",),
    )


CAUSES = (
    Cause(
        id="late_timing",
        complaints=("lacks power", "overheats", "high fuel use", "hard starting", "does not start"),
        system="ignition",
        shown_as="Ignition timing late",
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
        on_summary="Set the timing, then look at the advance",
        turn=2,
    ),
    Cause(
        id="early_timing",
        complaints=("knocks", "hard starting", "overheats", "rough idle", "stalls", "does not start"),
        system="ignition",
        shown_as="Ignition timing early",
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
        on_summary="Set the timing, then look at the advance",
        turn=2,
    ),
    Cause(
        id="timing_suspected",
        complaints=("lacks power", "overheats", "knocks", "high fuel use"),
        system="ignition",
        shown_as="Ignition timing to be checked",
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
        on_summary="Vacuum is low and compression even: read the timing with the light",
        turn=3,
    ),
    Cause(
        id="vacuum_advance_unit",
        complaints=("lacks power", "high fuel use", "overheats", "stalls"),
        system="ignition",
        shown_as="Vacuum advance unit faulty",
        decided_by=(
            "unit does not move and the line carries the manifold's vacuum, or comes up to it with the unit's end plugged"
        ),
        next_step="Replace the unit, recheck advance",
        caution="running engine",
        signs=(
            Sign(compared == UNIT, CONFIRMED, _unit, "line against manifold", support=LINE_SHOWN),
            Sign(
                compared == LINE_OR_UNIT,
                POSSIBLE,
                _some_vacuum,
                "line against manifold",
                PLUG_THE_END,
                support=LINE_SHOWN,
            ),
            Sign((compared == LINE) | line_is_empty, None),
            Sign(
                still, POSSIBLE, _unit_or_line, "line against manifold", READ_BOTH_AGAIN, support=LINE_SHOWN
            ),
        ),
        cleared=(compared == LINE) | (compared == MOVES) | (moves == ABSENT),
        replaced_by=("vacuum_advance_line",),
        on_summary="Mend what Ignition points to, then check the advance again",
        turn=4,
    ),
    Cause(
        id="vacuum_advance_line",
        complaints=("lacks power", "high fuel use", "overheats", "stalls"),
        system="ignition",
        shown_as="Vacuum advance line clogged or leaking",
        decided_by=(
            "unit does not move and the line shows no vacuum; or the line's vacuum stays below the manifold's with the unit's "
            "end plugged"
        ),
        next_step="Clear or replace the line",
        caution="running engine",
        signs=(
            Sign(compared == LINE, CONFIRMED, _line, "line against manifold", support=LINE_SHOWN),
            Sign(
                compared == LINE_OR_UNIT,
                POSSIBLE,
                _some_vacuum,
                "line against manifold",
                PLUG_THE_END,
                support=LINE_SHOWN,
            ),
            Sign(compared == UNIT, None),
            Sign(line_is_empty, POSSIBLE, _line_empty, "line against manifold", READ_BOTH_AGAIN),
            Sign(
                still, POSSIBLE, _unit_or_line, "line against manifold", READ_BOTH_AGAIN, support=LINE_SHOWN
            ),
        ),
        cleared=(compared == UNIT) | (compared == MOVES) | (moves == ABSENT),
        replaced_by=("vacuum_advance_unit",),
        on_summary="Mend what Ignition points to, then check the advance again",
        turn=4,
    ),
    Cause(
        id="mechanical_advance",
        complaints=("lacks power", "knocks", "high fuel use", "overheats", "rough idle"),
        system="ignition",
        shown_as="Mechanical advance sticking",
        decided_by="rotor does not spring back, or advance curve out of its limits",
        supported_by="timing mark wanders",
        next_step="Clean and free the weights, check springs",
        caution="running engine",
        signs=(
            Sign(sticks, CONFIRMED, _mechanical, "rotor springs back", support=CURVE_SHOWN),
            Sign(
                off_curve,
                CONFIRMED,
                _mechanical,
                "advance curve",
                unsettled=_curve_unsettled,
                support=CURVE_SHOWN,
            ),
            Sign(
                mark_wanders & (rotor != ABSENT),
                POSSIBLE,
                _mechanical,
                "rotor springs back",
                "Turn the rotor by hand and let go; read the advance by speed",
            ),
        ),
        cleared=on_curve | (~mark_wanders & rotor.is_in("yes", ABSENT)),
        on_summary="Mend what Ignition points to, then check the advance again",
        turn=4,
    ),
    Cause(
        id="contact_gap",
        complaints=("hard starting", "misfires", "lacks power", "rough idle", "stalls", "does not start"),
        system="ignition",
        shown_as="Contact gap or dwell out of limits",
        decided_by="point_gap or dwell outside spec",
        next_step="Set gap with the rubbing block on the top of a cam lobe, then recheck timing",
        caution="running engine",
        signs=(
            Sign(
                points_out,
                CONFIRMED,
                _points_out,
                "gap and dwell",
                support=POINTS_SHOWN,
            ),
        ),
        cleared=electronic
        | (~is_beyond("point_gap") & ~is_beyond("dwell") & (is_inside("point_gap") | is_inside("dwell"))),
        recheck=("after_point_gap", "after_dwell"),
        on_summary="Set or renew the points, then read the timing",
        turn=1,
    ),
    Cause(
        id="contact_points",
        complaints=("hard starting", "misfires", "lacks power", "rough idle", "stalls", "does not start"),
        system="ignition",
        shown_as="Contact points worn",
        decided_by="contacts worn, out of line or burned",
        next_step="Replace the points",
        signs=(
            Sign(
                has_points & contacts.is_in(*WORN_CONTACTS),
                CONFIRMED,
                lambda bench, _: f"The contact points are {bench.text('contacts')}.",
                "contacts seen",
            ),
        ),
        cleared=electronic | (contacts == "good"),
        hinted=contacts.known & ~electronic,
        on_summary="Set or renew the points, then read the timing",
        turn=1,
    ),
    Cause(
        id="condenser",
        complaints=("misfires", "hard starting", "stalls", "does not start"),
        system="ignition",
        shown_as="Condenser faulty",
        decided_by="contacts pitted",
        next_step="Replace points and condenser together",
        signs=(
            Sign(
                has_points & (contacts == "pitted"),
                CONFIRMED,
                lambda bench, _: (
                    "The contact points are pitted, metal carried from one to the other: the condenser."
                ),
                "contacts pitted",
            ),
        ),
        cleared=electronic | (contacts.known & (contacts != "pitted")),
        hinted=contacts == "pitted",
        on_summary="Set or renew the points, then read the timing",
        turn=1,
    ),
    Cause(
        id="weak_spark",
        complaints=(
            "misfires",
            "hard starting",
            "does not start",
            "rough idle",
            "lacks power",
            "stalls",
            "high fuel use",
        ),
        system="ignition",
        shown_as="Weak or missing spark",
        decided_by="spark weak or none",
        supported_by="sooty plugs with mixture in order",
        next_step="Check coil, leads, cap and rotor",
        caution="high voltage",
        signs=(
            Sign(spark.is_in("weak", "none"), CONFIRMED, _spark_seen, "spark seen", support=SOOT_SHOWN),
            Sign(
                untested & sooty_though_in_order & unburned,
                INDICATED,
                _spark_not_tested,
                "misfire, not mixture",
                LOOK_AT_SPARK,
                waits_for=("readiness", "compression"),
                support=SOOT_SHOWN,
            ),
            Sign(
                untested & unburned,
                POSSIBLE,
                _spark_not_tested,
                "misfire, not mixture",
                LOOK_AT_SPARK,
                waits_for=("readiness", "compression"),
                support=SOOT_SHOWN,
            ),
            Sign(
                untested & sooty_though_in_order,
                POSSIBLE,
                _spark_not_tested,
                "sooty plugs",
                LOOK_AT_SPARK,
                waits_for=("readiness", "compression"),
                support=SOOT_SHOWN,
            ),
        ),
        cylinder_signs=(_weak_sign(weak & plug_in_order, POSSIBLE),),
        cleared=spark == "strong",
        hinted=spark.is_in("weak", "none"),
        recheck=("after_spark",),
        turn=6,
    ),
    Cause(
        id="plug_fault",
        complaints=(
            "misfires",
            "rough idle",
            "hard starting",
            "lacks power",
            "high fuel use",
            "does not start",
        ),
        system="ignition",
        shown_as="Spark plug unfit",
        decided_by="plug cracked or worn, or gap outside spec",
        supported_by="small speed drop on that cylinder with normal compression",
        next_step="Renew the plug",
        caution="hot parts",
        signs=(
            Sign(
                unburned & (spark == "strong") & no_plug_found,
                POSSIBLE,
                lambda bench, _: (
                    "Unburned fuel and oxygen leave together with lambda near one: charges that did not fire, not the mixture. "
                    "The spark is strong and compression is even, so a plug or a lead is next."
                ),
                "misfire, not mixture",
                "Short out one cylinder at a time and read the fall in speed; look at plugs and leads",
                waits_for=("readiness", "compression"),
                support=gas_shown,
            ),
        ),
        cylinder_signs=(
            Sign(
                unfit,
                CONFIRMED,
                _unfit,
                "plug look and gap",
                support=(
                    is_beyond("plug_gap"),
                    weak_though_sound & number("speed_drop").known,
                    weak_though_sound & number("compression_dry").known,
                ),
            ),
            Sign(weak & plug_in_order, None),
            _weak_sign(weak & unfired_alone, INDICATED),
            _weak_sign(weak, POSSIBLE),
        ),
        cleared=(look == "normal") & ~is_beyond("plug_gap") & (word("drop_is_weak") != "weak"),
        hinted=is_beyond("plug_gap") | (word("drop_is_weak") == "weak"),
        on_summary="Renew the plugs that are worn or out of gap",
    ),
)
