"""Fuel and air: intake, heat riser, air cleaner, fuel pump, exhaust; the carburettor when all else is proven.

The starter turns the engine without spark, so the cranking vacuum waits for readiness and compression only; a
cylinder that is low or leaks lowers it too, and then it proves nothing, unless tightening the fastenings brought it
back.
"""

from __future__ import annotations

from workbook_tools.faults import vacuum
from workbook_tools.faults.mixture import (
    BEFORE_MIXTURE,
    RUNNING_SHOWN,
    before_tightening,
    blocked_air,
    gas_shown,
    is_rich,
    lean_by_choke,
    lean_by_gas,
    only_looks_lean,
)
from workbook_tools.faults.model import Bench, Cause, Sign, Words
from workbook_tools.language.expressions import (
    CYLINDERS,
    YES,
    Cond,
    constant,
    number,
    word,
)
from workbook_tools.language.model import CONFIRMED, INDICATED, POSSIBLE, Strength
from workbook_tools.sheets.compression_results import dry_column
from workbook_tools.sheets.fuel_results import (
    AT_BASE,
    AT_HOSE,
    AT_NEITHER,
    NEAR,
    NORMAL,
    NOT_LEAN,
    SLOW,
    STILL_LOW,
    TIGHT,
    TIGHTEN,
    TIGHTENED,
    intake,
    lowered,
)
from workbook_tools.sheets.fuel_results import slow as rises_slowly
from workbook_tools.sheets.gas_results import RAISED
from workbook_tools.sheets.readings import is_above, is_below, is_beyond, is_inside, is_out, near_by_gauge
from workbook_tools.sheets.spark_plugs import is_on_most, looks

riser = word("heat_riser")
cylinder_lowers = lowered == YES
is_tight = intake.is_in(TIGHT, TIGHTENED) & (riser != "burned through")


def shown(*names: str) -> tuple[Cond, ...]:
    """Readings worth showing beside what decided."""
    return tuple(number(name).known for name in names)


# --- intake ----------------------------------------------------------------------------------------------------------

#: Signs that agree with an air leak: a very low steady needle, a lean mixture.
LEAK_SHOWN = (
    *shown("cranking_vacuum", "cranking_vacuum_retest", "site_cranking_vacuum_min"),
    word("cranking_vacuum_rise").known,
    vacuum.very_low & number("idle_vacuum_low").known,
    vacuum.very_low & number("idle_vacuum_high").known,
    lean_by_choke & number("running_vacuum").known,
    lean_by_choke & number("running_vacuum_choked").known,
    lean_by_gas & number("lambda").of(RAISED).known,
)
CRANKING_SHOWN = LEAK_SHOWN[:4]
leak_place = word("leak_found_at")
leak_found = leak_place.is_in(AT_HOSE, AT_BASE)
retest_low = (intake == STILL_LOW) | ((intake == NEAR) & is_beyond("cranking_vacuum_retest"))
first_low = intake.is_in(TIGHTEN, SLOW, NEAR) & ~retest_low
fell = number("cranking_vacuum_retest").known & is_inside("cranking_vacuum")
retest_unsure = fell | near_by_gauge("cranking_vacuum_retest")


def _needed(bench: Bench) -> str:
    return f"at least {bench.reading('site_cranking_vacuum_min')} needed here"


def _tightened(bench: Bench, _: int | None) -> str:
    was = "slow to rise" if bench.holds(is_inside("cranking_vacuum")) else bench.reading("cranking_vacuum")
    return (
        f"Cranking vacuum was {was} and came to {bench.reading('cranking_vacuum_retest')} once the manifold fastenings were "
        f"tightened ({_needed(bench)}): they leaked."
    )


def _leak_at(bench: Bench, _: int | None) -> str:
    by = (
        "the vacuum came up with it pinched off"
        if bench.text("hoses_pinched") == "vacuum came up"
        else "the engine changed when it was tested"
    )
    return f"Air leaks in at {bench.text('leak_found_at')}: {by}."


