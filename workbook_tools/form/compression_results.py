"""What the dry compression readings give, each result as a worksheet formula and as the same in Python.

A cylinder is low by comparison with the highest or by the site's minimum; its shortfall is measured from the good
level; oil raises a sound cylinder too, so the usual gain comes off a wet gain before it is held against the
shortfall. Source of the rules: common practice; the published rules they agree with are listed in docs/sources.md.
"""

from __future__ import annotations

from collections.abc import Callable

from workbook_tools.language.measures import COMPRESSION, NONE, PERCENT
from workbook_tools.language.model import OUT_OF_LIMITS, Result, Shape, Value
from workbook_tools.language.values import Values
from workbook_tools.science.sheet_math import median, sheet_round

Compute = Callable[[Values, int | None], Value]

LOW, SOUND = "low", "sound"
RECOVERS, LITTLE_GAIN = "recovers", "little gain"
REPEAT = "repeat the test"


# --- test conditions -------------------------------------------------------------------------------------------------


def conditions(v: Values, _: int | None) -> Value:
    """Whether the compression test was made under test conditions: met, not met, not stated, or blank."""
    throttle, plugs, strokes = (
        v.text("throttle_held_open"),
        v.text("all_plugs_out"),
        v.number("compression_strokes"),
    )
    if throttle == "no" or plugs == "no" or (strokes is not None and strokes < v.constant("least_strokes")):
        return "not met"
    if throttle == "yes" and plugs == "yes" and strokes is not None:
        return "met"
    return "not stated" if v.column("compression_dry") else None


def starter_slow(v: Values, _: int | None) -> Value:
    """'yes' where the starter turned too slowly or its battery fell too far for a compression test."""
    marks = v.text("mark_cranking_speed"), v.text("mark_battery_cranking")
    return "yes" if OUT_OF_LIMITS in marks else None


def counts(v: Values, _: int | None) -> Value:
    """Whether the compression readings count: not where conditions were not met or the starter was slow."""
    return "no" if v.text("compression_conditions") == "not met" or v.text("starter_slow") == "yes" else "yes"


CONDITIONS = (
    Result(
        "compression_conditions",
        "Test conditions",
        '=IF(OR(throttle_held_open="no",all_plugs_out="no",'
        'IF(COUNT(compression_strokes)=1,compression_strokes<{least_strokes},FALSE)),"not met",'
        'IF(AND(throttle_held_open="yes",all_plugs_out="yes",COUNT(compression_strokes)=1),"met",'
        'IF(COUNT(all_compression_dry)>0,"not stated","")))',
        conditions,
        help="throttle open, all plugs out, at least 4 strokes",
    ),
    Result(
        "starter_slow",
        "Starter too slow",
        f'=IF(OR(mark_cranking_speed="{OUT_OF_LIMITS}",mark_battery_cranking="{OUT_OF_LIMITS}"),"yes","")',
        starter_slow,
        help="from sheet Warm-up",
    ),
    Result(
        "compression_counts",
        "Readings count",
        '=IF(OR(compression_conditions="not met",starter_slow="yes"),"no","yes")',
        counts,
        working=True,
    ),
)


# --- dry test --------------------------------------------------------------------------------------------------------


def is_low(v: Values, n: int | None) -> Value:
    """Low where under the comparison line or the site's minimum, else sound."""
    dry, line = v.number("compression_dry", n), v.number("compression_low_line")
    if dry is None:
        return None
    return LOW if line is not None and dry < line else SOUND


def below_highest(v: Values, n: int | None) -> Value:
    """How far the cylinder is below the highest."""
    dry, highest = v.number("compression_dry", n), v.number("compression_highest")
    return None if dry is None or highest is None else sheet_round(highest - dry, 6)


def first_share(v: Values, n: int | None) -> Value:
    """First stroke as a share of the final reading: low where a cylinder builds up, high where it stays low."""
    first, dry = v.number("compression_first", n), v.number("compression_dry", n)
    return None if first is None or dry is None or dry <= 0 else sheet_round(first / dry, 6)


def under_min(v: Values, n: int | None) -> Value:
    """The dry reading where it is under the site's minimum."""
    dry, least = v.number("compression_dry", n), v.number("site_compression_min")
    return dry if dry is not None and least is not None and dry < least else None


def over_max(v: Values, n: int | None) -> Value:
    """The dry reading where it is over the site's maximum by the gauge's limit of error or more."""
    dry, most = v.number("compression_dry", n), v.number("site_compression_max")
    tolerance = v.number("compression_gauge_tolerance") or 0.0
    if dry is None or most is None or dry <= most or dry - most < tolerance:
        return None
    return dry


def sound_dry(v: Values, n: int | None) -> Value:
    """The dry reading of a cylinder that is not low."""
    return v.number("compression_dry", n) if v.text("compression_is_low", n) == SOUND else None


