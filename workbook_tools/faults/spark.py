"""The spark, seen or shown by soot and unburned fuel, and the plug of each cylinder."""

from __future__ import annotations

from workbook_tools.faults import vacuum
from workbook_tools.faults.model import Bench, Cause, Sign
from workbook_tools.language.expressions import (
    YES,
    Cond,
    column,
    either,
    number,
    word,
)
from workbook_tools.language.model import CONFIRMED, INDICATED, POSSIBLE, Strength
from workbook_tools.sheets.gas_results import IN_ORDER, MISFIRE, RAISED
from workbook_tools.sheets.readings import is_beyond, is_inside
from workbook_tools.sheets.spark_plugs import is_on_most, look, looks, unfired_alone, weak_though_sound

spark = word("spark")
mixture = word("mixture_says")


in_order = mixture.of(RAISED).is_in(IN_ORDER, MISFIRE)


misfires = (mixture.of(1) == MISFIRE) | (mixture.of(2) == MISFIRE)


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


def _weak_sign(when: Cond, strength: Strength) -> Sign:
    return Sign(
        when,
        strength,
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
        id="weak_spark",
        common=3,
        deciding=("spark at a lead",),
        shows={
            "spark at a lead": {"weak or none": 0.94},
            "exhaust gas": {"unburned charges": 0.7},
            "plugs": {"mostly dry soot": 0.5},
            "idle vacuum": {"occasional drops": 0.2, "steady, low": 0.1},
        },
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
        customer_words="The spark was weak or missing",
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
        common=4,
        deciding=("plugs",),
        shows={
            "plugs": {"cracked, worn or gap out": 0.93},
            "speed drop": {"a weak cylinder": 0.85},
            "idle vacuum": {"evenly spaced drops": 0.35, "occasional drops": 0.35},
            "exhaust gas": {"unburned charges": 0.65},
        },
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
        customer_words="Spark plugs were no longer fit for use",
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
        in_short="Renew the plugs that are worn or out of gap",
    ),
)