def _by_cranking(what: Words, unsure: Cond) -> Words:
    """A statement from the cranking vacuum, with what speaks against believing it."""

    def statement(bench: Bench, n: int | None) -> str:
        doubt = ""
        if bench.holds(cylinder_lowers):
            doubt = ". A low or leaking cylinder lowers this vacuum too"
        elif bench.holds(unsure):
            doubt = ". It lies nearer to the limit than the gauge can tell"
        return f"{what(bench, n)}{doubt}."

    return statement


def _air_leaks_in(bench: Bench, _: int | None) -> str:
    reads = "Cranking vacuum"
    slow = " is slow to rise" if bench.holds(rises_slowly) else ""
    if bench.holds(is_below("cranking_vacuum")):
        reads = f"Cranking vacuum is {bench.reading('cranking_vacuum')}, {_needed(bench)}"
        slow = ", and is slow to rise" if slow else ""
    return f"{reads}{slow}: air leaks in at the intake"


def _still_low(bench: Bench, _: int | None) -> str:
    return (
        f"Cranking vacuum is still low with the fastenings tightened: {bench.reading('cranking_vacuum_retest')}, "
        f"{_needed(bench)}; a cracked manifold or a burned heat riser lets air in"
    )


def _still_low_all_tested(bench: Bench, _: int | None) -> str:
    return (
        f"Cranking vacuum is still low with the fastenings tightened: {bench.reading('cranking_vacuum_retest')}, {_needed(bench)}; no hose "
        "and not the carburettor base made it better: a cracked manifold or a burned heat riser"
    )


def _cylinder_first(bench: Bench, _: int | None) -> str:
    lowers = bench.holds(cylinder_lowers)
    return "repair the low or leaking cylinder, then read the cranking vacuum again" if lowers else ""


def _cranking_sign(
    when: Cond, strength: Strength, what: Words, unsure: Cond, rule: str, next_step: str = ""
) -> Sign:
    return Sign(
        when,
        strength,
        _by_cranking(what, unsure),
        rule,
        next_step,
        waits_for=("readiness", "compression"),
        unsettled=_cylinder_first,
        support=LEAK_SHOWN,
    )


low_untested = (
    vacuum.low_and_steady
    & ~vacuum.intake_measured
    & ((vacuum.timing_measured & vacuum.timing_in_limits) | (~vacuum.timing_measured & vacuum.very_low))
)


def _low_untested(bench: Bench, _: int | None) -> str:
    why = (
        "so low that an air leak at the intake is more likely than timing"
        if bench.holds(vacuum.very_low)
        else "timing is in limits, and the intake was not tested"
    )
    return f"{vacuum.low_vacuum(bench)}; {why}."


# --- low vacuum without a reason -------------------------------------------------------------------------------------

unexplained = (
    vacuum.low_and_steady
    & vacuum.timing_measured
    & vacuum.timing_in_limits
    & vacuum.intake_measured
    & ~(rises_slowly & number("cranking_vacuum_retest").missing)
    & (
        is_inside("cranking_vacuum_retest")
        | (number("cranking_vacuum_retest").missing & is_inside("cranking_vacuum"))
    )
    & vacuum.even
    & ~is_out("backpressure")
    & ~vacuum.explained_by_a_cause
)


def _unexplained(bench: Bench, _: int | None) -> str:
    return f"{vacuum.low_vacuum(bench)}, although compression, timing and intake are all in limits."


UNEXPLAINED_SHOWN = (
    *vacuum.needle_shown,
    *shown("timing", "cranking_vacuum", "cranking_vacuum_retest"),
    dry_column.known,
)


# --- fuel ------------------------------------------------------------------------------------------------------------

PRESSURE_SHOWN = shown("fuel_pressure", "spec_fuel_pressure_min", "spec_fuel_pressure_max")
DELIVERY = ("fuel_delivery_rate", "fuel_delivery_volume", "fuel_delivery_time", "spec_fuel_delivery_min")
delivery_low = is_below("fuel_delivery_rate")
pressure_near = near_by_gauge("fuel_pressure")
RICH_SHOWN = (
    is_rich & number("lambda").of(RAISED).known,
    is_on_most("dry soot") & looks.any_is("dry soot"),
)


def _doubt(bench: Bench) -> str:
    return ", nearer to the limit than the gauge can tell" if bench.holds(pressure_near) else ""