DRY = (
    Result(
        "compression_is_low",
        "Low or sound",
        f'=IF(COUNT(compression_dry_#)=0,"",IF(COUNT(compression_low_line)=0,"{SOUND}",'
        f'IF(compression_dry_#<compression_low_line,"{LOW}","{SOUND}")))',
        is_low,
        per="cylinder",
    ),
    Result(
        "below_highest",
        "Below the highest by",
        '=IF(COUNT(compression_dry_#)=0,"",ROUND(compression_highest-compression_dry_#,6))',
        below_highest,
        COMPRESSION,
        per="cylinder",
    ),
    Result(
        "first_stroke_share",
        "First stroke, share of the end",
        '=IF(COUNT(compression_first_#,compression_dry_#)<2,"",'
        'IF(compression_dry_#<=0,"",ROUND(compression_first_#/compression_dry_#,6)))',
        first_share,
        NONE,
        per="cylinder",
        percent=True,
    ),
    Result(
        "compression_under_min",
        "Under the site's minimum",
        '=IF(COUNT(compression_dry_#,site_compression_min)<2,"",'
        'IF(compression_dry_#<site_compression_min,compression_dry_#,""))',
        under_min,
        COMPRESSION,
        per="cylinder",
        working=True,
    ),
    Result(
        "compression_over_max",
        "Over the site's maximum",
        '=IF(COUNT(compression_dry_#,site_compression_max)<2,"",IF(OR(compression_dry_#<=site_compression_max,'
        'compression_dry_#-site_compression_max<SUM(compression_gauge_tolerance)),"",compression_dry_#))',
        over_max,
        COMPRESSION,
        per="cylinder",
        working=True,
    ),
    Result(
        "sound_dry",
        "Dry reading where sound",
        f'=IF(compression_is_low_#="{SOUND}",compression_dry_#,"")',
        sound_dry,
        COMPRESSION,
        per="cylinder",
        working=True,
    ),
)


# --- all cylinders together ------------------------------------------------------------------------------------------


def extreme(pick: Callable[[list[float]], float]) -> Compute:
    """Highest or lowest dry reading."""

    def compute(v: Values, _: int | None) -> Value:
        readings = v.column("compression_dry")
        return pick(readings) if readings else None

    return compute


def spread(v: Values, _: int | None) -> Value:
    """Highest dry reading less the lowest."""
    highest, lowest = v.number("compression_highest"), v.number("compression_lowest")
    return None if highest is None or lowest is None else sheet_round(highest - lowest, 6)


def lowest_share(v: Values, _: int | None) -> Value:
    """Lowest dry reading as a percentage of the highest."""
    highest, lowest = v.number("compression_highest"), v.number("compression_lowest")
    return None if not highest or lowest is None else sheet_round(100 * lowest / highest, 6)


def comparison_line(v: Values, _: int | None) -> Value:
    """Lowest reading that comparison with the highest cylinder allows."""
    highest = v.number("compression_highest")
    largest, percent = v.number("spec_compression_spread"), v.number("spec_lowest_percent")
    if highest is None or (largest is None and percent is None):
        return None
    lines = [highest - largest] if largest is not None else []
    lines += [highest * percent / 100] if percent is not None else []
    return sheet_round(max(lines), 6)


def low_line(v: Values, _: int | None) -> Value:
    """A cylinder under this is low: the comparison line or the site's minimum, whichever is higher."""
    lines = [
        x
        for x in (v.number("compression_comparison_line"), v.number("site_compression_min"))
        if x is not None
    ]
    return max(lines) if lines and v.column("compression_dry") else None


def all_low(v: Values, _: int | None) -> Value:
    """'yes' where all cylinders (all but one from four up) are under the site's minimum and even among themselves."""
    under, cylinders = v.column("compression_under_min"), v.shape.cylinders
    if len(v.column("compression_dry")) < cylinders:
        return None
    if len(under) < (cylinders - 1 if cylinders > 3 else cylinders):
        return "no"
    largest, percent = v.number("spec_compression_spread"), v.number("spec_lowest_percent")
    if largest is not None and sheet_round(max(under) - min(under), 6) > largest:
        return "no"
    if percent is not None and sheet_round(100 * min(under) - percent * max(under), 6) < 0:
        return "no"
    return "yes"


def all_low_formula(shape: Shape, _: int | None) -> str:
    """The same for a shape: how many cylinders there are is fixed when the form is made."""
    enough = shape.cylinders - 1 if shape.cylinders > 3 else shape.cylinders
    under = "all_compression_under_min"
    return (
        f'=IF(COUNT(all_compression_dry)<{shape.cylinders},"",IF(COUNT({under})<{enough},"no",'
        f"IF(OR(IF(COUNT(spec_compression_spread)=1,ROUND(MAX({under})-MIN({under}),6)>spec_compression_spread,FALSE),"
        f"IF(COUNT(spec_lowest_percent)=1,ROUND(100*MIN({under})-spec_lowest_percent*MAX({under}),6)<0,FALSE)),"
        '"no","yes")))'
    )


def good_level(v: Values, _: int | None) -> Value:
    """Median of the sound cylinders; where all are low, the site's minimum or the middle of its range."""
    sound, least, most = (
        v.column("sound_dry"),
        v.number("site_compression_min"),
        v.number("site_compression_max"),
    )
    if not v.column("compression_dry"):
        return None
    if sound and v.text("compression_all_low") != "yes":
        return median(sound)
    if least is None:
        return None
    return (least + most) / 2 if most is not None else least


