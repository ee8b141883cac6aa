"""What each cylinder points to: wet gain share, neighbours, leak-down, supporting signs, speed drop.

Wet gain share = ((wet - dry) - usual gain) / shortfall. A half or more: rings. Under a fifth: a valve, or the head
gasket where a neighbour is equally low and gains as little. The leak-down test outweighs the wet test.
Source: common practice; see docs/sources.md.
"""

from __future__ import annotations

from workbook_tools.language.expressions import (
    BLANK,
    CYLINDERS,
    NO,
    YES,
    Cond,
    Node,
    column,
    constant,
    either,
    joined,
    number,
    table,
    word,
    words_for,
    yes_if,
    yes_or_no,
)
from workbook_tools.language.measures import COMPRESSION, NONE, SPEED
from workbook_tools.language.model import OUT_OF_LIMITS, Measure, Result
from workbook_tools.sheets.compression_results import (
    LITTLE_GAIN,
    LOW,
    RECOVERS,
    REPEAT,
    SOUND,
    all_low,
    counts,
    dry,
    dry_column,
    good_level,
    how_many_low,
    is_low,
    least,
)
from workbook_tools.sheets.readings import is_inside

OPEN = "open"
RINGS, VALVE, GASKET = "rings", "valve", "head gasket"
EXHAUST_VALVE, INTAKE_VALVE = "exhaust valve", "intake valve"
PLACE_UNKNOWN = "leaks, place not heard"
LOW_BUT_TIGHT = "low but tight: repeat both"
WET_NEXT = "wet test or leak-down next"
ALL_LOW = "all cylinders low"
VALVE_OR_GASKET, RINGS_OR_VALVE = "valve or head gasket", "rings or valve"
#: What a leak over the limit means by where it is heard (FAA-H-8083-32 Ch. 10, from memory; TM 5-3805-260-24 in part).
LEAK_PLACE_MEANS = {
    "exhaust": EXHAUST_VALVE,
    "intake": INTAKE_VALVE,
    "oil filler": RINGS,
    "coolant": GASKET,
    "next cylinder": GASKET,
}

wet, gain = number("compression_wet"), number("wet_gain")
shortfall, small = number("compression_shortfall"), word("small_shortfall")
share, share_least = number("wet_gain_share"), number("wet_gain_share_least")
wet_verdict, wet_points_to = word("wet_verdict"), word("wet_points_to")
leak_means, points_to = word("leak_means"), word("points_to")
before, after = word("equal_before"), word("equal_after")


def per_cylinder(name: str, label: str, expression: Node, measure: Measure = NONE, **more: object) -> Result:
    """A result that repeats with the cylinders."""
    return Result(name, label, expression, measure, per="cylinder", **more)  # type: ignore[arg-type]


# --- wet test --------------------------------------------------------------------------------------------------------


def gain_share(usual: str) -> Node:
    """Share of the shortfall that oil made good beyond the usual gain."""
    return ((gain - number(usual)) / shortfall).round(6).where(shortfall > 0)


compared_line, margin = number("compression_comparison_line"), number("margin_compression_dry")
compared_low = dry < compared_line
gauge_decides = abs(margin) < number("compression_gauge_tolerance").or_zero
from_the_limit = table((all_low == YES, least.or_zero - dry), otherwise=shortfall)


def equal_neighbour(step: int) -> Node:
    """How the neighbour on one side took the wet test, where it is equally low; blank where it is not."""
    near = abs(dry - dry.beside(step)) <= constant("equal_neighbours")
    both_low = (is_low == LOW) & (is_low.beside(step) == LOW)
    theirs = wet_verdict.beside(step)
    return table((both_low & near & theirs.known, theirs), (both_low & near, OPEN))


def differs_or_ends(step: int) -> Cond:
    """The neighbour on one side reads another pressure, or the bank ends there (every cylinder has a mark)."""
    return word("mark_compression_dry").beside(step).missing | (
        abs(dry - dry.beside(step)) > constant("equal_neighbours")
    )


#: Every neighbour was gauged, and none is equal.
neighbours_differ = differs_or_ends(-1) & differs_or_ends(1) & (dry.beside(-1).known | dry.beside(1).known)


# --- what it points to -----------------------------------------------------------------------------------------------

