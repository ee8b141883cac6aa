"""Ignition: points before timing, timing, advance by vacuum and by speed, and the spark.

All of it is measured or seen, so each finding is a fact once made; only the timing waits, for the points: a
wrong gap moves it, and how far is worked out in `form/ignition_results.py`.
"""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.mixture import in_order, misfire
from workbook_tools.diagnose.model import Draft
from workbook_tools.form.gas_results import RAISED
from workbook_tools.language.model import ABSENT, cell_name

WORN_CONTACTS = ("worn", "out of line", "burned")
POINTS = ("point_gap", "dwell")
POINT_LIMITS = {
    "point_gap": ("spec_point_gap_min", "spec_point_gap_max"),
    "dwell": ("spec_dwell_min", "spec_dwell_max"),
}
TIMING = ("timing", "timing_speed", "timing_error", "spec_timing", "spec_timing_tolerance")
LINE = ("advance_unit_moves", "advance_line_vacuum", "manifold_vacuum_then")
IDLE = ("idle_vacuum_low", "idle_vacuum_high")


def find(case: Case) -> Iterator[Draft]:
    """Ignition findings, in the order in which they are put right."""
    if has_points(case):
        yield from _points(case)
    yield from _timing(case)
    yield from _vacuum_advance(case)
    yield from _mechanical_advance(case)
    yield from _spark(case)


def has_points(case: Case) -> bool:
    """Whether readings of contact points are judged: not on electronic and magneto ignition."""
    return case.text("points_fitted") != "no"


def compression_is_even(case: Case) -> bool:
    """Every cylinder gauged dry in a test that counts, none low, none leaking over its limit."""
    return case.text("compression_even") == "yes" and case.text("compression_counts") != "no"


# --- points -------------------------------------------------------------------------------------------------


def points_out(case: Case) -> tuple[str, ...]:
    """Which of gap and dwell are out of limits."""
    return tuple(name for name in POINTS if case.is_beyond(name)) if has_points(case) else ()


def _points(case: Case) -> Iterator[Draft]:
    out = points_out(case)
    if out:
        words = {"point_gap": "point gap", "dwell": "dwell"}
        told = " and ".join(f"{words[name]} {case.says(name)} ({_allowed(case, name)})" for name in out)
        evidence = tuple(cell for name in POINTS for cell in (name, *POINT_LIMITS[name]) if case.has(name))
        yield Draft(
            "contact_gap", "confirmed", f"The points are out of limits: {told}.", evidence, "gap and dwell"
        )
    contacts = case.text("contacts")
    if contacts in WORN_CONTACTS:
        statement = f"The contact points are {contacts}."
        yield Draft("contact_points", "confirmed", statement, ("contacts",), "contacts seen")
    elif contacts == "pitted":
        statement = "The contact points are pitted, metal carried from one to the other: the condenser."
        yield Draft("condenser", "confirmed", statement, ("contacts",), "contacts pitted")


def _allowed(case: Case, name: str) -> str:
    low, high = POINT_LIMITS[name]
    if case.has(low) and case.has(high):
        return f"{case.says(low)} to {case.says(high)} specified"
    return f"at least {case.says(low)} specified" if case.has(low) else f"at most {case.says(high)} specified"


# --- timing -------------------------------------------------------------------------------------------------


def _timing(case: Case) -> Iterator[Draft]:
    error = case.number("timing_error")
    if error is None or not case.is_beyond("timing"):
        return
    cause, word = ("late_timing", "late") if error < 0 else ("early_timing", "early")
    measured = (
        f"Timing is {word} by {abs(error):g}°: {case.says('timing')} measured, {case.says('spec_timing')}"
        " specified"
    )
    support = _vacuum_agrees(case, cause)
    if support:
        steady = "low and steady, compression being even" if error < 0 else "high and steady"
        measured += f"; the vacuum agrees ({case.says('idle_vacuum_mean')}, {steady})"
    off_speed = speed_is_off(case)
    reasons = [_points_first(case)] if points_out(case) else []
    reasons += (
        [f"it was read at {case.says('timing_speed')}, not at {case.says('spec_timing_speed')}"]
        if off_speed
        else []
    )
    told = "".join(f" {reason[0].upper()}{reason[1:]}." for reason in reasons)
    why = ["set the points, then read the timing again"] if points_out(case) else []
    why += ["read the timing again at its specified speed"] if off_speed else []
    shift = (*POINTS, "dwell_timing_shift", "timing_after_dwell") if points_out(case) else ()
    yield Draft(
        cause,
        "confirmed",
        f"{measured}.{told}",
        (*TIMING, "spec_timing_speed", *shift, *support),
        "timing by the light",
        provisional=bool(reasons),
        why_provisional="; ".join(why),
        next_step="" if points_out(case) or cause == "early_timing" else "Set timing",
    )


