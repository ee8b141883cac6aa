"""One cylinder: rings, valves, head gasket.

What the readings of a cylinder point to is worked out in `sheets/cylinder_verdicts.py`; here it becomes a cause. The
leak-down test outweighs the gauge; the wet test tells rings from valves; neighbours that are equally low share a
gasket land.
"""

from __future__ import annotations

from functools import partial

from workbook_tools.faults.cylinder_words import (
    beside_carbon,
    between,
    brought_little,
    bubbles,
    by_wet_alone,
    coolant_on_plug,
    equally,
    gasket_group,
    gauged_low,
    gauged_low_but_tight,
    leak_heard,
    leak_unheard,
    leaking_pair,
    neighbours_not_gauged,
    one_or_other,
    recovered,
    settle_undecided,
    small,
    stands_out,
    untold_yet,
)
from workbook_tools.faults.model import Cause, Sign, Words
from workbook_tools.language.expressions import (
    CYLINDERS,
    TRUE,
    YES,
    Cond,
    column,
    either,
    number,
    word,
)
from workbook_tools.language.model import CONFIRMED, INDICATED, POSSIBLE, Strength
from workbook_tools.sheets import cylinder_verdicts as cylinder
from workbook_tools.sheets.compression_results import (
    LITTLE_GAIN,
    LOW,
    RECOVERS,
    REPEAT,
    SOUND,
    all_low,
    dry,
    dry_column,
    is_low,
)
from workbook_tools.sheets.compression_results import counts as test_counts
from workbook_tools.sheets.readings import is_out

#: What to do once the leak was heard: the causes' own next step is the leak-down test.
AFTER_LEAKDOWN = {
    "worn_rings": "Lift the head or pull the piston, and measure cylinder and rings",
    "leaking_valve": "Check the clearance of this valve first; if it is right, lift the head",
    "head_gasket": "Watch the coolant for bubbles, then lift the head: gasket, head and block",
}


#: Faults of the gauge test alone: the leak-down test is made on an engine that stands still.
LEAKDOWN_STANDS_DESPITE = ("slow_cranking", "compression_test_invalid")


LISTEN_AGAIN = "Listen again at intake, exhaust, oil filler, coolant and the next cylinder"


REPEAT_BOTH = "Repeat the gauge reading and the leak-down test of this cylinder"


WET_OR_LEAKDOWN = "Wet test of this cylinder and of one sound one, or the leak-down test"


wet = cylinder.wet_points_to


#: Further signs of each cause, worth showing beside what decided.
LOW_BUILDS_UP, LOW_STAYS_LOW = (is_low == LOW) & cylinder.builds_up, (is_low == LOW) & cylinder.stays_low


WEAK_DROP = word("drop_is_weak") == "weak"


SUPPORT = {
    "worn_rings": (LOW_BUILDS_UP, cylinder.look == "oily", word("snap_supports_rings") == YES, WEAK_DROP),
    "leaking_valve": (LOW_STAYS_LOW, word("needle_judged") == "evenly spaced drops", WEAK_DROP),
    "head_gasket": (
        cylinder.look == "coolant traces",
        word("needle_judged") == "wide regular swing",
        WEAK_DROP,
    ),
}


unheard = (cylinder.leak_means == cylinder.PLACE_UNKNOWN) & (
    wet.missing | wet.is_in(REPEAT, cylinder.ALL_LOW, cylinder.WET_NEXT)
)


unsure = small | beside_carbon


def _step_once_heard(cause: str, *means: str) -> tuple[tuple[Cond, str], ...]:
    """The step once the leak was heard in any cylinder: the leak-down test is not asked for again."""
    return ((either(*(column("leak_means").any_is(each) for each in means)), AFTER_LEAKDOWN[cause]),)


