"""Sheet Vacuum: what the needle of a manifold vacuum gauge says at idle, raised speed and a snapped throttle."""

from __future__ import annotations

from workbook_tools.language.expressions import (
    BLANK,
    CYLINDERS,
    NO,
    YES,
    constant,
    number,
    table,
    word,
    words_for,
)
from workbook_tools.language.measures import SPEED, VACUUM
from workbook_tools.language.model import Block, Dials, Field, Limits, Result, Sheet
from workbook_tools.sheets.readings import is_above, is_below

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


HIGH, LOW = "high", "low"
low, high = number("idle_vacuum_low"), number("idle_vacuum_high")
mean, swing = number("idle_vacuum_mean"), number("idle_vacuum_swing")
needle, judged = word("needle"), CYLINDERS > 2
idle_least = number("site_idle_vacuum_min")
swings_too_far = swing > constant("steady_swing")
#: Called steady, or not called anything, and swinging no further than a steady one.
steady = (needle.missing | (needle == "steady")) & (swing >= 0) & ~swings_too_far
snap_low, snap_high = number("snap_vacuum_low"), number("snap_vacuum_high")


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
                    sound=("steady",),
                ),
                Result(
                    "idle_vacuum_mean",
                    "Mean of the needle",
                    ((low + high) / 2).round(6),
                    VACUUM,
                    limits=IDLE_LIMITS,
                ),
                Result(
                    "idle_vacuum_swing",
                    "Swing of the needle",
                    (high - low).round(6),
                    VACUUM,
                ),
                Result(
                    "needle_suggests",
                    "The needle suggests",
                    table(
                        (~judged, BLANK),
                        ((needle == "steady") & swings_too_far, "not steady: it swings too far"),
                        otherwise=words_for(needle, NEEDLE_HINTS),
                    ),
                    wide=True,
                ),
                Result(
                    "idle_is_steady",
                    "Needle steady",
                    table((swing.missing, BLANK), (steady, YES), otherwise=NO),
                    working=True,
                ),
                Result(
                    "vacuum_very_low",
                    "Steady and very low",
                    table(
                        (mean.missing | idle_least.missing | (word("idle_is_steady") != YES), BLANK),
                        (mean < constant("very_low_share") * idle_least, YES),
                        otherwise=NO,
                    ),
                    working=True,
                ),
                Result(
                    "idle_off_range",
                    "Steady and off its range",
                    table(
                        (word("idle_is_steady") != YES, BLANK),
                        (is_below("idle_vacuum_mean"), LOW),
                        (is_above("idle_vacuum_mean"), HIGH),
                    ),
                    working=True,
                ),
                Result(
                    "needle_judged",
                    "Pattern judged",
                    table((judged, needle)),
                    help="not below three cylinders, where a sound needle drops too",
                    working=True,
                ),
            ),
            cautions=("running engine", "exhaust gas", "hot parts"),
        ),
        Dials("What the needle does: how far it moves, and its way over some seconds", NEEDLE),
        Block(
            "Raised speed, held",
            (
                Field(
                    "needle_with_speed",
                    "Needle as speed is raised",
                    "choice",
                    choices=("steadies", "no change", "widens", "falls slowly while held"),
                    sound=("steadies", "no change"),
                ),
                Field("raised_speed", "Raised speed", measure=SPEED, low=800, high=5000),
                Field("raised_vacuum_start", "Vacuum on reaching it", measure=VACUUM, low=0, high=29),
                Field("raised_vacuum_held", "Vacuum after a minute", measure=VACUUM, low=0, high=29),
                Result(
                    "raised_vacuum_fall",
                    "Vacuum lost while held",
                    (number("raised_vacuum_start") - number("raised_vacuum_held")).round(6),
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
                    table(
                        (snap_low.missing | snap_high.missing, BLANK),
                        (
                            (snap_low <= constant("snap_low"))
                            & (snap_high < constant("snap_high") - number("pressure_fall")),
                            YES,
                        ),
                        otherwise=NO,
                    ),
                    help="it falls to about nothing and rises short of normal",
                ),
            ),
            what_to_do="A sound engine falls to about {snap_sound_low} and rises to about {snap_sound_high} at sea level.",
            cautions=("snap throttle",),
        ),
    ),
)
