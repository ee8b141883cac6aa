"""Fuel and air: intake, heat riser, air cleaner, fuel pump, exhaust; the carburettor when all else is proven.

The starter turns the engine without spark, so the cranking vacuum waits for readiness and compression only; a
cylinder that is low or leaks lowers it too, and then it proves nothing, unless tightening the fastenings
brought it back.
"""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.mixture import (
    BEFORE_MIXTURE,
    BLOCKED_AIR,
    gas_cells,
    is_rich,
    lean_by_choke,
    lean_by_gas,
    on_most_plugs,
)
from workbook_tools.diagnose.mixture import RUNNING as RUNNING_CELLS
from workbook_tools.diagnose.model import Draft
from workbook_tools.form.fuel_results import NEAR, SLOW, STILL_LOW, TIGHT, TIGHTEN, TIGHTENED
from workbook_tools.form.gas_results import RAISED

CRANKING = ("cranking_vacuum", "cranking_vacuum_rise", "cranking_vacuum_retest", "site_cranking_vacuum_min")
PRESSURE = ("fuel_pressure", "spec_fuel_pressure_min", "spec_fuel_pressure_max")
DELIVERY = ("fuel_delivery_rate", "fuel_delivery_volume", "fuel_delivery_time", "spec_fuel_delivery_min")
HELD = ("needle_with_speed", "raised_vacuum_start", "raised_vacuum_held", "raised_vacuum_fall")


def find(case: Case) -> Iterator[Draft]:
    """Fuel and air findings, except mixture."""
    yield from _intake(case)
    yield from _heat_riser(case)
    yield from _air_cleaner(case)
    yield from _pump(case)
    yield from _carburettor(case)
    yield from _exhaust(case)


# --- intake -------------------------------------------------------------------------------------------------


def intake_is_tight(case: Case) -> bool:
    """Cranking vacuum in limits, quick or after tightening, and the heat riser not burned through."""
    return case.text("intake_word") in (TIGHT, TIGHTENED) and case.text("heat_riser") != "burned through"


def cylinder_lowers(case: Case) -> bool:
    """Whether a low or leaking cylinder lowers the cranking vacuum too."""
    return case.text("cylinder_lowers_vacuum") == "yes"


def _intake(case: Case) -> Iterator[Draft]:
    word = case.text("intake_word")
    needed = f"at least {case.says('site_cranking_vacuum_min')} needed here"
    first = f"Cranking vacuum is {case.says('cranking_vacuum')}, {needed}"
    if word == TIGHTENED:
        was = "slow to rise" if case.is_inside("cranking_vacuum") else case.says("cranking_vacuum")
        yield Draft(
            "intake_leak",
            "confirmed",
            f"Cranking vacuum was {was} and came to {case.says('cranking_vacuum_retest')} once the manifold"
            f" fastenings were tightened ({needed}): they leaked.",
            CRANKING,
            "tightening restores the cranking vacuum",
            next_step="Read the idle vacuum again with the fastenings tight",
        )
    elif word == STILL_LOW or (word == NEAR and case.is_beyond("cranking_vacuum_retest")):
        yield from _still_low(case, needed)
    elif word in (TIGHTEN, SLOW, NEAR):
        slow = case.text("cranking_vacuum_rise") == "slow"
        told = first if case.is_below("cranking_vacuum") else "Cranking vacuum"
        told += (
            (", and is slow to rise" if case.is_below("cranking_vacuum") else " is slow to rise")
            if slow
            else ""
        )
        yield _by_cranking(
            case,
            "intake_leak",
            f"{told}: air leaks in at the intake",
            word == NEAR,
            (*CRANKING, *_leak_support(case)),
            "cranking vacuum",
        )