def _heard(cause: str, *means: str) -> tuple[Sign, ...]:
    """A leak over the limit decides by the place where it is heard, whatever the gauge says.

    Heard in the coolant it is seen as bubbles, at any percentage. In limits, but standing out, it agrees with a gauge that
    points there; alone it is a sign of two (larger than the others, and heard). Where all cylinders leak at the rings it is
    one wear, not one of each. Oil on a worn piston hides a valve: what the wet test says stays possible beside the leak.
    """
    supports = (word("leak_heard_at").known, dry.known, cylinder.wet.known, number("spec_leakdown_max").known)
    by_leak = partial(
        Sign,
        waits_for=("readiness",),
        despite=LEAKDOWN_STANDS_DESPITE,
        support=(*supports, *SUPPORT[cause]),
    )
    everywhere = word("rings_everywhere") == YES
    in_coolant = (cylinder.leak_place == "coolant") & number("leakdown").known & ~cylinder.leaks
    heard = cylinder.leak_means.is_in(*means)
    signs: list[Sign] = []
    if cause == "worn_rings":
        signs.append(Sign(heard & everywhere, None))
    if cause == "head_gasket":
        signs.append(by_leak(in_coolant, INDICATED, bubbles, "leak-down place", AFTER_LEAKDOWN[cause]))
    signs.append(
        by_leak(
            heard, CONFIRMED, leak_heard, "leak-down place", AFTER_LEAKDOWN[cause], cylinders=leaking_pair
        )
    )
    if cause != "head_gasket":
        signs.append(
            Sign(
                cylinder.place_is_known
                & (wet == (cylinder.RINGS if cause == "worn_rings" else cylinder.VALVE)),
                POSSIBLE,
                by_wet_alone(cause),
                "wet test against leak-down",
                "Gauge compression again after the first repair",
                waits_for=("readiness",),
                support=(is_low == LOW, cylinder.leaks),
            )
        )
    signs.append(Sign(cylinder.place_is_known, None))
    if cause != "worn_rings":
        signs.append(
            by_leak(
                cylinder.leak_hint.is_in(*means) & ~cylinder.hint_agrees,
                INDICATED,
                stands_out,
                "leak that stands out",
                "Leak-down again, and the gauge dry and wet",
            )
        )
    return (*signs, by_leak(unheard, POSSIBLE, leak_unheard(cause), "leak-down unheard", LISTEN_AGAIN))


def _by_gauge(
    cause: str,
    when: Cond,
    strength: Strength,
    statement: Words,
    rule: str,
    next_step: str | Words = "",
    *,
    grouped: bool = False,
    unsettled: Words = lambda bench, n: "",
) -> Sign:
    return Sign(
        when,
        strength,
        statement,
        rule,
        next_step,
        waits_for=("readiness",),
        unsettled=unsettled,
        caution="cranking" if next_step == WET_OR_LEAKDOWN else "",
        cylinders=gasket_group if grouped else None,
        support=(is_low == LOW, cylinder.wet.known, number("leakdown").known, *SUPPORT[cause]),
        rests_on=("compression_dry", "compression_wet"),
    )


def _gauge_signs(
    cause: str, own: str, undecided: str, why: Words, rule: str, supports: Cond, near: Cond
) -> tuple[Sign, ...]:
    """What the gauge says of one cause: decided, between two, or not yet told; small shortfalls stay possible."""
    grouped = own == cylinder.GASKET
    beside = neighbours_not_gauged if own == cylinder.VALVE else lambda bench, n: ""
    both = wet.is_in(
        *dict.fromkeys((undecided, cylinder.VALVE_OR_GASKET) if own == cylinder.VALVE else (undecided,))
    )
    mine = (wet == own) | both | ((wet == cylinder.WET_NEXT) & near)
    untold = (wet == cylinder.WET_NEXT) & near
    not_told = partial(
        _by_gauge,
        cause,
        statement=gauged_low(untold_yet(cause), grouped),
        rule="low, not yet told",
        next_step=WET_OR_LEAKDOWN,
        unsettled=beside,
        grouped=grouped,
    )
    signs = [
        _by_gauge(
            cause,
            mine & cylinder.leak_is_tight,
            POSSIBLE,
            gauged_low_but_tight,
            "leak-down tight",
            REPEAT_BOTH,
        ),
        not_told(untold & supports & ~beside_carbon, INDICATED),
        not_told(untold, POSSIBLE),
    ]
    if own != cylinder.GASKET:
        signs.append(
            _by_gauge(
                cause,
                wet == cylinder.RINGS_OR_VALVE,
                POSSIBLE,
                gauged_low(between(cause)),
                "wet test open",
                settle_undecided,
                unsettled=beside,
            )
        )
    if own != cylinder.RINGS:
        signs.append(
            _by_gauge(
                cause,
                wet == cylinder.VALVE_OR_GASKET,
                POSSIBLE,
                gauged_low(one_or_other(cause), grouped),
                "equal neighbours",
                settle_undecided,
                grouped=grouped,
                unsettled=beside,
            )
        )
    decided = gauged_low(why, grouped)
    return (
        *signs,
        _by_gauge(cause, (wet == own) & unsure, POSSIBLE, decided, rule, grouped=grouped, unsettled=beside),
        _by_gauge(cause, wet == own, CONFIRMED, decided, rule, grouped=grouped, unsettled=beside),
    )


needle, with_speed = word("needle_judged"), word("needle_with_speed")


not_gauged = dry_column.missing


def _needle_alone(told: str) -> Words:
    return lambda bench, _: told


GAUGE_ALL = "Compression test of every cylinder, dry, then wet where low"


gauged = (
    (test_counts != "no") & number("compression_low_line").known & (is_low == SOUND) & ~is_out("leakdown")
)


