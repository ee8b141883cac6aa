"""What each cause's own test says of it where a technician names it: for it, against it, or nothing.

    TESTS["late_timing"](case, ())          is the timing late?
    TESTS["worn_rings"](case, (3,))         does cylinder 3 leak past its rings?

Cylinders matter to causes that sit in one cylinder; () asks for the engine: any cylinder may speak for the cause,
all must speak against it. A further sign (an oily plug, a swinging needle) speaks for a cause where its own test was
not made, never against it. Every cause of `causes.py` has its line in TESTS; a new cause needs one.
"""

from __future__ import annotations

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.cause_tests_compression import (
    all_low,
    gasket,
    guides,
    over_range,
    rings,
    valve,
)
from workbook_tools.diagnose.cause_verdicts import (
    NOTHING,
    Cylinders,
    Test,
    Verdict,
    above,
    against,
    below,
    by_cylinder,
    sign,
    speaks_for,
    word,
)
from workbook_tools.form.compression_results import LITTLE_GAIN, RECOVERS
from workbook_tools.form.fuel_results import LEAN as LEAN_BY_CHOKE
from workbook_tools.form.fuel_results import NORMAL, NOT_LEAN
from workbook_tools.form.gas_results import LEAN, RAISED, RICH
from workbook_tools.form.ignition_results import LINE, MOVES, UNIT
from workbook_tools.language.model import ABSENT, cell_name

# --- readiness -------------------------------------------------------------------------------------------------------


def not_ready(case: Case, _: Cylinders) -> Verdict:
    """Coolant below its range or idle speed out of its own; spoken against by both being right."""
    if case.is_below("coolant_temperature"):
        return speaks_for("coolant_temperature")
    if case.is_beyond("idle_speed"):
        return speaks_for("idle_speed")
    warm = case.is_inside("coolant_temperature") or case.is_above("coolant_temperature")
    return against("coolant_temperature", "idle_speed") if warm and case.is_inside("idle_speed") else NOTHING


# --- ignition --------------------------------------------------------------------------------------------------------


def timing_open(case: Case, _: Cylinders) -> Verdict:
    """Timing that is still to be measured: no longer once it was measured in limits."""
    return (
        against("timing") if case.is_inside("timing") else sign(case.is_beyond("timing"), "timing") or NOTHING
    )


def advance_by(own: str) -> Test:
    """Vacuum advance: the unit or its line, by where the vacuum is lost."""

    def test(case: Case, _: Cylinders) -> Verdict:
        told = case.text("line_compare")
        if told == MOVES or case.text("advance_unit_moves") == ABSENT:
            return against("advance_unit_moves")
        if told not in (UNIT, LINE):
            return NOTHING
        cells = "advance_unit_moves", "advance_line_vacuum", "manifold_vacuum_then"
        return speaks_for(*cells) if told == own else against(*cells)

    return test


def mechanical(case: Case, _: Cylinders) -> Verdict:
    """Rotor that does not spring back, or a curve out of its band; a wandering mark as a sign."""
    rotor, points = case.text("rotor_springs_back"), case.values.numbers_of("advance_corrected")
    if rotor in ("no", "sluggish"):
        return speaks_for("rotor_springs_back")
    if any(case.is_beyond("advance_corrected", n) for n in points):
        return speaks_for(*case.each("advance_reading"))
    if any(case.is_inside("advance_corrected", n) for n in points):
        return against(*case.each("advance_reading"))
    if case.text("timing_mark") == "wanders" and rotor != ABSENT:
        return speaks_for("timing_mark")
    return against("rotor_springs_back") if rotor in ("yes", ABSENT) else NOTHING


def needs_points(test: Test) -> Test:
    """A fault of contact points: an electronic ignition has none. A magneto is not asked for its own."""

    def guarded(case: Case, cylinders: Cylinders) -> Verdict:
        return (
            against("ignition_type") if case.text("ignition_type") == "electronic" else test(case, cylinders)
        )

    return guarded