leaks = word("mark_leakdown") == OUT_OF_LIMITS
leak_place, leakages = word("leak_heard_at"), column("leakdown")
tester_doubted = word("tester_doubted") == YES
#: The median of the other cylinders' leakages, for one that leaks more than most: it stands above them in the row.
others_leak = (
    leakages.large((leakages.count() / 2).floor() + 1)
    + leakages.large(((leakages.count() + 1) / 2).floor() + 1)
) / 2
stands_out = (number("leakdown") >= constant("large_leak") * others_leak) & (
    number("leakdown") >= constant("half_of_limit") * number("spec_leakdown_max")
)
#: A sound engine leaks a little past its rings: heard at the oil filler in limits is no sign.
HINTS = {place: means for place, means in LEAK_PLACE_MEANS.items() if place not in ("oil filler", "coolant")}
leak_hint = word("leak_hint")
hint_agrees = (
    leak_hint.is_in(EXHAUST_VALVE, INTAKE_VALVE) & wet_points_to.is_in(VALVE, VALVE_OR_GASKET, RINGS_OR_VALVE)
) | ((leak_hint == GASKET) & wet_points_to.is_in(GASKET, VALVE_OR_GASKET))
#: A leak-down reading in limits says that the cylinder is tight.
leak_is_tight = is_inside("leakdown") & (leak_place != "coolant") & ~hint_agrees
leak_is_tight &= ~(leak_hint.known & (wet_points_to == WET_NEXT))
place_is_known = leak_means.known & (leak_means != PLACE_UNKNOWN)
gauge_is_silent = wet_points_to.missing | (wet_points_to == WET_NEXT)
stands_whatever_leaks = (
    wet_points_to.missing
    | (wet_points_to == REPEAT)
    | ((wet_points_to == ALL_LOW) & (wet_verdict != RECOVERS))
)

first, look, needle = number("first_stroke_share"), word("plug_look"), word("needle_judged")
builds_up, stays_low = first < constant("builds_up_share"), first >= constant("builds_up_share")
has_equal_neighbour = before.known | after.known
supports_rings = (
    builds_up.as_number + (look == "oily").as_number + (word("snap_supports_rings") == YES).as_number
)
supports_valve = stays_low.as_number + (needle == "evenly spaced drops").as_number
supports_gasket = (has_equal_neighbour & (look == "coolant traces")).as_number
supports_gasket += (has_equal_neighbour & (needle == "wide regular swing")).as_number

WET_AND_LEAK = (
    per_cylinder(
        "compression_shortfall", "Shortfall", (good_level - dry).round(6).where(is_low == LOW), COMPRESSION
    ),
    per_cylinder("wet_gain", "Wet gain", (wet - dry).round(6), COMPRESSION),
    per_cylinder("wet_gain_share", "Share of shortfall", gain_share("usual_gain_least"), percent=True),
    per_cylinder(
        "points_to",
        "Points to",
        table(
            (leak_means.known & ((leak_means != PLACE_UNKNOWN) | gauge_is_silent), leak_means),
            (stands_whatever_leaks, wet_points_to),
            (leak_is_tight, LOW_BUT_TIGHT),
            (wet_points_to.is_in(WET_NEXT, ALL_LOW), wet_points_to),
            (small == YES, joined("possibly ", wet_points_to)),
            otherwise=wet_points_to,
        ),
        help="leak-down outweighs the wet test",
        wide=True,
    ),
    per_cylinder(
        "sound_gain",
        "Wet gain where sound",
        gain.where((is_low == SOUND) & (gain >= 0)),
        COMPRESSION,
        help="what oil raises a good cylinder by; a loss is a slip and tells nothing",
        working=True,
    ),
    per_cylinder(
        "wet_gain_share_least", "Share, at least", gain_share("usual_gain_most"), percent=True, working=True
    ),
    per_cylinder(
        "wet_verdict",
        "Wet test says",
        table(
            (share.missing | share_least.missing, BLANK),
            (gain < 0, OPEN),
            (share_least >= constant("rings_share"), RECOVERS),
            (share < constant("valve_share"), LITTLE_GAIN),
            otherwise=OPEN,
        ),
        working=True,
    ),
    per_cylinder(
        "small_shortfall",
        "Too small to tell",
        yes_if(
            shortfall.known
            & ((from_the_limit < constant("small_shortfall")) | (gauge_decides & ~compared_low))
        ),
        help="or so near the only limit it breaks that the gauge decides",
        working=True,
    ),
    per_cylinder("equal_before", "Equally low neighbour before", equal_neighbour(-1), working=True),
    per_cylinder("equal_after", "Equally low neighbour after", equal_neighbour(+1), working=True),
    per_cylinder(
        "leak_means",
        "Leak means",
        table(
            (~leaks | tester_doubted, BLANK),
            otherwise=words_for(leak_place, LEAK_PLACE_MEANS, otherwise=PLACE_UNKNOWN),
        ),
        working=True,
    ),
    per_cylinder(
        "wet_points_to",
        "Dry and wet point to",
        table(
            (is_low != LOW, BLANK),
            (counts == NO, REPEAT),
            (all_low == YES, ALL_LOW),
            (wet_verdict.missing, WET_NEXT),
            (wet_verdict == RECOVERS, RINGS),
            (wet_verdict == OPEN, RINGS_OR_VALVE),
            ((before == LITTLE_GAIN) | (after == LITTLE_GAIN), GASKET),
            ((before == OPEN) | (after == OPEN), VALVE_OR_GASKET),
            otherwise=VALVE,
        ),
        working=True,
    ),
    per_cylinder(
        "leak_hint",
        "Leak stands out",
        table((~is_inside("leakdown") | ~stands_out, BLANK), otherwise=words_for(leak_place, HINTS)),
        help="in limits, but three times the others' and heard at a place",
        working=True,
    ),
    per_cylinder(
        "low_and_heard",
        "Low, and the leak heard",
        yes_if((is_low == LOW) & place_is_known),
        working=True,
    ),
)


