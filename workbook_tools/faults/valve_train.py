"""Valve train, by the needle of a vacuum gauge: sticking, springs, guides, clearance.

These are compression faults, and wait for readiness alone: they would wait for themselves.
"""

from __future__ import annotations

from workbook_tools.faults.model import Bench, Cause, Sign
from workbook_tools.language.expressions import CYLINDERS, YES, column, number, word
from workbook_tools.language.model import CONFIRMED, INDICATED, POSSIBLE
from workbook_tools.sheets.compression_results import dry_column

needle, with_speed = word("needle_judged"), word("needle_with_speed")
clearance, adjusted = word("valve_clearance"), word("needle_after_valve_adjustment")
even, looks = word("compression_even"), column("plug_look")
drops_at_times, flutter = needle == "occasional drops", needle == "fast flutter"
set_already = (clearance == "in limits") | adjusted.is_in("unchanged", "better")
guides = flutter & (with_speed == "steadies") & (adjusted != "steady") & (clearance != "too tight")
gauged = (number("idle_vacuum_low").known, number("idle_vacuum_high").known)


def _sticks(bench: Bench, _: int | None) -> str:
    known = (
        "compression is even"
        if bench.text("compression_even") == YES
        else "compression is not proven even yet"
    )
    return f"The needle drops at times, and {known}: a valve sticks."


def _guides(bench: Bench, _: int | None) -> str:
    known = "with valve clearance set" if bench.holds(set_already) else "valve clearance not being set yet"
    return f"The needle flutters fast at idle and steadies with speed, {known}: worn intake valve guides."


GUIDES_SHOW = (clearance.known, adjusted.known, looks.any_is("oily"))

CAUSES = (
    Cause(
        id="sticking_valve",
        system="compression",
        shown_as="Valve sticking at times",
        decided_by="occasional drops of the needle with even compression",
        next_step="Free or replace the valve; penetrating oil through the intake is the quick proof",
        caution="running engine",
        signs=(
            Sign(
                drops_at_times & (even == YES),
                CONFIRMED,
                _sticks,
                "needle drops at times",
                waits_for=("readiness",),
                support=(dry_column.known,),
            ),
            Sign(
                drops_at_times,
                POSSIBLE,
                _sticks,
                "needle drops at times",
                waits_for=("readiness",),
                support=(dry_column.known,),
            ),
        ),
        cleared=needle.known & (needle != "occasional drops"),
        recheck=("after_needle",),
    ),
    Cause(
        id="weak_valve_springs",
        system="compression",
        shown_as="Weak or broken valve springs",
        decided_by="needle swing widens as speed rises",
        next_step="Measure spring pressure",
        signs=(
            Sign(
                (CYLINDERS > 2) & (with_speed == "widens"),
                CONFIRMED,
                lambda bench, _: (
                    "The swing of the needle widens as speed rises: weak or broken valve springs."
                ),
                "needle swing widens",
                waits_for=("readiness",),
                support=(needle.known,),
            ),
        ),
        cleared=with_speed.known & (with_speed != "widens"),
        hinted=with_speed == "widens",
    ),
    Cause(
        id="worn_valve_guides",
        system="compression",
        shown_as="Worn intake valve guides",
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
        system="compression",
        shown_as="Valve clearance too small",
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