def gap(case: Case, _: Cylinders) -> Verdict:
    """Gap or dwell out of limits; spoken against by those taken being in limits."""
    names = "point_gap", "dwell"
    for name in names:
        if case.is_beyond(name):
            return speaks_for(name)
    right = tuple(name for name in names if case.is_inside(name))
    return against(*right) if right else NOTHING


def plug(case: Case, n: int) -> Verdict:
    """A plug cracked or worn, or with its gap out, or a weak cylinder; a normal look speaks against it."""
    look, cell = case.text("plug_look", n), cell_name("plug_look", n)
    if case.is_beyond("plug_gap", n):
        return speaks_for(cell_name("plug_gap", n))
    if look == "cracked or worn":
        return speaks_for(cell)
    if case.text("drop_is_weak", n) == "weak":
        return speaks_for(cell_name("speed_drop", n))
    return against(cell) if look == "normal" else NOTHING


# --- fuel and air ----------------------------------------------------------------------------------------------------


def intake(case: Case, _: Cylinders) -> Verdict:
    """Cranking vacuum low or slow to rise; a very low steady needle as a sign."""
    if case.is_below("cranking_vacuum"):
        return speaks_for("cranking_vacuum")
    if case.text("cranking_vacuum_rise") == "slow":
        return speaks_for("cranking_vacuum_rise")
    if case.is_inside("cranking_vacuum"):
        return against("cranking_vacuum")
    return sign(case.text("vacuum_very_low") == "yes", "idle_vacuum_low") or NOTHING


def manifold(case: Case, cylinders: Cylinders) -> Verdict:
    """Heat riser burned through, or cranking vacuum still low with the fastenings tight."""
    if case.text("heat_riser") == "burned through":
        return speaks_for("heat_riser")
    if case.is_below("cranking_vacuum_retest"):
        return speaks_for("cranking_vacuum_retest")
    if case.is_inside("cranking_vacuum_retest"):
        return against("cranking_vacuum_retest")
    first = intake(case, cylinders)
    return first if first.says == "against" else NOTHING


def idle(case: Case, _: Cylinders) -> Verdict:
    """A slowly wandering needle, or gas that is off at idle; any other needle speaks against it."""
    if case.text("mixture_says", 1) in (LEAN, RICH):
        return speaks_for(cell_name("lambda", 1))
    return word("needle_judged", "slow wander")(case, ())


def lean(case: Case, _: Cylinders) -> Verdict:
    """Lambda above its limit, or a vacuum that the choke brings up; blistered plugs as a sign."""
    running = case.text("running_says")
    if case.is_above("lambda", RAISED):
        return speaks_for(cell_name("lambda", RAISED))
    if running == LEAN_BY_CHOKE:
        return speaks_for("running_vacuum", "running_vacuum_choked")
    if case.mark("lambda", RAISED) not in ("", "not taken"):
        return against(cell_name("lambda", RAISED))
    if running in (NORMAL, NOT_LEAN):
        return against("running_vacuum", "running_vacuum_choked")
    return _plugs(case, "blistered white") or NOTHING


def rich(case: Case, _: Cylinders) -> Verdict:
    """Lambda below its limit; sooty plugs or a blocked air cleaner as signs."""
    by_gas = below("lambda", RAISED)(case, ())
    if by_gas.says != "nothing":
        return by_gas
    if case.text("running_says") == LEAN_BY_CHOKE:
        return against("running_vacuum", "running_vacuum_choked")
    return _plugs(case, "dry soot") or sign(case.text("air_cleaner") == "blocked", "air_cleaner") or NOTHING


def _plugs(case: Case, look: str) -> Verdict | None:
    """A look of more than half of the plugs."""
    like = tuple(cell_name("plug_look", n) for n in case.cylinders if case.text("plug_look", n) == look)
    return speaks_for(*like) if 2 * len(like) > case.shape.cylinders else None


