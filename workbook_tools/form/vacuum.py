"""Sheet Vacuum: what the needle of a manifold vacuum gauge says at idle, raised speed and a snapped throttle."""

from __future__ import annotations

from workbook_tools.language.measures import SPEED, VACUUM
from workbook_tools.language.model import Block, Field, Limits, Result, Shape, Sheet, Value
from workbook_tools.language.values import Values
from workbook_tools.science.sheet_math import sheet_round

NEEDLE = (
    "steady",
    "evenly spaced drops",
    "occasional drops",
    "fast flutter",
    "slow wander",
    "wide regular swing",
)

IDLE_LIMITS = Limits("site_idle_vacuum_min", "site_idle_vacuum_max", "vacuum_gauge_tolerance")

#: What each needle pattern suggests, in the few words that fit beside it (common practice, no source).
NEEDLE_HINTS: dict[str, str] = {
    "steady": "steady: judge it by the range",
    "evenly spaced drops": "one valve or plug: make the compression test",
    "occasional drops": "a valve sticks at times",
    "fast flutter": "guides, after valve clearance is set",
    "slow wander": "idle mixture",
    "wide regular swing": "head gasket: make the compression test",
}


def mean(v: Values, _: int | None) -> Value:
    """Middle of the needle's lowest and highest point."""
    low, high = v.number("idle_vacuum_low"), v.number("idle_vacuum_high")
    return None if low is None or high is None else sheet_round((low + high) / 2, 6)


def swing(v: Values, _: int | None) -> Value:
    """Highest point of the needle less its lowest."""
    low, high = v.number("idle_vacuum_low"), v.number("idle_vacuum_high")
    return None if low is None or high is None else sheet_round(high - low, 6)


def held_fall(v: Values, _: int | None) -> Value:
    """Vacuum lost while the raised speed was held."""
    start, held = v.number("raised_vacuum_start"), v.number("raised_vacuum_held")
    return None if start is None or held is None else sheet_round(start - held, 6)


def needle_judged(v: Values, _: int | None) -> Value:
    """The needle's pattern where it may be judged: not below three cylinders, where a sound needle drops too."""
    return (v.text("needle") or None) if v.shape.cylinders > 2 else None


def snap_supports_rings(v: Values, _: int | None) -> Value:
    """'yes' where the snapped throttle falls to about nothing and rises short of normal (common practice)."""
    low, high, fall = v.number("snap_vacuum_low"), v.number("snap_vacuum_high"), v.number("pressure_fall")
    if low is None or high is None or fall is None:
        return None
    return (
        "yes"
        if low <= v.constant("snap_low") and high < sheet_round(v.constant("snap_high") - fall, 6)
        else "no"
    )


def is_steady(v: Values, _: int | None) -> Value:
    """'yes' where the needle is called steady, or not called anything, and swings no further than a steady one."""
    moved = v.number("idle_vacuum_swing")
    if moved is None:
        return None
    called_steady = v.text("needle") in ("", "steady")
    return "yes" if called_steady and 0 <= moved <= v.constant("steady_swing") else "no"


def very_low(v: Values, _: int | None) -> Value:
    """'yes' where a steady needle stands under six tenths of the site's minimum, 'no' where it stands above."""
    reading, least = v.number("idle_vacuum_mean"), v.number("site_idle_vacuum_min")
    if reading is None or least is None or v.text("idle_is_steady") != "yes":
        return None
    return "yes" if reading < sheet_round(v.constant("very_low_share") * least, 6) else "no"


def needle_suggests(v: Values, _: int | None) -> Value:
    """A few words on what the needle suggests; says so where a wide swing contradicts 'steady'."""
    pattern = v.text("needle")
    if not pattern or v.shape.cylinders < 3:
        return None
    moved = v.number("idle_vacuum_swing")
    if pattern == "steady" and moved is not None and moved > v.constant("steady_swing"):
        return "not steady: it swings too far"
    return NEEDLE_HINTS.get(pattern)


def needle_suggests_formula(shape: Shape, _: int | None) -> str:
    """The same as nested IFs; an empty text below three cylinders, whose needles are never judged."""
    if shape.cylinders < 3:
        return '=""'
    text = '""'
    for pattern, hint in reversed(NEEDLE_HINTS.items()):
        text = f'IF(needle="{pattern}","{hint}",{text})'
    return f'=IF(AND(needle="steady",SUM(idle_vacuum_swing)>{{steady_swing}}),"not steady: it swings too far",{text})'