def _pressure_low(bench: Bench, _: int | None) -> str:
    also = (
        f"; delivery is low too ({bench.reading('fuel_delivery_rate')})" if bench.holds(delivery_low) else ""
    )
    return (
        f"Fuel pressure is low: {bench.reading('fuel_pressure')}, at least {bench.reading('spec_fuel_pressure_min')} "
        f"needed{_doubt(bench)}{also}."
    )


def _pressure_high(bench: Bench, _: int | None) -> str:
    also = "; rich signs agree" if any(bench.holds(each) for each in RICH_SHOWN) else ""
    return (
        f"Fuel pressure is high: {bench.reading('fuel_pressure')}, at most {bench.reading('spec_fuel_pressure_max')} "
        f"allowed{_doubt(bench)}{also}."
    )


def _pump_signs(when: Cond, statement: Words, support: tuple[Cond, ...]) -> tuple[Sign, ...]:
    return (
        Sign(when & pressure_near, POSSIBLE, statement, "fuel pressure", support=(*PRESSURE_SHOWN, *support)),
        Sign(when, CONFIRMED, statement, "fuel pressure", support=(*PRESSURE_SHOWN, *support)),
    )


def _air_cleaner(bench: Bench, _: int | None) -> str:
    also = ""
    if bench.holds(is_rich):
        also = "; the mixture is rich too"
    elif bench.holds(is_on_most("dry soot")):
        also = "; most plugs are sooty too"
    return f"The air cleaner is {bench.text('air_cleaner')}{also}."


# --- carburettor -----------------------------------------------------------------------------------------------------

fuel_comes = is_inside("fuel_pressure") & ~is_beyond("fuel_delivery_rate")
lean_for_sure = lean_by_choke | (lean_by_gas & ~only_looks_lean)
blamed = lean_for_sure & ~before_tightening & is_tight & fuel_comes
CHOKE_OR_GAS = "the exhaust gas is rich, so try the choke and read the gas again, at one throttle"
CARBURETTOR_SHOWN = (
    *(lean_by_choke & each for each in RUNNING_SHOWN),
    *gas_shown(RAISED, lean_by_gas),
    *CRANKING_SHOWN,
    *PRESSURE_SHOWN,
    *(is_inside("fuel_delivery_rate") & each for each in shown(*DELIVERY)),
)


def _carburettor(bench: Bench, _: int | None) -> str:
    """Lean with the intake tight and the fuel coming; where the gas is rich all the same, one of the two was read wrong."""
    lean = (
        "the choke brings the running vacuum up"
        if bench.holds(lean_by_choke)
        else f"lambda is {bench.reading('lambda', RAISED)} at the raised speed"
    )
    inside = bench.holds(is_inside("fuel_delivery_rate"))
    delivery = f" and delivery ({bench.reading('fuel_delivery_rate')})" if inside else ""
    return (
        f"The mixture is lean ({lean}), although the intake is tight and fuel pressure ({bench.reading('fuel_pressure')}){delivery} "
        "in limits: the carburettor."
    )


def _carburettor_sign(when: Cond, strength: Strength) -> Sign:
    return Sign(
        when,
        strength,
        _carburettor,
        "carburettor last",
        waits_for=BEFORE_MIXTURE,
        unsettled=lambda bench, _: CHOKE_OR_GAS if bench.holds(is_rich) else "",
        support=CARBURETTOR_SHOWN,
    )


# --- exhaust ---------------------------------------------------------------------------------------------------------

fall = number("raised_vacuum_fall")
seen_to_fall = (word("needle_with_speed") == "falls slowly while held") & (CYLINDERS > 2)
measured_fall = fall > constant("held_fall")
falls = seen_to_fall | measured_fall
HELD_SHOWN = (
    falls & word("needle_with_speed").known,
    *(falls & each for each in shown("raised_vacuum_start", "raised_vacuum_held", "raised_vacuum_fall")),
)
#: Called falling, though the figures say that it does not; or a needle that is not judged.
held_unsure = (~measured_fall & (fall <= 0)) | (CYLINDERS < 3)


