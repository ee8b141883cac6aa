"""Where the proof of fuel and air stands, and its next step, for sheet Summary.

Fault found, when one of these is confirmed or indicated (in this order the next step is chosen):

    air cleaner   dirty or blocked
    tighten       cranking vacuum out of limits or slow to rise, not read again; not while a cylinder is low
                  or leaks
    tightened     the same, and back in limits after the fastenings were tightened: proves the leak in any
                  case
    manifold      still out of limits after tightening, having been so before, not while a cylinder is low
                  or leaks; or heat riser burned through
    heat riser    stuck
    pump          fuel pressure out of limits, or delivery under its limit
    exhaust       back-pressure over its limit; or, where it was not measured and from three cylinders up,
                  the needle is seen to fall while a raised speed is held and the figures say so too
    mixture       running vacuum out and the choke brings it up; or out, the choke not tried, and a plug
                  blistered white; or lambda out of its limits at the raised speed in a sample that can be
                  believed
    idle mixture  slow wander that goes steady in limits by the mixture screw; or, without that reading,
                  slow wander and lambda off at idle while it is in limits at the raised speed
    unexplained   steady low vacuum with even compression that counts, timing in limits and the intake tight

A reading beyond its limit by less than the gauge's limit of error is a sign and finds nothing here.

Proven, when none is found, cranking vacuum (or its retest) and fuel pressure were read and are in limits, and
the vacuum was not slow to rise. Otherwise not proven yet.
"""

from __future__ import annotations

from workbook_tools.form.fuel_results import SLOW, STILL_LOW, TIGHT, TIGHTEN, TIGHTENED
from workbook_tools.form.gas_results import IN_ORDER, LEAN, MISFIRE, RICH
from workbook_tools.form.ignition_states import either, next_for_fault_formula
from workbook_tools.form.summary import FAULT, OPEN, PROVEN, inside_formula, is_inside
from workbook_tools.language.model import OUT_OF_LIMITS, Result, Shape, Value
from workbook_tools.language.values import Values

NEXT_FOR_FAULT = {
    "air cleaner": "Clean or renew the air cleaner, then read the vacuum again",
    "tighten": "Tighten the manifold fastenings, then read the cranking vacuum again",
    "tightened": "The fastenings leaked: read the idle vacuum again",
    "manifold": "Pressure-test or remove the manifold",
    "heat riser": "Free the heat riser",
    "pump": "Check filter, line and tank vent, then the pump",
    "exhaust": "Measure back-pressure; inspect muffler and pipes",
    "mixture": "Fuel pressure and delivery first, then the carburettor",
    "idle mixture": "Set the idle mixture for the highest steady vacuum",
    "unexplained": "Check valve timing and exhaust restriction",
}


# --- mixture -------------------------------------------------------------------------------------------


def mixture_fault(v: Values, _: int | None) -> Value:
    """'yes' where the running mixture is found lean, or the gas at the raised speed lean or rich."""
    if v.text("mixture_says", 2) in (LEAN, RICH):
        return "yes"
    if v.text("mark_running_vacuum") != OUT_OF_LIMITS:
        return None
    untried = v.number("choke_gain") is None and v.count_text("plug_look", "blistered white") > 0
    return "yes" if v.text("choke_brings_it_up") == "yes" or untried else None


def idle_mixture_fault(v: Values, _: int | None) -> Value:
    """'yes' where a slow wander goes steady in limits, or the gas is off at idle only."""
    if v.text("needle_judged") != "slow wander":
        return None
    if v.number("margin_mixture_best_vacuum") is not None:
        return "yes" if is_inside(v, "mixture_best_vacuum") else None
    idle_off = v.text("mixture_says", 1) in (LEAN, RICH)
    return "yes" if idle_off and v.text("mixture_says", 2) in (IN_ORDER, MISFIRE) else None


# --- exhaust and the unexplained -----------------------------------------------------------------------


