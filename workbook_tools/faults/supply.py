"""What feeds the engine and lets it breathe: pump, air cleaner, exhaust; the carburettor when all else is proven."""

from __future__ import annotations

from workbook_tools.faults import vacuum
from workbook_tools.faults.intake import CRANKING_SHOWN, is_tight, leak_shown, no_leak, retest_inside, shown
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
    Cond,
    constant,
    number,
    word,
)
from workbook_tools.language.model import CONFIRMED, INDICATED, POSSIBLE, Strength
from workbook_tools.sheets.fuel_results import (
    NORMAL,
    NOT_LEAN,
)
from workbook_tools.sheets.gas_results import RAISED
from workbook_tools.sheets.readings import is_above, is_below, is_beyond, is_inside, near_by_gauge
from workbook_tools.sheets.spark_plugs import is_on_most, looks

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


supply_wrong = (
    is_beyond("fuel_pressure") | is_beyond("fuel_delivery_rate") | is_beyond("cranking_vacuum_retest")
)


#: The mixture itself was measured and is right, by gas or by choke.
mixture_is_right = (is_inside("lambda", RAISED) | word("running_says").is_in(NORMAL, NOT_LEAN)) & ~(
    lean_by_choke | lean_by_gas | is_rich
)

CAUSES = (
    Cause(
        id="low_fuel_pressure",
        common=3,
        deciding=("fuel pressure",),
        shows={
            "fuel pressure": {"low": 0.95},
            "fuel delivery": {"low": 0.85},
            "running mixture and choke": {"below normal, the choke brings it up": 0.7},
            "exhaust gas": {"lean": 0.65},
            "plugs": {"mostly blistered white": 0.4},
        },
        complaints=("lacks power", "misfires", "stalls", "hard starting", "does not start"),
        system="fuel and air",
        shown_as="Fuel pump pressure low",
        customer_words="The fuel pump gave too little pressure",
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
        in_short="Check filter, line and tank vent, then the pump",
    ),
    Cause(
        id="high_fuel_pressure",
        common=1.6,
        deciding=("fuel pressure",),
        shows={
            "fuel pressure": {"high": 0.95},
            "exhaust gas": {"rich": 0.8},
            "plugs": {"mostly dry soot": 0.6},
        },
        complaints=("high fuel use", "rough idle", "stalls", "hard starting"),
        system="fuel and air",
        shown_as="Fuel pump pressure high",
        customer_words="The fuel pump gave too much pressure",
        decided_by="fuel_pressure above spec_fuel_pressure_max",
        supported_by="rich signs",
        next_step="Check the pump and return line",
        caution="fuel",
        signs=_pump_signs(is_above("fuel_pressure"), _pressure_high, RICH_SHOWN),
        cleared=is_inside("fuel_pressure") | is_below("fuel_pressure"),
        hinted=is_above("fuel_pressure"),
        replaced_by=("low_fuel_pressure",),
        recheck=("after_fuel_pressure",),
        in_short="Check the pump and the return line",
    ),
    Cause(
        id="low_fuel_delivery",
        common=2.2,
        deciding=("fuel delivery",),
        shows={
            "fuel delivery": {"low": 0.95},
            "running mixture and choke": {"below normal, the choke brings it up": 0.7},
            "exhaust gas": {"lean": 0.65},
            "plugs": {"mostly blistered white": 0.4},
        },
        complaints=("lacks power", "misfires", "stalls", "does not start", "hard starting"),
        system="fuel and air",
        shown_as="Fuel delivery low",
        customer_words="Too little fuel came through to the engine",
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
        in_short="Check filter, line and tank vent, then the pump",
    ),
    Cause(
        id="carburettor",
        common=2.5,
        deciding=("running mixture and choke", "cranking vacuum", "fuel pressure", "fuel delivery"),
        before_repair=("fuel delivery",),
        shows={
            "running mixture and choke": {"below normal, the choke brings it up": 0.9},
            "exhaust gas": {"lean": 0.8},
            "plugs": {"mostly blistered white": 0.5},
        },
        complaints=("lacks power", "rough idle", "stalls", "hard starting", "high fuel use", "misfires"),
        system="fuel and air",
        shown_as="Carburettor at fault",
        customer_words="The carburettor did not work as it should",
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
        common=2.5,
        deciding=("air cleaner",),
        shows={
            "air cleaner": {"dirty or blocked": 0.97},
            "exhaust gas": {"rich": 0.7},
            "plugs": {"mostly dry soot": 0.4},
        },
        complaints=("high fuel use", "lacks power", "stalls"),
        system="fuel and air",
        shown_as="Air cleaner restricted",
        customer_words="The air filter was clogged",
        decided_by="air_cleaner dirty or blocked",
        supported_by="rich signs",
        next_step="Clean or renew",
        signs=(Sign(blocked_air, CONFIRMED, _air_cleaner, "air cleaner seen", support=RICH_SHOWN),),
        cleared=word("air_cleaner").known & ~blocked_air,
        in_short="Clean or renew the air cleaner, then read the vacuum again",
        turn=1,
    ),
    Cause(
        id="exhaust_restriction",
        common=2.2,
        deciding=(
            "idle vacuum",
            "back-pressure",
        ),
        before_repair=("back-pressure",),
        shows={
            "idle vacuum": {"falls while held": 0.8, "steady, low": 0.05},
            "raised speed held": {"falls slowly": 0.9},
            "back-pressure": {"high": 0.95},
            "running mixture and choke": {"below normal, not by mixture": 0.7},
        },
        complaints=("lacks power", "overheats", "stalls", "high fuel use", "does not start"),
        system="fuel and air",
        shown_as="Exhaust restricted",
        customer_words="The exhaust was partly blocked",
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