def _back_pressure(bench: Bench, _: int | None) -> str:
    also = ", and the vacuum falls while a raised speed is held" if bench.holds(falls) else ""
    return f"Exhaust back-pressure is {bench.reading('backpressure')}, at most {bench.reading('spec_backpressure_max')} allowed{also}."


def _falls(bench: Bench, _: int | None) -> str:
    how_far = f" ({bench.reading('raised_vacuum_fall')} in a minute)" if bench.holds(measured_fall) else ""
    return f"The vacuum falls slowly while a raised speed is held{how_far}: the exhaust is restricted."


def _held_sign(when: Cond, strength: Strength) -> Sign:
    return Sign(
        when,
        strength,
        _falls,
        "falls while held",
        "Measure back-pressure at the running speed; inspect muffler and pipes",
        waits_for=BEFORE_MIXTURE,
        support=HELD_SHOWN,
    )


# --- what speaks for or against a named cause ------------------------------------------------------------------------

leak_shown = is_below("cranking_vacuum") | rises_slowly
no_leak = ~leak_shown & is_inside("cranking_vacuum")
retest_inside = is_inside("cranking_vacuum_retest")
supply_wrong = (
    is_beyond("fuel_pressure") | is_beyond("fuel_delivery_rate") | is_beyond("cranking_vacuum_retest")
)

#: The mixture itself was measured and is right, by gas or by choke.
mixture_is_right = (is_inside("lambda", RAISED) | word("running_says").is_in(NORMAL, NOT_LEAN)) & ~(
    lean_by_choke | lean_by_gas | is_rich
)