def needle_judged_formula(shape: Shape, _: int | None) -> str:
    """The same as a formula."""
    return '=needle&""' if shape.cylinders > 2 else '=""'


VACUUM_SHEET = Sheet(
    name="Vacuum",
    purpose="Tee the vacuum gauge into the manifold and read the needle, engine warm, at idle.",
    cost="10 minutes; vacuum gauge, tee, tachometer",
    parts=(
        Block(
            "Warm idle",
            (
                Field(
                    "idle_vacuum_low",
                    "Needle, lowest point",
                    measure=VACUUM,
                    low=0,
                    high=29,
                    limits=IDLE_LIMITS,
                ),
                Field(
                    "idle_vacuum_high",
                    "Needle, highest point",
                    measure=VACUUM,
                    low=0,
                    high=29,
                    limits=IDLE_LIMITS,
                ),
                Field(
                    "needle",
                    "What the needle does",
                    "choice",
                    choices=NEEDLE,
                    help="watch it for half a minute",
                ),
                Result(
                    "idle_vacuum_mean",
                    "Mean of the needle",
                    '=IF(COUNT(idle_vacuum_low,idle_vacuum_high)<2,"",ROUND((idle_vacuum_low+idle_vacuum_high)/2,6))',
                    mean,
                    VACUUM,
                    limits=IDLE_LIMITS,
                ),
                Result(
                    "idle_vacuum_swing",
                    "Swing of the needle",
                    '=IF(COUNT(idle_vacuum_low,idle_vacuum_high)<2,"",ROUND(idle_vacuum_high-idle_vacuum_low,6))',
                    swing,
                    VACUUM,
                ),
                Result(
                    "needle_suggests",
                    "The needle suggests",
                    needle_suggests_formula,
                    needle_suggests,
                    wide=True,
                ),
                Result(
                    "idle_is_steady",
                    "Needle steady",
                    '=IF(COUNT(idle_vacuum_swing)=0,"",IF(AND(OR(needle="",needle="steady"),'
                    'idle_vacuum_swing>=0,idle_vacuum_swing<={steady_swing}),"yes","no"))',
                    is_steady,
                    working=True,
                ),
                Result(
                    "vacuum_very_low",
                    "Steady and very low",
                    '=IF(OR(COUNT(idle_vacuum_mean,site_idle_vacuum_min)<2,idle_is_steady<>"yes"),"",'
                    'IF(idle_vacuum_mean<ROUND({very_low_share}*site_idle_vacuum_min,6),"yes","no"))',
                    very_low,
                    working=True,
                ),
                Result("needle_judged", "Pattern judged", needle_judged_formula, needle_judged, working=True),
            ),
            cautions=("running engine", "exhaust gas", "hot parts"),
        ),
        Block(
            "Raised speed, held",
            (
                Field(
                    "needle_with_speed",
                    "Needle as speed is raised",
                    "choice",
                    choices=("steadies", "no change", "widens", "falls slowly while held"),
                ),
                Field("raised_speed", "Raised speed", measure=SPEED, low=800, high=5000),
                Field("raised_vacuum_start", "Vacuum on reaching it", measure=VACUUM, low=0, high=29),
                Field("raised_vacuum_held", "Vacuum after a minute", measure=VACUUM, low=0, high=29),
                Result(
                    "raised_vacuum_fall",
                    "Vacuum lost while held",
                    '=IF(COUNT(raised_vacuum_start,raised_vacuum_held)<2,"",ROUND(raised_vacuum_start-raised_vacuum_held,6))',
                    held_fall,
                    VACUUM,
                ),
            ),
            cautions=("running engine",),
        ),
        Block(
            "Throttle snapped open and let close",
            (
                Field("snap_vacuum_low", "Falls to", measure=VACUUM, low=0, high=29),
                Field("snap_vacuum_high", "Then rises to", measure=VACUUM, low=0, high=30),
                Result(
                    "snap_supports_rings",
                    "Speaks for worn rings",
                    '=IF(COUNT(snap_vacuum_low,snap_vacuum_high)<2,"",IF(AND(snap_vacuum_low<={snap_low},'
                    'snap_vacuum_high<ROUND({snap_high}-pressure_fall,6)),"yes","no"))',
                    snap_supports_rings,
                ),
            ),
            what_to_do="A sound engine falls to about 2 and rises to about 25 inHg (7 and 85 kPa) at sea level.",
            cautions=("snap throttle",),
        ),
    ),
)
