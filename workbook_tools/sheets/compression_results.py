"""What the dry compression readings give.

A cylinder is low by comparison with the highest or by the site's minimum; its shortfall is measured from the good
level; oil raises a sound cylinder too, so the usual gain comes off a wet gain before it is held against the
shortfall. Source of the rules: common practice; the published rules they agree with are listed in docs/sources.md.
"""

from __future__ import annotations

from workbook_tools.language.expressions import (
    BLANK,
    CYLINDERS,
    NO,
    YES,
    Choose,
    Column,
    Cond,
    all_known,
    column,
    constant,
    joined,
    largest,
    number,
    table,
    word,
    yes_if,
)
from workbook_tools.language.measures import COMPRESSION, NONE, PERCENT
from workbook_tools.language.model import OUT_OF_LIMITS, Result

LOW, SOUND = "low", "sound"
RECOVERS, LITTLE_GAIN = "recovers", "little gain"
REPEAT = "repeat the test"
MET, NOT_MET, NOT_STATED = "met", "not met", "not stated"

dry, dry_column = number("compression_dry"), column("compression_dry")
is_low, low_column = word("compression_is_low"), column("compression_is_low")
line, good_level = number("compression_low_line"), number("compression_good_level")
least, most = number("site_compression_min"), number("site_compression_max")
highest, lowest = number("compression_highest"), number("compression_lowest")
spread, percent = number("spec_compression_spread"), number("spec_lowest_percent")
conditions, counts = word("compression_conditions"), word("compression_counts")
all_low = word("compression_all_low")


# --- test conditions -------------------------------------------------------------------------------------------------

throttle, plugs, strokes = word("throttle_held_open"), word("all_plugs_out"), number("compression_strokes")
too_few_strokes = strokes < constant("least_strokes")
starter_slow = (word("mark_cranking_speed") == OUT_OF_LIMITS) | (
    word("mark_battery_cranking") == OUT_OF_LIMITS
)

CONDITIONS = (
    Result(
        "compression_conditions",
        "Test conditions",
        table(
            ((throttle == NO) | (plugs == NO) | too_few_strokes, NOT_MET),
            ((throttle == YES) & (plugs == YES) & strokes.known, MET),
            (dry_column.known, NOT_STATED),
        ),
        help="met: throttle wide open, all plugs out",
    ),
    Result("starter_slow", "Starter too slow", yes_if(starter_slow), help="slow: see Warm-up"),
    Result(
        "compression_counts",
        "Readings count",
        table(((conditions == NOT_MET) | (word("starter_slow") == YES), NO), otherwise=YES),
        working=True,
    ),
)


# --- dry test --------------------------------------------------------------------------------------------------------

over_max = (dry > most) & ~(dry - most < number("compression_gauge_tolerance").or_zero)

DRY = (
    Result(
        "compression_is_low",
        "Low or sound",
        table((dry.missing, BLANK), (dry < line, LOW), otherwise=SOUND),
        per="cylinder",
    ),
    Result("below_highest", "Below the highest by", (highest - dry).round(6), COMPRESSION, per="cylinder"),
    Result(
        "first_stroke_share",
        "First stroke, share",
        (number("compression_first") / dry).round(6).where(dry > 0),
        NONE,
        per="cylinder",
        help="low where the cylinder builds up over the strokes, high where it stays low",
        percent=True,
    ),
    Result(
        "compression_under_min",
        "Under the site's minimum",
        dry.where(dry < least),
        COMPRESSION,
        per="cylinder",
        working=True,
    ),
    Result(
        "compression_over_max",
        "Over the site's maximum",
        dry.where(over_max),
        COMPRESSION,
        per="cylinder",
        help="by the gauge's limit of error or more",
        working=True,
    ),
    Result(
        "compression_above_max",
        "Above the site's maximum",
        dry.where(dry > most),
        COMPRESSION,
        per="cylinder",
        working=True,
    ),
    Result(
        "compression_not_above",
        "Not above the site's maximum",
        dry.where(~(dry > most)),
        COMPRESSION,
        per="cylinder",
        working=True,
    ),
    Result(
        "sound_dry",
        "Dry reading where sound",
        dry.where(is_low == SOUND),
        COMPRESSION,
        per="cylinder",
        working=True,
    ),
)