INTAKE_CAUSES = (
    Cause(
        id="intake_leak",
        complaints=("rough idle", "stalls", "lacks power", "hard starting", "misfires", "overheats"),
        system="fuel and air",
        shown_as="Air leak into the intake (manifold, hose, carburettor base)",
        decided_by=(
            "cranking_vacuum below the site limit or slow to rise; or a hose pinched off, or the base tested, with a change"
        ),
        supported_by="very low steady vacuum; lean signs",
        next_step="Tighten the manifold fastenings and repeat the test",
        caution="hot parts",
        signs=(
            Sign(
                leak_found,
                CONFIRMED,
                _leak_at,
                "air found at a place",
                "Renew what leaks, then read the vacuum again",
            ),
            Sign(
                intake == TIGHTENED,
                CONFIRMED,
                _tightened,
                "tightening restores the cranking vacuum",
                "Read the idle vacuum again with the fastenings tight",
                support=CRANKING_SHOWN,
            ),
            _cranking_sign(
                first_low & ((intake == NEAR) | cylinder_lowers),
                POSSIBLE,
                _air_leaks_in,
                intake == NEAR,
                "cranking vacuum",
            ),
            _cranking_sign(first_low, CONFIRMED, _air_leaks_in, intake == NEAR, "cranking vacuum"),
            Sign(
                low_untested & ~retest_low,
                POSSIBLE,
                _low_untested,
                "steady and very low",
                "Cranking vacuum with the throttle closed",
                waits_for=BEFORE_MIXTURE,
                support=(*vacuum.needle_shown, number("timing").known),
            ),
        ),
        cleared=no_leak,
        hinted=leak_shown | vacuum.very_low,
        replaced_by=("manifold_or_heat_riser",),
        recheck=("after_cranking_vacuum",),
        on_summary="Tighten the manifold fastenings, then read the cranking vacuum again",
        turn=2,
    ),
    Cause(
        id="manifold_or_heat_riser",
        complaints=("rough idle", "stalls", "lacks power", "misfires"),
        system="fuel and air",
        shown_as="Cracked manifold or burned heat riser",
        decided_by=(
            "heat riser burned through; or every hose pinched off and the carburettor base tested without change"
        ),
        supported_by="cranking vacuum still low after the fastenings were tightened",
        next_step=(
            "Pinch off the hoses one at a time, test carburettor base and throttle shaft; then pressure-test or remove the manifold"
        ),
        on_summary="Pinch off the hoses, test carburettor base and shaft; then the manifold",
        caution="hot parts+pinched servo hose+spray",
        signs=(
            Sign(
                riser == "burned through",
                CONFIRMED,
                lambda bench, _: (
                    "The heat riser is burned through: exhaust gas and air leak into the intake."
                ),
                "heat riser seen",
                support=(retest_low & number("cranking_vacuum_retest").known,),
            ),
            Sign(leak_found, None),
            _cranking_sign(
                retest_low & (retest_unsure | cylinder_lowers),
                POSSIBLE,
                _still_low,
                retest_unsure,
                "still low after tightening",
            ),
            _cranking_sign(
                retest_low & (leak_place == AT_NEITHER),
                CONFIRMED,
                _still_low_all_tested,
                retest_unsure,
                "still low after tightening",
                "Pressure-test or remove the manifold",
            ),
            _cranking_sign(retest_low, INDICATED, _still_low, retest_unsure, "still low after tightening"),
        ),
        cleared=(riser != "burned through") & ~is_below("cranking_vacuum_retest") & (retest_inside | no_leak),
        hinted=(riser == "burned through") | is_below("cranking_vacuum_retest"),
        replaced_by=("intake_leak",),
        recheck=("after_cranking_vacuum",),
        turn=3,
    ),
    Cause(
        id="heat_riser_stuck",
        complaints=("lacks power", "stalls", "rough idle", "overheats", "hard starting"),
        system="fuel and air",
        shown_as="Heat riser stuck",
        decided_by="heat_riser stuck",
        next_step="Free the valve; check it moves with heat",
        caution="hot parts",
        signs=(
            Sign(
                riser == "stuck",
                CONFIRMED,
                lambda bench, _: (
                    "The heat riser valve is stuck: the manifold gets too much heat or too little."
                ),
                "heat riser seen",
            ),
        ),
        cleared=riser.known & (riser != "stuck"),
        turn=4,
    ),
    Cause(
        id="low_vacuum_unexplained",
        complaints=("lacks power", "rough idle"),
        system="fuel and air",
        shown_as="Low vacuum not explained yet",
        decided_by="low steady vacuum with compression, timing and intake all in limits",
        next_step="Check valve timing and exhaust restriction",
        caution="exhaust gas",
        signs=(
            Sign(
                unexplained,
                CONFIRMED,
                _unexplained,
                "low vacuum unexplained",
                waits_for=BEFORE_MIXTURE,
                support=UNEXPLAINED_SHOWN,
            ),
        ),
        cleared=is_inside("idle_vacuum_mean")
        | (is_below("idle_vacuum_mean") & (is_beyond("timing") | is_beyond("cranking_vacuum"))),
        hinted=is_below("idle_vacuum_mean") | is_above("idle_vacuum_mean"),
        replaced_by=("late_timing", "intake_leak", "manifold_or_heat_riser", "exhaust_restriction"),
        recheck=("after_idle_vacuum_mean",),
        turn=9,
    ),
)