compared = (dry_column.count() > 1) | number("site_compression_min").known


sound = (cylinder.leak_is_tight & (is_low != LOW)) | (gauged & compared)


wet_counts = test_counts != "no"


def heard_elsewhere(*own: str) -> Cond:
    """The leak is heard, and at another part."""
    return cylinder.place_is_known & ~cylinder.leak_means.is_in(*own)


def wet_says(verdict: str) -> Cond:
    """The wet test says so, and no leak was heard."""
    return (
        ~cylinder.place_is_known
        & wet_counts
        & (cylinder.wet_verdict == verdict)
        & number("compression_wet").known
    )


CAUSES = (
    Cause(
        id="worn_rings",
        common=3,
        deciding=(
            "dry compression",
            "wet compression",
            "leak-down",
        ),
        shows={
            "idle vacuum": {"evenly spaced drops": 0.45, "steady, low": 0.2},
            "throttle snapped": {"falls to nothing, rises short": 0.6},
            "dry compression": {"low in one or some": 0.93},
            "wet compression": {"oil brings it up": 0.9},
            "leak-down": {"at the oil filler": 0.9},
            "plugs": {"oily": 0.6},
            "speed drop": {"a weak cylinder": 0.8},
            "exhaust gas": {"unburned charges": 0.2},
        },
        complaints=("lacks power", "uses oil", "hard starting", "rough idle"),
        system="compression",
        shown_as="Worn or broken rings, worn cylinder",
        customer_words="The piston rings or the cylinder are worn and let pressure escape",
        decided_by=(
            "a low cylinder recovers at least {rings_share} of its shortfall in the wet test; or leakage over limit heard at the "
            "oil filler"
        ),
        supported_by=(
            "first stroke low and building up; oily plug; snap test low: falls to about zero and rises short of normal"
        ),
        spoken_against_by="wet test brings little gain",
        next_step="Leak-down test shows how much; then lift the head or pull the piston",
        after_test=_step_once_heard("worn_rings", cylinder.RINGS),
        caution="compressed air",
        cylinder_signs=(
            *_heard("worn_rings", cylinder.RINGS),
            *_gauge_signs(
                "worn_rings",
                cylinder.RINGS,
                cylinder.RINGS_OR_VALVE,
                recovered,
                "wet test recovers",
                cylinder.supports_rings > 0,
                TRUE,
            ),
        ),
        cleared=heard_elsewhere(cylinder.RINGS) | wet_says(LITTLE_GAIN) | (~wet_says(RECOVERS) & sound),
        hinted=wet_says(RECOVERS) | (cylinder.look == "oily") | (word("snap_supports_rings") == YES),
        replaced_by=("leaking_valve", "head_gasket", "valve_timing"),
        recheck=("after_compression", "after_leakdown"),
    ),
    Cause(
        id="leaking_valve",
        common=4,
        deciding=(
            "dry compression",
            "wet compression",
            "leak-down",
        ),
        shows={
            "idle vacuum": {"evenly spaced drops": 0.75},
            "dry compression": {"low in one or some": 0.93},
            "wet compression": {"little gain": 0.9},
            "leak-down": {"at a valve": 0.92},
            "speed drop": {"a weak cylinder": 0.85},
            "exhaust gas": {"unburned charges": 0.6},
            "cranking vacuum": {"low or slow to rise": 0.25},
        },
        complaints=("lacks power", "rough idle", "misfires", "hard starting", "high fuel use"),
        system="compression",
        shown_as="Burned or leaking valve",
        customer_words="A valve was burned or did not close tightly",
        decided_by=(
            "a low cylinder recovers less than {valve_share} of its shortfall in the wet test and no neighbour is equally low; or "
            "leakage over limit heard at intake or exhaust (name which valve)"
        ),
        supported_by="evenly spaced drops of the needle; first stroke low and staying low",
        spoken_against_by="wet test recovers the shortfall",
        next_step="Check valve clearance first; leak-down test tells intake from exhaust",
        caution="compressed air",
        signs=(
            Sign(
                (CYLINDERS == 1)
                & (all_low == YES)
                & (test_counts != "no")
                & cylinder.leak_means.of(1).missing
                & (cylinder.wet_verdict.of(1) != RECOVERS)
                & (cylinder.points_to.of(1) != cylinder.LOW_BUT_TIGHT)
                & ~(number("leakdown").of(1).known & word("mark_leakdown").of(1).known),
                POSSIBLE,
                lambda bench, _: (
                    f"The only cylinder is low ({bench.reading('compression_dry', 1)}, "
                    f"{bench.reading('site_compression_min')} needed here): it may be a valve."
                ),
                "all low, not yet told",
                "Leak-down test, or the wet test and then the valve timing marks",
                waits_for=("readiness",),
                cylinders=lambda bench, _: (1,),
                support=(dry_column.known, number("site_compression_min").known),
            ),
            Sign(
                not_gauged & (needle == "evenly spaced drops"),
                POSSIBLE,
                _needle_alone("The needle drops at even intervals: one cylinder fails, most often a valve."),
                "needle drops evenly",
                GAUGE_ALL,
                caution="cranking",
                waits_for=("readiness",),
                support=(number("idle_vacuum_low").known, number("idle_vacuum_high").known),
            ),
        ),
        in_short="Check the valve clearance first; if it is right, lift the head",
        after_test=_step_once_heard("leaking_valve", cylinder.EXHAUST_VALVE, cylinder.INTAKE_VALVE),
        cylinder_signs=(
            *_heard("leaking_valve", cylinder.EXHAUST_VALVE, cylinder.INTAKE_VALVE),
            *_gauge_signs(
                "leaking_valve",
                cylinder.VALVE,
                cylinder.RINGS_OR_VALVE,
                brought_little,
                "wet test gains little",
                cylinder.supports_valve > 0,
                TRUE,
            ),
        ),
        cleared=heard_elsewhere(cylinder.EXHAUST_VALVE, cylinder.INTAKE_VALVE)
        | wet_says(RECOVERS)
        | (~wet_says(LITTLE_GAIN) & sound),
        hinted=wet_says(LITTLE_GAIN) | (needle == "evenly spaced drops"),
        replaced_by=("worn_rings", "head_gasket", "general_wear", "valve_timing"),
        recheck=("after_compression", "after_leakdown"),
    ),
    Cause(
        id="head_gasket",
        common=2.5,
        deciding=(
            "dry compression",
            "wet compression",
            "leak-down",
        ),
        shows={
            "idle vacuum": {"wide regular swing": 0.65, "evenly spaced drops": 0.15},
            "dry compression": {"neighbours equally low": 0.85, "low in one or some": 0.08},
            "wet compression": {"little gain": 0.9},
            "leak-down": {"next cylinder or coolant": 0.92},
            "plugs": {"coolant traces": 0.3},
            "speed drop": {"a weak cylinder": 0.8},
            "exhaust gas": {"unburned charges": 0.4},
            "cranking vacuum": {"low or slow to rise": 0.25},
            "readiness": {"too hot": 0.15},
        },
        complaints=("overheats", "rough idle", "misfires", "lacks power", "hard starting", "does not start"),
        system="compression",
        shown_as="Head gasket leaking between cylinders",
        customer_words="The cylinder head gasket leaked between cylinders",
        decided_by=(
            "two neighbours on one bank equally low (within {equal_neighbours} of each other) with little wet gain; or leakage heard at "
            "the next cylinder or in the coolant"
        ),
        supported_by="wide regular swing of the needle; coolant traces on the plug",
        spoken_against_by="neighbours differ widely",
        next_step="Leak-down on both cylinders, listen at the neighbour and watch the coolant",
        after_test=_step_once_heard("head_gasket", cylinder.GASKET),
        caution="compressed air",
        signs=(
            Sign(
                not_gauged & (needle == "wide regular swing"),
                POSSIBLE,
                _needle_alone(
                    "The needle swings wide and regularly: two neighbours may leak into each other."
                ),
                "needle swings wide",
                GAUGE_ALL,
                caution="cranking",
                waits_for=("readiness",),
                support=(number("idle_vacuum_low").known, number("idle_vacuum_high").known),
            ),
        ),
        cylinder_signs=(
            *_heard("head_gasket", cylinder.GASKET),
            *_gauge_signs(
                "head_gasket",
                cylinder.GASKET,
                cylinder.VALVE_OR_GASKET,
                equally,
                "equal neighbours",
                cylinder.supports_gasket > 0,
                cylinder.has_equal_neighbour,
            ),
            Sign(
                (cylinder.look == "coolant traces") & (word("fault_engine_overheated") == CONFIRMED),
                INDICATED,
                coolant_on_plug,
                "coolant on a plug",
            ),
            Sign(cylinder.look == "coolant traces", POSSIBLE, coolant_on_plug, "coolant on a plug"),
        ),
        cleared=heard_elsewhere(cylinder.GASKET)
        | wet_says(RECOVERS)
        | (
            (cylinder.look != "coolant traces")
            & ~cylinder.place_is_known
            & (sound | (wet_counts & cylinder.neighbours_differ))
        ),
        hinted=(cylinder.look == "coolant traces") | (needle == "wide regular swing"),
        replaced_by=("worn_rings", "leaking_valve", "general_wear", "valve_timing"),
        recheck=("after_compression", "after_leakdown"),
    ),
)