def usual_gain(most: bool) -> Compute:
    """Least or most that oil usually raises a sound cylinder here."""

    def compute(v: Values, _: int | None) -> Value:
        gains, level = v.column("sound_gain"), v.number("compression_good_level")
        if gains:
            return median(gains)
        if level is None:
            return None
        return sheet_round(v.constant("usual_gain_share") * level, 6) if most else 0.0

    return compute


def overall(v: Values, _: int | None) -> Value:
    """One phrase on the whole test."""
    taken, cylinders = len(v.column("compression_dry")), v.shape.cylinders
    low = v.count_text("compression_is_low", LOW)
    if not taken:
        return None
    if v.text("compression_counts") == "no":
        return REPEAT
    if v.text("compression_all_low") == "yes":
        if v.count_text("wet_verdict", RECOVERS) == low:
            return "all low: wear in all cylinders"
        return (
            "all low: valve timing"
            if v.count_text("wet_verdict", LITTLE_GAIN) == low
            else "all low: wet test on each"
        )
    if taken < cylinders:
        return "not finished"
    return f"{low} low" if low else "none low"


def overall_formula(shape: Shape, _: int | None) -> str:
    """The same for a shape."""
    low = f'COUNTIF(all_compression_is_low,"{LOW}")'
    return (
        f'=IF(COUNT(all_compression_dry)=0,"",IF(compression_counts="no","{REPEAT}",IF(compression_all_low="yes",'
        f'IF(COUNTIF(all_wet_verdict,"{RECOVERS}")={low},"all low: wear in all cylinders",'
        f'IF(COUNTIF(all_wet_verdict,"{LITTLE_GAIN}")={low},"all low: valve timing","all low: wet test on each")),'
        f'IF(COUNT(all_compression_dry)<{shape.cylinders},"not finished",IF({low}=0,"none low",{low}&" low")))))'
    )


ALL_CYLINDERS = (
    Result(
        "compression_highest",
        "Highest",
        '=IF(COUNT(all_compression_dry)=0,"",MAX(all_compression_dry))',
        extreme(max),
        COMPRESSION,
    ),
    Result(
        "compression_lowest",
        "Lowest",
        '=IF(COUNT(all_compression_dry)=0,"",MIN(all_compression_dry))',
        extreme(min),
        COMPRESSION,
    ),
    Result(
        "compression_spread",
        "Difference",
        '=IF(COUNT(all_compression_dry)=0,"",ROUND(compression_highest-compression_lowest,6))',
        spread,
        COMPRESSION,
    ),
    Result(
        "compression_lowest_share",
        "Lowest as a share of the highest",
        '=IF(SUM(compression_highest)=0,"",ROUND(100*compression_lowest/compression_highest,6))',
        lowest_share,
        PERCENT,
    ),
    Result("compression_overall", "The test says", overall_formula, overall, wide=True),
    Result(
        "compression_comparison_line",
        "Lowest that comparison allows",
        '=IF(OR(COUNT(compression_highest)=0,COUNT(spec_compression_spread,spec_lowest_percent)=0),"",'
        "ROUND(MAX(IF(COUNT(spec_compression_spread)=1,compression_highest-spec_compression_spread,-9999),"
        "IF(COUNT(spec_lowest_percent)=1,compression_highest*spec_lowest_percent/100,-9999)),6))",
        comparison_line,
        COMPRESSION,
        working=True,
    ),
    Result(
        "compression_low_line",
        "Low below this",
        '=IF(OR(COUNT(all_compression_dry)=0,COUNT(compression_comparison_line,site_compression_min)=0),"",'
        "MAX(compression_comparison_line,site_compression_min))",
        low_line,
        COMPRESSION,
        help="the highest less the allowed difference, the allowed share, or the site's minimum",
    ),
    Result("compression_all_low", "All cylinders low", all_low_formula, all_low, working=True),
    Result(
        "compression_good_level",
        "Good level",
        '=IF(COUNT(all_compression_dry)=0,"",IF(AND(COUNT(all_sound_dry)>0,compression_all_low<>"yes"),'
        'MEDIAN(all_sound_dry),IF(COUNT(site_compression_min)=0,"",IF(COUNT(site_compression_max)=1,'
        "(site_compression_min+site_compression_max)/2,site_compression_min))))",
        good_level,
        COMPRESSION,
        help="median of the sound cylinders; shortfalls are measured from it",
    ),
    Result(
        "usual_gain_least",
        "Usual wet gain, at least",
        '=IF(COUNT(all_sound_gain)>0,MEDIAN(all_sound_gain),IF(COUNT(compression_good_level)=0,"",0))',
        usual_gain(most=False),
        COMPRESSION,
        working=True,
    ),
    Result(
        "usual_gain_most",
        "Usual wet gain, at most",
        '=IF(COUNT(all_sound_gain)>0,MEDIAN(all_sound_gain),IF(COUNT(compression_good_level)=0,"",'
        "ROUND({usual_gain_share}*compression_good_level,6)))",
        usual_gain(most=True),
        COMPRESSION,
        working=True,
    ),
)