# --- speed drop ------------------------------------------------------------------------------------------------------

drops, drop, sound_drop = column("speed_drop"), number("speed_drop"), number("sound_drop")
upper_half = (drops.count() / 2).round_up()

SPEED_DROP = (
    per_cylinder(
        "drop_is_weak",
        "Weak or even",
        table(
            (drop.missing | ~(sound_drop > 0), BLANK),
            (drop < (constant("weak_drop_share") * sound_drop).round(6), "weak"),
            otherwise="even",
        ),
    ),
)

BALANCE = (
    Result(
        "sound_drop",
        "Sound drop",
        table(
            (drops.count() < 3, BLANK),
            otherwise=(
                drops.large(((upper_half + 1) / 2).floor()) + drops.large((upper_half / 2).floor() + 1)
            )
            / 2,
        ),
        SPEED,
        help="median of the upper half; under half of it a cylinder is weak",
    ),
)

none_heard = either(*(column("leak_heard_at").any_is(place) for place in LEAK_PLACE_MEANS))
all_gauged_sound = (dry_column.count() == CYLINDERS) & (how_many_low == 0)
at_rings, leaky = column("leak_means").count_of(RINGS), column("mark_leakdown").count_of(OUT_OF_LIMITS)
all_but_one = table((CYLINDERS > 3, CYLINDERS - 1), otherwise=CYLINDERS)
vacuum_is_good = is_inside("idle_vacuum_mean") & is_inside("cranking_vacuum")

EVEN = (
    Result(
        "tester_doubted",
        "Leak-down tester in doubt",
        yes_if((leaky == CYLINDERS) & ~none_heard & all_gauged_sound),
        help="all cylinders leak over the limit, heard nowhere, though compression is in limits",
        working=True,
    ),
    Result(
        "gauge_doubted",
        "Compression gauge in doubt",
        yes_if(
            (all_low == YES)
            & vacuum_is_good
            & (column("wet_verdict").count_of(RECOVERS) < how_many_low)
            & (leaky == 0)
        ),
        help="all cylinders low, though the vacuum at idle and while cranking is good",
        working=True,
    ),
    Result(
        "rings_everywhere",
        "Rings leak everywhere",
        yes_if((CYLINDERS > 1) & (at_rings >= all_but_one)),
        help="over the limit at the oil filler in all cylinders, all but one from four up",
        working=True,
    ),
    Result(
        "compression_even",
        "Compression even",
        yes_or_no(
            (dry_column.count() == CYLINDERS)
            & (how_many_low == 0)
            & ((column("mark_leakdown").count_of(OUT_OF_LIMITS) == 0) | tester_doubted)
        ),
        help="every cylinder was gauged dry, none is low and none leaks over its limit",
        working=True,
    ),
    Result(
        "compression_in_limits",
        "Compression in limits",
        yes_or_no(
            (word("compression_even") == YES)
            & number("site_compression_min").known
            & (column("margin_compression_dry").count_negative() == 0)
        ),
        help="even, with a figure that says what the cylinders should reach, and none above its range",
        working=True,
    ),
)