def _still_low(case: Case, needed: str) -> Iterator[Draft]:
    again, before = case.number("cranking_vacuum_retest"), case.number("cranking_vacuum")
    fell = before is not None and again is not None and case.is_inside("cranking_vacuum")
    statement = (
        f"Cranking vacuum is still low with the fastenings tightened: {case.says('cranking_vacuum_retest')},"
        f" {needed}"
    )
    unsure = fell or case.near_by_gauge("cranking_vacuum_retest")
    yield _by_cranking(
        case,
        "manifold_or_heat_riser",
        f"{statement}; a cracked manifold or a burned heat riser lets air in",
        unsure,
        (*CRANKING, *_leak_support(case)),
        "still low after tightening",
    )


def _by_cranking(
    case: Case, cause: str, told: str, unsure: bool, evidence: tuple[str, ...], rule: str
) -> Draft:
    lowered = cylinder_lowers(case)
    also = ". A low or leaking cylinder lowers this vacuum too" if lowered else ""
    near = ". It lies nearer to the limit than the gauge can tell" if unsure and not lowered else ""
    return Draft(
        cause,
        "possible" if unsure or lowered else "confirmed",
        f"{told}{also}{near}.",
        evidence,
        rule,
        waits_for=("readiness", "compression"),
        provisional=lowered,
        why_provisional=(
            "repair the low or leaking cylinder, then read the cranking vacuum again" if lowered else ""
        ),
    )


def _leak_support(case: Case) -> tuple[str, ...]:
    """Signs that agree with an air leak: a very low steady needle, a lean mixture."""
    very_low = ("idle_vacuum_low", "idle_vacuum_high") if case.text("vacuum_very_low") == "yes" else ()
    lean = ("running_vacuum", "running_vacuum_choked") if lean_by_choke(case) else ()
    return (*very_low, *lean, *((f"lambda_{RAISED}",) if lean_by_gas(case) else ()))


def _heat_riser(case: Case) -> Iterator[Draft]:
    riser = case.text("heat_riser")
    if riser == "burned through":
        statement = "The heat riser is burned through: exhaust gas and air leak into the intake."
        yield Draft("manifold_or_heat_riser", "confirmed", statement, ("heat_riser",), "heat riser seen")
    elif riser == "stuck":
        statement = "The heat riser valve is stuck: the manifold gets too much heat or too little."
        yield Draft("heat_riser_stuck", "confirmed", statement, ("heat_riser",), "heat riser seen")


def _air_cleaner(case: Case) -> Iterator[Draft]:
    state = case.text("air_cleaner")
    if state not in BLOCKED_AIR:
        return
    rich = (*((f"lambda_{RAISED}",) if is_rich(case) else ()), *on_most_plugs(case, "dry soot"))
    told = "; the mixture is rich too" if is_rich(case) else "; most plugs are sooty too" if rich else ""
    yield Draft(
        "air_cleaner",
        "confirmed",
        f"The air cleaner is {state}{told}.",
        ("air_cleaner", *rich),
        "air cleaner seen",
    )


# --- fuel ---------------------------------------------------------------------------------------------------


def _pump(case: Case) -> Iterator[Draft]:
    delivery_low = case.is_below("fuel_delivery_rate")
    strength = "possible" if case.near_by_gauge("fuel_pressure") else "confirmed"
    doubt = ", nearer to the limit than the gauge can tell" if strength == "possible" else ""
    if case.is_below("fuel_pressure"):
        also = f"; delivery is low too ({case.says('fuel_delivery_rate')})" if delivery_low else ""
        statement = (
            f"Fuel pressure is low: {case.says('fuel_pressure')}, at least"
            f" {case.says('spec_fuel_pressure_min')} needed{doubt}{also}."
        )
        evidence = (*PRESSURE, *(DELIVERY if delivery_low else ()))
        yield Draft("low_fuel_pressure", strength, statement, evidence, "fuel pressure")
    if case.is_above("fuel_pressure"):
        rich = (*((f"lambda_{RAISED}",) if is_rich(case) else ()), *on_most_plugs(case, "dry soot"))
        also = "; rich signs agree" if rich else ""
        statement = (
            f"Fuel pressure is high: {case.says('fuel_pressure')}, at most"
            f" {case.says('spec_fuel_pressure_max')} allowed{doubt}{also}."
        )
        yield Draft("high_fuel_pressure", strength, statement, (*PRESSURE, *rich), "fuel pressure")
    if delivery_low:
        statement = (
            f"The pump delivers {case.says('fuel_delivery_rate')}, at least"
            f" {case.says('spec_fuel_delivery_min')} needed."
        )
        yield Draft("low_fuel_delivery", "confirmed", statement, DELIVERY, "fuel delivery")