def carburettor(case: Case, cylinders: Cylinders) -> Verdict:
    """Not blamed while fuel supply or intake are at fault, nor where the mixture is right; else for, where it is off."""
    for name in ("fuel_pressure", "fuel_delivery_rate", "cranking_vacuum_retest"):
        if case.is_beyond(name):
            return against(name)
    leaks = intake(case, cylinders)
    if leaks.says == "for" and not case.is_inside("cranking_vacuum_retest"):
        return against(*leaks.cells)
    too_lean, too_rich = lean(case, cylinders), rich(case, cylinders)
    if "for" in (too_lean.says, too_rich.says):
        proven_supply = case.is_inside("fuel_pressure")
        return (
            speaks_for(*(too_lean if too_lean.says == "for" else too_rich).cells)
            if proven_supply
            else NOTHING
        )
    return too_lean


def unexplained(case: Case, _: Cylinders) -> Verdict:
    """A low vacuum that nothing explains: no longer where it is not low, or timing or intake explain it."""
    if not case.is_below("idle_vacuum_mean"):
        return above("idle_vacuum_mean")(case, ()) if case.is_inside("idle_vacuum_mean") else NOTHING
    for name in ("timing", "cranking_vacuum"):
        if case.is_beyond(name):
            return against(name)
    return speaks_for("idle_vacuum_low", "idle_vacuum_high")


def exhaust(case: Case, _: Cylinders) -> Verdict:
    """Back-pressure over its limit, or a vacuum that falls while a raised speed is held."""
    by_gauge = above("backpressure")(case, ())
    if by_gauge.says != "nothing":
        return by_gauge
    fall = case.number("raised_vacuum_fall")
    if fall is not None:
        cells = "raised_vacuum_start", "raised_vacuum_held"
        return speaks_for(*cells) if fall > case.values.constant("held_fall") else against(*cells)
    return word("needle_with_speed", "falls slowly while held")(case, ())


TESTS: dict[str, Test] = {
    "engine_not_ready": not_ready,
    "engine_overheated": above("coolant_temperature"),
    "low_oil_pressure": below("oil_pressure"),
    "slow_cranking": below("cranking_speed"),
    "compression_test_invalid": lambda case, _: (
        against("throttle_held_open", "all_plugs_out")
        if case.text("compression_conditions") == "met"
        else NOTHING
    ),
    "worn_rings": by_cylinder(rings),
    "leaking_valve": by_cylinder(valve),
    "head_gasket": by_cylinder(gasket),
    "sticking_valve": word("needle_judged", "occasional drops"),
    "weak_valve_springs": word("needle_with_speed", "widens"),
    "worn_valve_guides": guides,
    "tight_valves": lambda case, _: (
        against("valve_clearance") if case.text("valve_clearance") in ("in limits", "too wide") else NOTHING
    ),
    "valve_timing": all_low(LITTLE_GAIN),
    "general_wear": all_low(RECOVERS),
    "carbon_deposits": by_cylinder(over_range),
    "late_timing": below("timing"),
    "early_timing": above("timing"),
    "timing_suspected": timing_open,
    "vacuum_advance_unit": advance_by(UNIT),
    "vacuum_advance_line": advance_by(LINE),
    "mechanical_advance": mechanical,
    "contact_gap": needs_points(gap),
    "contact_points": needs_points(word("contacts", "worn", "out of line", "pitted", "burned")),
    "condenser": needs_points(word("contacts", "pitted")),
    "weak_spark": word("spark", "weak", "none"),
    "plug_fault": by_cylinder(plug),
    "intake_leak": intake,
    "manifold_or_heat_riser": manifold,
    "heat_riser_stuck": word("heat_riser", "stuck"),
    "low_vacuum_unexplained": unexplained,
    "idle_mixture": idle,
    "lean_mixture": lean,
    "rich_mixture": rich,
    "low_fuel_pressure": below("fuel_pressure"),
    "high_fuel_pressure": above("fuel_pressure"),
    "low_fuel_delivery": below("fuel_delivery_rate"),
    "carburettor": carburettor,
    "air_cleaner": word("air_cleaner", "dirty", "blocked"),
    "exhaust_restriction": exhaust,
}