def exhaust_fault(v: Values, _: int | None) -> Value:
    """'yes' where back-pressure is over its limit or the vacuum falls while a raised speed is held."""
    if v.text("mark_backpressure") == OUT_OF_LIMITS:
        return "yes"
    if v.shape.cylinders < 3 or v.number("margin_backpressure") is not None:
        return None
    seen, fall = v.text("needle_with_speed") == "falls slowly while held", v.number("raised_vacuum_fall")
    if fall is None:
        return "yes" if seen else None
    return "yes" if (seen and fall > 0) or fall > v.constant("held_fall") else None


def exhaust_fault_formula(shape: Shape, _: int | None) -> str:
    """The same as a formula; below three cylinders the needle is not judged."""
    held = ""
    if shape.cylinders > 2:
        held = (
            ',AND(COUNT(margin_backpressure)=0,OR(AND(needle_with_speed="falls slowly while held",'
            "OR(COUNT(raised_vacuum_fall)=0,SUM(raised_vacuum_fall)>0)),SUM(raised_vacuum_fall)>{held_fall}))"
        )
    return f'=IF(OR(mark_backpressure="{OUT_OF_LIMITS}"{held}),"yes","")'


def vacuum_unexplained(v: Values, _: int | None) -> Value:
    """'yes' where a steady vacuum is below its range with compression, timing and intake all in order."""
    margin, mean, least = (
        v.number(name)
        for name in ("margin_idle_vacuum_mean", "idle_vacuum_mean", "low_limit_idle_vacuum_mean")
    )
    low = margin is not None and margin < 0 and mean is not None and least is not None and mean < least
    even = v.text("compression_even") == "yes" and v.text("compression_counts") != "no"
    intake = v.text("intake_word") in (TIGHT, TIGHTENED)
    steady = v.text("idle_is_steady") == "yes"
    return "yes" if steady and low and even and intake and is_inside(v, "timing") else None


# --- the system ----------------------------------------------------------------------------------------


def fuel_fault(v: Values, _: int | None) -> Value:
    """The first fault found in fuel and air, a key of NEXT_FOR_FAULT."""
    word, lowered = v.text("intake_word"), v.text("cylinder_lowers_vacuum") == "yes"
    heat_riser = v.text("heat_riser")
    if v.text("air_cleaner") in ("dirty", "blocked"):
        return "air cleaner"
    if word in (TIGHTEN, SLOW) and not lowered:
        return "tighten"
    if word == TIGHTENED:
        return "tightened"
    was_low = not is_inside(v, "cranking_vacuum")
    if (word == STILL_LOW and was_low and not lowered) or heat_riser == "burned through":
        return "manifold"
    if heat_riser == "stuck":
        return "heat riser"
    if OUT_OF_LIMITS in (v.text("mark_fuel_pressure"), v.text("mark_fuel_delivery_rate")):
        return "pump"
    if v.text("exhaust_fault") == "yes":
        return "exhaust"
    if v.text("mixture_fault") == "yes":
        return "mixture"
    if v.text("idle_mixture_fault") == "yes":
        return "idle mixture"
    return "unexplained" if v.text("vacuum_unexplained") == "yes" else None


def state_fuel_and_air(v: Values, _: int | None) -> Value:
    """Fault found, proven or not proven yet, as the head of this module says."""
    if v.text("fuel_fault"):
        return FAULT
    return PROVEN if v.text("intake_word") == TIGHT and is_inside(v, "fuel_pressure") else OPEN


def next_fuel_and_air(v: Values, _: int | None) -> Value:
    """What to do next for fuel and air."""
    fault = v.text("fuel_fault")
    if fault:
        return NEXT_FOR_FAULT[fault]
    if v.text("state_fuel_and_air") == PROVEN:
        return None
    if v.number("cranking_vacuum") is None:
        return "Read the vacuum while the starter turns the engine, throttle closed"
    if v.number("fuel_pressure") is None:
        return "Tee the fuel pressure gauge in at the carburettor"
    if v.number("site_cranking_vacuum_min") is None:
        return "Fill in the engine's lowest cranking vacuum on Engine"
    return "Look at the marks on Fuel and air"


