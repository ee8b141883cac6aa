"""Valve train, by the needle of a vacuum gauge: sticking, springs, guides, clearance.

These are compression faults, and wait for readiness alone: they would wait for themselves.
"""

from __future__ import annotations

from workbook_tools.faults.model import Bench, Cause, Sign
from workbook_tools.language.expressions import CYLINDERS, YES, column, either, number, word
from workbook_tools.language.model import AS_FAR_AS_FIGURES, CONFIRMED, INDICATED, POSSIBLE, PROVEN
from workbook_tools.sheets.compression_results import dry_column
from workbook_tools.sheets.spark_plugs import LOOKS

needle, with_speed = word("needle_judged"), word("needle_with_speed")
clearance, adjusted = word("valve_clearance"), word("needle_after_valve_adjustment")
even, looks = word("compression_even"), column("plug_look")
drops_at_times, flutter = needle == "occasional drops", needle == "fast flutter"
set_already = (clearance == "in limits") | adjusted.is_in("unchanged", "better")
guides = flutter & (with_speed == "steadies") & (adjusted != "steady") & (clearance != "too tight")
#: What makes a needle drop as a valve does: ignition, proven in order, with a strong spark and no plug that looks bad.
ignition_cleared = (
    word("state_ignition").is_in(PROVEN, AS_FAR_AS_FIGURES)
    & (word("spark") == "strong")
    & ~either(*(looks.any_is(look) for look in LOOKS if look != "normal"))
)
gauged = (number("idle_vacuum_low").known, number("idle_vacuum_high").known)


def _sticks(bench: Bench, _: int | None) -> str:
    known = (
        "compression is even"
        if bench.text("compression_even") == YES
        else "compression is not proven even yet"
    )
    if bench.holds(ignition_cleared):
        return f"The needle drops at times, {known} and the ignition is in order: a valve sticks."
    return f"The needle drops at times, and {known}: a valve may stick, or the ignition fail."


def _springs(bench: Bench, _: int | None) -> str:
    if bench.holds(ignition_cleared):
        return "The swing of the needle widens as speed rises, and the ignition is in order: weak or broken valve springs."
    return "The swing of the needle widens as speed rises: valve springs may be weak, or the ignition fails at speed."


def _guides(bench: Bench, _: int | None) -> str:
    known = "with valve clearance set" if bench.holds(set_already) else "valve clearance not being set yet"
    return f"The needle flutters fast at idle and steadies with speed, {known}: worn intake valve guides."


GUIDES_SHOW = (clearance.known, adjusted.known, looks.any_is("oily"))

PROVE_IGNITION = "Timing, points, spark and plugs first: the ignition makes a needle do the same"

