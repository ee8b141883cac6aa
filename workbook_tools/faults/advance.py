"""Advance of the ignition: by vacuum (the unit or its line) and by speed."""

from __future__ import annotations

from workbook_tools.faults.model import Bench, Cause, Sign
from workbook_tools.faults.timing import error
from workbook_tools.language.expressions import (
    NO,
    column,
    constant,
    number,
    word,
)
from workbook_tools.language.model import ABSENT, CONFIRMED, POSSIBLE
from workbook_tools.sheets.ignition_results import LINE, LINE_OR_UNIT, MOVES, UNIT, moves
from workbook_tools.sheets.readings import is_below

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

CAUSES = (
    Cause(
        id="vacuum_advance_unit",
        common=2.5,
        deciding=(
            "advance unit",
            "vacuum in the advance line",
            "advance line plugged",
        ),
        shows={
            "advance unit": {"does not move": 0.95},
            "vacuum in the advance line": {"the manifold's": 0.85, "some": 0.1},
            "advance line plugged": {"comes up to the manifold's": 0.9},
        },
        complaints=("lacks power", "high fuel use", "overheats", "stalls"),
        system="ignition",
        shown_as="Vacuum advance unit faulty",
        customer_words="The part that advances the spark under light load did not work",
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
        in_short="Mend what Ignition points to, then check the advance again",
        turn=4,
    ),
    Cause(
        id="vacuum_advance_line",
        common=1.6,
        deciding=(
            "advance unit",
            "vacuum in the advance line",
            "advance line plugged",
        ),
        shows={
            "advance unit": {"does not move": 0.95},
            "vacuum in the advance line": {"none": 0.75, "some": 0.2},
            "advance line plugged": {"stays below": 0.9},
        },
        complaints=("lacks power", "high fuel use", "overheats", "stalls"),
        system="ignition",
        shown_as="Vacuum advance line clogged or leaking",
        customer_words="The hose to the part that advances the spark was blocked or leaked",
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
        in_short="Mend what Ignition points to, then check the advance again",
        turn=4,
    ),
    Cause(
        id="mechanical_advance",
        common=2.5,
        deciding=(
            "rotor springs back",
            "advance curve",
        ),
        shows={
            "timing by the light": {"in limits, and the mark wanders": 0.3},
            "rotor springs back": {"sluggish or not": 0.92},
            "advance curve": {"off its curve": 0.92},
        },
        complaints=("lacks power", "knocks", "high fuel use", "overheats", "rough idle"),
        system="ignition",
        shown_as="Mechanical advance sticking",
        customer_words="The weights that advance the spark at higher speed were stuck",
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
        in_short="Mend what Ignition points to, then check the advance again",
        turn=4,
    ),
)