def speed_is_off(case: Case) -> bool:
    """Whether timing was read so far above its specified speed that the advance may have begun."""
    difference = case.number("timing_speed_difference")
    return difference is not None and difference > case.values.constant("timing_speed_margin")


def _points_first(case: Case) -> str:
    """What setting the points does to the timing, in words."""
    shift, then = case.number("dwell_timing_shift"), case.number("timing_after_dwell")
    if shift is not None and then is not None:
        low, high = case.number("timing_low"), case.number("timing_high")
        inside = low is not None and high is not None and low <= then <= high
        way = "later" if shift < 0 else "earlier"
        moved = f"about {abs(shift):g}° {way}" if shift else "no earlier or later"
        where = f"to {case.says('timing_after_dwell')}, " + (
            "which would be in limits" if inside else "still out of limits"
        )
        return (
            f"the points are out too: setting the dwell to the middle of its range makes the spark {moved},"
            f" {where}"
        )
    direction = case.text("gap_timing_direction")
    told = f"setting the gap makes the spark {direction}" if direction else "setting them moves the spark"
    return f"the points are out too: {told}"


def _vacuum_agrees(case: Case, cause: str) -> tuple[str, ...]:
    """Needle cells that support the timing error, () where they do not."""
    if case.text("idle_is_steady") != "yes":
        return ()
    if cause == "late_timing":
        return IDLE if case.is_below("idle_vacuum_mean") and compression_is_even(case) else ()
    return IDLE if case.is_above("idle_vacuum_mean") else ()


# --- advance ------------------------------------------------------------------------------------------------


def _vacuum_advance(case: Case) -> Iterator[Draft]:
    if case.text("advance_unit_moves") != "no":
        return
    line, manifold = case.number("advance_line_vacuum"), case.number("manifold_vacuum_then")
    same = case.values.constant("same_vacuum")
    if line is None or manifold is None:
        yield from _unit_or_line(case, line is not None and line <= same)
    elif manifold - line > same:
        statement = (
            f"The advance unit does not move, and its line carries {case.says('advance_line_vacuum')} where"
            " the manifold has "
        )
        statement += f"{case.says('manifold_vacuum_then')}: the line is clogged or leaks."
        yield Draft("vacuum_advance_line", "confirmed", statement, LINE, "line against manifold")
    elif line > same and line - manifold <= same:
        statement = (
            "The advance unit does not move, although its line carries the manifold's vacuum"
            f" ({case.says('advance_line_vacuum')} of "
        )
        statement += f"{case.says('manifold_vacuum_then')}): the unit."
        yield Draft("vacuum_advance_unit", "confirmed", statement, LINE, "line against manifold")
    else:
        # Next to no vacuum with the throttle so far open, or more in the line than feeds it: nothing is told.
        yield from _unit_or_line(case, False)


def _unit_or_line(case: Case, line_is_empty: bool) -> Iterator[Draft]:
    next_step = "Read the vacuum in the line and in the manifold at the same throttle, part open"
    told = "The advance unit does not move"
    if line_is_empty:
        statement = (
            f"{told}, and its line shows no vacuum ({case.says('advance_line_vacuum')}); the manifold's was"
            " not read beside it."
        )
        yield Draft(
            "vacuum_advance_line", "possible", statement, LINE, "line against manifold", next_step=next_step
        )
        return
    statement = (
        f"{told}; whether its line carries the manifold's vacuum is not known, so it may be the unit or the"
        " line."
    )
    for cause in ("vacuum_advance_unit", "vacuum_advance_line"):
        yield Draft(cause, "possible", statement, LINE, "line against manifold", next_step=next_step)