CAUSES = (
    Cause(
        id="sticking_valve",
        common=1.6,
        shows={
            "idle vacuum": {"occasional drops": 0.85},
            "speed drop": {"a weak cylinder": 0.2},
        },
        complaints=("rough idle", "misfires", "stalls", "lacks power"),
        system="compression",
        shown_as="Valve sticking at times",
        customer_words="A valve stuck now and then",
        decided_by="a needle that drops occasionally and is steady again after the valve was freed",
        supported_by="occasional drops of the needle with even compression, ignition proven and spark strong",
        spoken_against_by="ignition fault found",
        next_step="Free or replace the valve; penetrating oil through the intake is the quick proof",
        caution="running engine+exhaust gas+fuel",
        signs=tuple(
            Sign(
                when,
                strength,
                _sticks,
                "needle drops at times",
                "" if strength == INDICATED else PROVE_IGNITION,
                waits_for=("readiness",),
                support=(dry_column.known, word("spark").known),
            )
            for when, strength in (
                (drops_at_times & (even == YES) & ignition_cleared, INDICATED),
                (drops_at_times, POSSIBLE),
            )
        ),
        cleared=needle.known & (needle != "occasional drops"),
        recheck=("after_needle",),
    ),
    Cause(
        id="weak_valve_springs",
        common=1.3,
        shows={
            "idle vacuum": {"swing widens with speed": 0.85},
        },
        complaints=("lacks power", "misfires"),
        system="compression",
        shown_as="Weak or broken valve springs",
        customer_words="Valve springs were weak or broken",
        decided_by="needle steady at every speed after the springs were renewed (there is no field for spring pressure)",
        supported_by="needle swing widens as speed rises, ignition proven and spark strong",
        spoken_against_by="ignition fault found",
        next_step="Measure spring pressure",
        signs=tuple(
            Sign(
                when,
                strength,
                _springs,
                "needle swing widens",
                "" if strength == INDICATED else PROVE_IGNITION,
                waits_for=("readiness",),
                support=(needle.known, word("spark").known),
            )
            for when, strength in (
                ((CYLINDERS > 2) & (with_speed == "widens") & ignition_cleared, INDICATED),
                ((CYLINDERS > 2) & (with_speed == "widens"), POSSIBLE),
            )
        ),
        cleared=with_speed.known & (with_speed != "widens"),
        recheck=("after_needle",),
        hinted=with_speed == "widens",
    ),
    Cause(
        id="worn_valve_guides",
        common=1.2,
        deciding=("valve clearance",),
        shows={
            "idle vacuum": {"fast flutter": 0.85},
            "plugs": {"oily": 0.4},
            "valve clearance": {"set, and the needle as before": 0.9},
        },
        complaints=("uses oil", "rough idle"),
        system="compression",
        shown_as="Worn intake valve guides",
        customer_words="The guides of the intake valves are worn",
        decided_by="fast flutter at idle that steadies with speed",
        supported_by="oily plugs",
        spoken_against_by="flutter gone once valves are adjusted",
        next_step="Adjust valve clearance first, look again, then check guide wear",
        caution="running engine",
        signs=(
            Sign(
                guides & set_already,
                CONFIRMED,
                _guides,
                "needle flutter steadies",
                waits_for=("readiness",),
                support=GUIDES_SHOW,
            ),
            Sign(
                guides & looks.any_is("oily"),
                INDICATED,
                _guides,
                "needle flutter steadies",
                waits_for=("readiness",),
                support=GUIDES_SHOW,
            ),
            Sign(
                guides,
                POSSIBLE,
                _guides,
                "needle flutter steadies",
                waits_for=("readiness",),
                support=GUIDES_SHOW,
            ),
        ),
        cleared=(adjusted == "steady")
        | (needle.known & (needle != "fast flutter"))
        | (needle.known & with_speed.known & (with_speed != "steadies")),
        hinted=needle.known,
        replaced_by=("tight_valves",),
        recheck=("after_needle",),
    ),
    Cause(
        id="tight_valves",
        common=2.2,
        deciding=("valve clearance",),
        shows={
            "idle vacuum": {"fast flutter": 0.55, "evenly spaced drops": 0.1, "occasional drops": 0.05},
            "valve clearance": {"too tight, or the needle steadies": 0.93},
        },
        complaints=("rough idle", "misfires", "lacks power", "hard starting", "stalls"),
        system="compression",
        shown_as="Valve clearance too small",
        customer_words="The valves had too little clearance",
        decided_by="valve_clearance too tight, or flutter that is gone after adjustment",
        next_step="Set clearance to the manual",
        signs=(
            Sign(
                clearance == "too tight",
                CONFIRMED,
                lambda bench, _: (
                    "Valve clearance was found too small: valves that don't close leak and burn."
                ),
                "valve clearance",
                support=(needle.known, adjusted.known),
            ),
            Sign(
                flutter & (adjusted == "steady"),
                CONFIRMED,
                lambda bench, _: (
                    "The flutter of the needle was gone once the valves were adjusted: clearance was too small."
                ),
                "valve clearance",
                support=(clearance.known,),
            ),
        ),
        cleared=clearance.is_in("in limits", "too wide"),
        recheck=("after_needle",),
    ),
)