SUPPLY_CAUSES = (
    Cause(
        id="low_fuel_pressure",
        complaints=("lacks power", "misfires", "stalls", "hard starting", "does not start"),
        system="fuel and air",
        shown_as="Fuel pump pressure low",
        decided_by="fuel_pressure below spec_fuel_pressure_min",
        supported_by="delivery low",
        next_step="Check filter and line, then the pump",
        caution="fuel",
        signs=_pump_signs(
            is_below("fuel_pressure"), _pressure_low, tuple(delivery_low & each for each in shown(*DELIVERY))
        ),
        cleared=is_inside("fuel_pressure") | is_above("fuel_pressure"),
        hinted=is_below("fuel_pressure"),
        replaced_by=("high_fuel_pressure",),
        recheck=("after_fuel_pressure",),
        on_summary="Check filter, line and tank vent, then the pump",
    ),
    Cause(
        id="high_fuel_pressure",
        complaints=("high fuel use", "rough idle", "stalls", "hard starting"),
        system="fuel and air",
        shown_as="Fuel pump pressure high",
        decided_by="fuel_pressure above spec_fuel_pressure_max",
        supported_by="rich signs",
        next_step="Check the pump and return line",
        caution="fuel",
        signs=_pump_signs(is_above("fuel_pressure"), _pressure_high, RICH_SHOWN),
        cleared=is_inside("fuel_pressure") | is_below("fuel_pressure"),
        hinted=is_above("fuel_pressure"),
        replaced_by=("low_fuel_pressure",),
        recheck=("after_fuel_pressure",),
        on_summary="Check the pump and the return line",
    ),
    Cause(
        id="low_fuel_delivery",
        complaints=("lacks power", "misfires", "stalls", "does not start", "hard starting"),
        system="fuel and air",
        shown_as="Fuel delivery low",
        decided_by="delivery rate below spec_fuel_delivery_min",
        next_step="Filter, line, tank vent, pump",
        caution="fuel",
        signs=(
            Sign(
                delivery_low,
                CONFIRMED,
                lambda bench, _: (
                    f"The pump delivers {bench.reading('fuel_delivery_rate')}, at least {bench.reading('spec_fuel_delivery_min')} "
                    "needed."
                ),
                "fuel delivery",
                support=shown(*DELIVERY),
            ),
        ),
        cleared=is_inside("fuel_delivery_rate"),
        recheck=("after_fuel_delivery_rate",),
        on_summary="Check filter, line and tank vent, then the pump",
    ),
    Cause(
        id="carburettor",
        complaints=("lacks power", "rough idle", "stalls", "hard starting", "high fuel use", "misfires"),
        system="fuel and air",
        shown_as="Carburettor at fault",
        decided_by="lean at set throttle, fuel pressure (and delivery, if taken) in limits, no intake leak",
        spoken_against_by="fuel pressure out of limits or not measured",
        next_step="Overhaul the carburettor",
        caution="fuel",
        signs=(
            _carburettor_sign(blamed & lean_by_choke & ~near_by_gauge("running_vacuum"), CONFIRMED),
            _carburettor_sign(blamed & lean_by_gas & ~only_looks_lean, INDICATED),
            _carburettor_sign(blamed, POSSIBLE),
        ),
        cleared=supply_wrong
        | ((leak_shown | vacuum.very_low & ~no_leak) & ~retest_inside)
        | mixture_is_right,
        hinted=(lean_by_choke | lean_by_gas | is_rich) & is_inside("fuel_pressure"),
        replaced_by=(
            "intake_leak",
            "manifold_or_heat_riser",
            "low_fuel_pressure",
            "high_fuel_pressure",
            "low_fuel_delivery",
        ),
        recheck=("after_running_vacuum", "after_lambda"),
        turn=8,
    ),
    Cause(
        id="air_cleaner",
        complaints=("high fuel use", "lacks power", "stalls"),
        system="fuel and air",
        shown_as="Air cleaner restricted",
        decided_by="air_cleaner dirty or blocked",
        supported_by="rich signs",
        next_step="Clean or renew",
        signs=(Sign(blocked_air, CONFIRMED, _air_cleaner, "air cleaner seen", support=RICH_SHOWN),),
        cleared=word("air_cleaner").known & ~blocked_air,
        on_summary="Clean or renew the air cleaner, then read the vacuum again",
        turn=1,
    ),
    Cause(
        id="exhaust_restriction",
        complaints=("lacks power", "overheats", "stalls", "high fuel use", "does not start"),
        system="fuel and air",
        shown_as="Exhaust restricted",
        decided_by="back-pressure over limit; or vacuum falls slowly while raised speed is held",
        next_step="Measure back-pressure; inspect muffler and pipes",
        caution="exhaust gas",
        signs=(
            Sign(
                is_beyond("backpressure"),
                CONFIRMED,
                _back_pressure,
                "back-pressure",
                "Inspect muffler and pipes, and read back-pressure again behind each",
                support=(number("spec_backpressure_max").known, *HELD_SHOWN),
            ),
            Sign(is_inside("backpressure"), None),
            _held_sign(falls & held_unsure, POSSIBLE),
            _held_sign(falls, CONFIRMED),
        ),
        cleared=is_inside("backpressure")
        | (~is_beyond("backpressure") & fall.known & ~measured_fall)
        | (~is_beyond("backpressure") & fall.missing & word("needle_with_speed").known & ~seen_to_fall),
        hinted=falls,
        recheck=("after_backpressure",),
        turn=6,
    ),
)
