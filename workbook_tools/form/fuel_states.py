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

from workbook_tools.form.fuel_results import (
    SLOW,
    STILL_LOW,
    TIGHT,
    TIGHTEN,
    TIGHTENED,
    brings_it_up,
    choke_gain,
    intake,
    lowered,
)
from workbook_tools.form.gas_results import IN_ORDER, LEAN, MISFIRE, RICH
from workbook_tools.form.ignition_states import even, idle_is_low, mixture, plugs
from workbook_tools.form.summary import FAULT, OPEN, PROVEN, is_inside
from workbook_tools.language.expressions import (
    BLANK,
    CYLINDERS,
    YES,
    constant,
    number,
    table,
    word,
    words_for,
    yes_if,
)
from workbook_tools.language.model import OUT_OF_LIMITS, Result

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


fault, state = word("fuel_fault"), word("state_fuel_and_air")
best_margin, fall = number("margin_mixture_best_vacuum"), number("raised_vacuum_fall")
choke_untried = choke_gain.missing & plugs.any_is("blistered white")
gas_off_at_idle_only = mixture.of(1).is_in(LEAN, RICH) & mixture.of(2).is_in(IN_ORDER, MISFIRE)
seen_to_fall = (word("needle_with_speed") == "falls slowly while held") & (fall.missing | (fall > 0))

FUEL_SUMMARY = (
    Result(
        "state_fuel_and_air",
        "Fuel and air",
        table((fault.known, FAULT), ((intake == TIGHT) & is_inside("fuel_pressure"), PROVEN), otherwise=OPEN),
    ),
    Result(
        "next_fuel_and_air",
        "Next for fuel and air",
        table(
            (fault.known, words_for(fault, NEXT_FOR_FAULT)),
            (state == PROVEN, BLANK),
            (
                number("cranking_vacuum").missing,
                "Read the vacuum while the starter turns the engine, throttle closed",
            ),
            (number("fuel_pressure").missing, "Tee the fuel pressure gauge in at the carburettor"),
            (
                number("site_cranking_vacuum_min").missing,
                "Fill in the engine's lowest cranking vacuum on Engine",
            ),
            otherwise="Look at the marks on Fuel and air",
        ),
        wide=True,
    ),
    Result(
        "mixture_fault",
        "Fault in the running mixture",
        yes_if(
            mixture.of(2).is_in(LEAN, RICH)
            | ((word("mark_running_vacuum") == OUT_OF_LIMITS) & ((brings_it_up == YES) | choke_untried))
        ),
        working=True,
    ),
    Result(
        "idle_mixture_fault",
        "Fault in the idle mixture",
        yes_if(
            (word("needle_judged") == "slow wander")
            & ((best_margin >= 0) | (best_margin.missing & gas_off_at_idle_only))
        ),
        help="a slow wander that goes steady in limits, or gas that is off at idle only",
        working=True,
    ),
    Result(
        "exhaust_fault",
        "Fault in the exhaust",
        yes_if(
            (word("mark_backpressure") == OUT_OF_LIMITS)
            | (
                (CYLINDERS > 2)
                & number("margin_backpressure").missing
                & (seen_to_fall | (fall > constant("held_fall")))
            )
        ),
        help="back-pressure over its limit, or a vacuum that falls while a raised speed is held",
        working=True,
    ),
    Result(
        "vacuum_unexplained",
        "Low vacuum unexplained",
        yes_if(
            (word("idle_is_steady") == YES)
            & (number("margin_idle_vacuum_mean") < 0)
            & idle_is_low
            & even
            & is_inside("timing")
            & intake.is_in(TIGHT, TIGHTENED)
        ),
        help="steady and below its range with compression, timing and intake all in order",
        working=True,
    ),
    Result(
        "fuel_fault",
        "Fault in fuel and air",
        table(
            (word("air_cleaner").is_in("dirty", "blocked"), "air cleaner"),
            ((lowered != YES) & intake.is_in(TIGHTEN, SLOW), "tighten"),
            (intake == TIGHTENED, "tightened"),
            (
                ((lowered != YES) & (intake == STILL_LOW) & ~is_inside("cranking_vacuum"))
                | (word("heat_riser") == "burned through"),
                "manifold",
            ),
            (word("heat_riser") == "stuck", "heat riser"),
            (
                (word("mark_fuel_pressure") == OUT_OF_LIMITS) | (word("mark_fuel_delivery_rate") == OUT_OF_LIMITS),
                "pump",
            ),
            (word("exhaust_fault") == YES, "exhaust"),
            (word("mixture_fault") == YES, "mixture"),
            (word("idle_mixture_fault") == YES, "idle mixture"),
            (word("vacuum_unexplained") == YES, "unexplained"),
        ),
        working=True,
    ),
)