CHOKE_OR_GAS = "the exhaust gas is rich, so try the choke and read the gas again, at one throttle"


def _carburettor(case: Case) -> Iterator[Draft]:
    """Blamed only where lean with the intake tight, and pressure (and delivery, if taken) in limits; where the gas is
    rich all the same, one of the two was read wrong.
    """
    by_choke, by_gas = lean_by_choke(case), lean_by_gas(case)
    fuel_comes = case.is_inside("fuel_pressure") and not case.is_beyond("fuel_delivery_rate")
    if not (by_choke or by_gas) or not intake_is_tight(case) or not fuel_comes:
        return
    sure = by_choke and not case.near_by_gauge("running_vacuum")
    lean = (
        "the choke brings the running vacuum up"
        if by_choke
        else f"lambda is {case.says('lambda', RAISED)} at the raised speed"
    )
    pressure = f"fuel pressure ({case.says('fuel_pressure')})"
    delivery = (
        f" and delivery ({case.says('fuel_delivery_rate')})" if case.is_inside("fuel_delivery_rate") else ""
    )
    signs = (*(RUNNING_CELLS if by_choke else ()), *(gas_cells(RAISED) if by_gas else ()))
    yield Draft(
        "carburettor",
        "confirmed" if sure else "indicated" if by_gas else "possible",
        f"The mixture is lean ({lean}), although the intake is tight and {pressure}{delivery} in limits: the"
        " carburettor.",
        (*signs, *CRANKING, *PRESSURE, *(DELIVERY if delivery else ())),
        "carburettor last",
        waits_for=BEFORE_MIXTURE,
        provisional=is_rich(case),
        why_provisional=CHOKE_OR_GAS if is_rich(case) else "",
    )


# --- exhaust ------------------------------------------------------------------------------------------------


def falls_while_held(case: Case) -> tuple[str, ...]:
    """What tells of a vacuum that falls while the raised speed is held: needle as described, figures."""
    word = case.text("needle_with_speed") == "falls slowly while held" and case.shape.cylinders > 2
    fall = case.number("raised_vacuum_fall")
    measured = fall is not None and fall > case.values.constant("held_fall")
    return (*(("needle_with_speed",) if word else ()), *(("raised_vacuum_fall",) if measured else ()))


def _exhaust(case: Case) -> Iterator[Draft]:
    signs = falls_while_held(case)
    if case.is_beyond("backpressure"):
        also = ", and the vacuum falls while a raised speed is held" if signs else ""
        statement = (
            f"Exhaust back-pressure is {case.says('backpressure')}, at most"
            f" {case.says('spec_backpressure_max')} allowed{also}."
        )
        evidence = ("backpressure", "spec_backpressure_max", *(HELD if signs else ()))
        next_step = "Inspect muffler and pipes, and read back-pressure again behind each"
        yield Draft(
            "exhaust_restriction", "confirmed", statement, evidence, "back-pressure", next_step=next_step
        )
    elif signs and not case.is_inside("backpressure"):
        fall = f" ({case.says('raised_vacuum_fall')} in a minute)" if "raised_vacuum_fall" in signs else ""
        rises = "raised_vacuum_fall" not in signs and (case.number("raised_vacuum_fall") or 1.0) <= 0
        yield Draft(
            "exhaust_restriction",
            "possible" if rises or case.shape.cylinders < 3 else "confirmed",
            f"The vacuum falls slowly while a raised speed is held{fall}: the exhaust is restricted.",
            HELD,
            "falls while held",
            waits_for=BEFORE_MIXTURE,
            next_step="Measure back-pressure at the running speed; inspect muffler and pipes",
        )