FUEL_SUMMARY = (
    Result(
        "state_fuel_and_air",
        "Fuel and air",
        f'=IF(fuel_fault<>"","{FAULT}",IF(AND(intake_word="{TIGHT}",{inside_formula("fuel_pressure")}),'
        f'"{PROVEN}","{OPEN}"))',
        state_fuel_and_air,
    ),
    Result(
        "next_fuel_and_air",
        "Next for fuel and air",
        next_for_fault_formula(
            "fuel_fault",
            NEXT_FOR_FAULT,
            f'IF(state_fuel_and_air="{PROVEN}","",IF(COUNT(cranking_vacuum)=0,'
            '"Read the vacuum while the starter turns the engine, throttle closed",IF(COUNT(fuel_pressure)=0,'
            '"Tee the fuel pressure gauge in at the carburettor",IF(COUNT(site_cranking_vacuum_min)=0,'
            '"Fill in the engine\'s lowest cranking vacuum on Engine",'
            '"Look at the marks on Fuel and air"))))',
        ),
        next_fuel_and_air,
        wide=True,
    ),
    Result(
        "mixture_fault",
        "Fault in the running mixture",
        f'=IF(OR({either("mixture_says_2", (LEAN, RICH))},AND(mark_running_vacuum="{OUT_OF_LIMITS}",'
        'OR(choke_brings_it_up="yes",AND(COUNT(choke_gain)=0,COUNTIF(all_plug_look,"blistered white")>0)))),'
        '"yes","")',
        mixture_fault,
        working=True,
    ),
    Result(
        "idle_mixture_fault",
        "Fault in the idle mixture",
        '=IF(needle_judged<>"slow wander","",IF(IF(COUNT(margin_mixture_best_vacuum)=1,'
        f"margin_mixture_best_vacuum>=0,AND(OR({either('mixture_says_1', (LEAN, RICH))}),"
        f'OR({either("mixture_says_2", (IN_ORDER, MISFIRE))}))),"yes",""))',
        idle_mixture_fault,
        working=True,
    ),
    Result("exhaust_fault", "Fault in the exhaust", exhaust_fault_formula, exhaust_fault, working=True),
    Result(
        "vacuum_unexplained",
        "Low vacuum unexplained",
        '=IF(AND(idle_is_steady="yes",SUM(margin_idle_vacuum_mean)<0,COUNT(idle_vacuum_mean,low_limit_idle_vacuum_mean)=2,'
        'idle_vacuum_mean<low_limit_idle_vacuum_mean,compression_even="yes",compression_counts<>"no",'
        f'{inside_formula("timing")},OR({either("intake_word", (TIGHT, TIGHTENED))})),"yes","")',
        vacuum_unexplained,
        working=True,
    ),
    Result(
        "fuel_fault",
        "Fault in fuel and air",
        f'=IF(OR({either("air_cleaner", ("dirty", "blocked"))}),"air cleaner",'
        f'IF(AND(cylinder_lowers_vacuum<>"yes",OR({either("intake_word", (TIGHTEN, SLOW))})),"tighten",'
        f'IF(intake_word="{TIGHTENED}","tightened",'
        f'IF(OR(AND(cylinder_lowers_vacuum<>"yes",intake_word="{STILL_LOW}",'
        f'NOT({inside_formula("cranking_vacuum")})),heat_riser="burned through"),"manifold",'
        f'IF(heat_riser="stuck","heat riser",IF(OR(mark_fuel_pressure="{OUT_OF_LIMITS}",'
        f'mark_fuel_delivery_rate="{OUT_OF_LIMITS}"),"pump",IF(exhaust_fault="yes","exhaust",'
        'IF(mixture_fault="yes","mixture",IF(idle_mixture_fault="yes","idle mixture",'
        'IF(vacuum_unexplained="yes","unexplained",""))))))))))',
        fuel_fault,
        working=True,
    ),
)