def _mechanical_advance(case: Case) -> Iterator[Draft]:
    rotor, wanders = case.text("rotor_springs_back"), case.text("timing_mark") == "wanders"
    off = [
        n for n in case.values.numbers_of("advance_corrected") if n and case.is_beyond("advance_corrected", n)
    ]
    sticks = rotor in ("no", "sluggish")
    if not (sticks or off or (wanders and rotor != ABSENT)):
        return
    parts = []
    if sticks:
        parts.append(f"the rotor {'does not spring back' if rotor == 'no' else 'springs back sluggishly'}")
    parts += [_off_curve(case, n) for n in off]
    if wanders:
        parts.append("the timing mark wanders")
    initial_known = case.has("timing_error")
    doubtful = bool(off) and not sticks and not initial_known
    told = " The initial timing was not measured, and all readings move with it." if doubtful else ""
    curve = tuple(
        cell_name(name, n)
        for n in off
        for name in (
            "advance_speed",
            "advance_reading",
            "advance_corrected",
            "advance_band_min",
            "advance_band_max",
        )
    )
    evidence = (*(("rotor_springs_back",) if sticks else ()), *curve, *(("timing_error",) if off else ()))
    evidence += ("timing_mark",) if wanders else ()
    yield Draft(
        "mechanical_advance",
        "confirmed" if sticks or off else "possible",
        f"Mechanical advance: {'; '.join(parts)}.{told}",
        evidence,
        "advance curve" if off and not sticks else "rotor springs back",
        provisional=doubtful,
        why_provisional="read the initial timing at its specified speed" if doubtful else "",
        next_step="" if sticks or off else "Turn the rotor by hand and let go; read the advance by speed",
    )


def _off_curve(case: Case, n: int) -> str:
    few = case.is_below("advance_corrected", n)
    read = case.says("advance_corrected", n)
    if few:
        limit = f"at least {case.says('advance_band_min', n)}"
    else:
        limit = f"at most {case.says('advance_band_max', n)}"
    error = case.number("timing_error")
    less = " with the initial timing error taken off" if error else ""
    return f"at {case.says('advance_speed', n)} it reads {read}{less}, {limit} specified"


# --- spark --------------------------------------------------------------------------------------------------


def sooty(case: Case) -> tuple[str, ...]:
    """The plugs with dry soot where they are more than half of all, else ()."""
    cells = tuple(
        cell_name("plug_look", n) for n in case.cylinders if case.text("plug_look", n) == "dry soot"
    )
    return cells if 2 * len(cells) > case.shape.cylinders else ()


def _spark(case: Case) -> Iterator[Draft]:
    spark = case.text("spark")
    soot = sooty(case) if in_order(case) else ()
    unburned = misfire(case) if compression_is_even(case) else ()
    signs = []
    if soot:
        signs.append(
            f"plugs are sooty although the mixture is in order (lambda {case.says('lambda', RAISED)})"
        )
    if unburned:
        signs.append(
            "unburned fuel and oxygen leave together with lambda near one: charges that did not fire, not the"
            " mixture"
        )
    told = f" Also: {'; '.join(signs)}." if signs else ""
    if spark in ("weak", "none"):
        statement = f"The spark is weak.{told}" if spark == "weak" else f"There is no spark.{told}"
        yield Draft("weak_spark", "confirmed", statement, ("spark", *soot, *unburned), "spark seen")
    elif signs and spark != "strong":
        yield Draft(
            "weak_spark",
            "indicated" if len(signs) > 1 else "possible",
            f"The spark was not tested, and {'; and '.join(signs)}.",
            (*soot, *unburned),
            "misfire, not mixture" if unburned else "sooty plugs",
            waits_for=("readiness", "compression"),
            next_step="Look at the spark on each lead; then coil, leads, cap, rotor and plugs",
        )