# --- all cylinders together ------------------------------------------------------------------------------------------

under = column("compression_under_min")
enough_low = table((CYLINDERS > 3, CYLINDERS - 1), otherwise=CYLINDERS)
uneven = (under.max() - under.min() > spread) | (100 * under.min() < percent * under.max())
sound, gains = column("sound_dry"), column("sound_gain")
wet_verdicts, how_many_low = column("wet_verdict"), low_column.count_of(LOW)


above, not_above = column("compression_above_max"), column("compression_not_above")
#: Carbon raises some cylinders and makes sound ones look low: those above the maximum are no measure, as long as they
#: are not the most.
most_above = 2 * above.count() > dry_column.count()


def reference(high: Column, others: Column, doubted: Cond) -> Choose:
    """The cylinder that the others are held against: the highest not above the maximum, else the lowest of those above."""
    return table((doubted, high.min()), otherwise=others.max())


def comparison_line(of_all: str) -> table:
    """The lowest reading that comparison with the highest of all cylinders allows."""
    top = number(of_all)
    return largest(top - spread, top * percent / 100).round(6)


ALL_CYLINDERS = (
    Result("compression_highest", "Highest", dry_column.max(), COMPRESSION),
    Result("compression_lowest", "Lowest", dry_column.min(), COMPRESSION),
    Result("compression_spread", "Difference", (highest - lowest).round(6), COMPRESSION),
    Result(
        "compression_lowest_share",
        "Lowest as a share of the highest",
        (100 * lowest / highest).round(6),
        PERCENT,
    ),
    Result(
        "compression_overall",
        "The test says",
        table(
            (dry_column.missing, BLANK),
            (counts == NO, REPEAT),
            (
                (all_low == YES) & (wet_verdicts.count_of(RECOVERS) == how_many_low),
                "all low: wear in all cylinders",
            ),
            (
                (all_low == YES) & (wet_verdicts.count_of(LITTLE_GAIN) == how_many_low),
                "all low: valve timing",
            ),
            (all_low == YES, "all low: wet test on each"),
            (dry_column.count() < CYLINDERS, "not finished"),
            (how_many_low == 0, "none low"),
            (how_many_low == 1, joined("1 low: cylinder ", low_column.numbers_with(LOW))),
            otherwise=joined(how_many_low, " low: cylinders ", low_column.numbers_with(LOW)),
        ),
        wide=True,
    ),
    Result(
        "compression_reference",
        "Compared with",
        reference(above, not_above, most_above),
        COMPRESSION,
        help="the highest that is not above the maximum",
    ),
    Result(
        "reference_doubted",
        "Most are above the maximum",
        yes_if(most_above),
        help="what is low by comparison stays possible",
        working=True,
    ),
    Result(
        "compression_comparison_line",
        "Lowest that comparison allows",
        comparison_line("compression_reference"),
        COMPRESSION,
        working=True,
    ),
    Result(
        "compression_low_line",
        "Low below this",
        largest(number("compression_comparison_line"), least).where(dry_column.known),
        COMPRESSION,
        help="the highest less the allowed difference, the allowed share, or the site's minimum",
    ),
    Result(
        "compression_all_low",
        "All cylinders low",
        table(
            (dry_column.count() < CYLINDERS, BLANK),
            ((under.count() < enough_low) | uneven, NO),
            otherwise=YES,
        ),
        help="all (all but one from four up) are under the site's minimum and even among themselves",
        working=True,
    ),
    Result(
        "compression_good_level",
        "Good level",
        table(
            (dry_column.missing, BLANK),
            (sound.known & (all_low != YES), sound.median()),
            (all_known(least, most), (least + most) / 2),
            otherwise=least,
        ),
        COMPRESSION,
        help="median of the sound cylinders; shortfalls are measured from it",
    ),
    Result(
        "usual_gain_least",
        "Usual wet gain, at least",
        table((gains.known, gains.median()), (good_level.known, 0.0)),
        COMPRESSION,
        working=True,
    ),
    Result(
        "usual_gain_most",
        "Usual wet gain, at most",
        table((gains.known, gains.median()), otherwise=(constant("usual_gain_share") * good_level).round(6)),
        COMPRESSION,
        working=True,
    ),
)
