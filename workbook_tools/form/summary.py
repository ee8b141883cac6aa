"""Sheet Summary: one line a system - proven, fault found, not proven yet - and the next test to make."""

from __future__ import annotations

from workbook_tools.faults.causes import of_system, verdicts
from workbook_tools.language.expressions import (
    BLANK,
    CYLINDERS,
    NO,
    YES,
    Choose,
    column,
    number,
    table,
    word,
    words_for,
)
from workbook_tools.language.model import FAULT, OPEN, PROVEN, Block, Result, Sheet, System
from workbook_tools.sheets.compression_results import MET, conditions, counts, dry_column, how_many_low
from workbook_tools.sheets.cylinder_verdicts import WET_NEXT
from workbook_tools.sheets.fuel_results import TIGHT, intake
from workbook_tools.sheets.ignition_results import dwell, fitted, gap, timing
from workbook_tools.sheets.readings import is_inside

NOTHING_NEXT = "nothing: all systems proven"
STATES: dict[System, str] = {
    "readiness": "state_readiness",
    "compression": "state_compression",
    "ignition": "state_ignition",
    "fuel and air": "state_fuel_and_air",
}
FAULTS: dict[System, str] = {
    system: state.replace("state_", "", 1) + "_fault" for system, state in STATES.items()
}
NEXT: dict[System, str] = {system: state.replace("state", "next", 1) for system, state in STATES.items()}
SYSTEM_STATES = tuple(STATES.values())

#: What proves a system where no fault is found in it: its core readings, all in limits.
warm = is_inside("coolant_temperature") | ~(
    number("spec_operating_temp_min").known | number("spec_operating_temp_max").known
)
CORE_IN_LIMITS = {
    "readiness": warm & is_inside("idle_speed"),
    "compression": (conditions == MET)
    & (word("starter_slow") != YES)
    & (word("compression_in_limits") == YES),
    "ignition": is_inside("timing") & ((fitted != YES) | is_inside("point_gap") | is_inside("dwell")),
    "fuel and air": (intake == TIGHT) & is_inside("fuel_pressure"),
}


def first_fault(system: System) -> Choose:
    """The cause of a system that is found and put right first, by its id."""
    causes = sorted(of_system(system), key=lambda cause: cause.turn)
    return table(*((cause.is_found, cause.id) for cause in causes))


def state(system: System) -> Choose:
    """Fault found where a cause is confirmed or indicated; proven where the core readings are in limits."""
    return table((word(FAULTS[system]).known, FAULT), (CORE_IN_LIMITS[system], PROVEN), otherwise=OPEN)


def next_step(system: System, last: str, *tests: tuple) -> Choose:
    """Nothing where it is proven, the repair where a fault is found, else the first test that is open."""
    fault = word(FAULTS[system])
    repairs = {cause.id: cause.on_summary or cause.next_step for cause in of_system(system)}
    found = fault.known
    if system == "compression":
        # A low cylinder that no test told yet is tested, not repaired.
        found &= ~column("points_to").any_is(WET_NEXT)
    return table(
        (word(STATES[system]) == PROVEN, BLANK), (found, words_for(fault, repairs)), *tests, otherwise=last
    )


STEPS: dict[System, Choose] = {
    "readiness": next_step(
        "readiness",
        "Fill in the engine's working temperature and idle speed, and read both",
        (number("idle_speed").missing, "Warm the engine up; read coolant, oil pressure and idle speed"),
    ),
    "compression": next_step(
        "compression",
        "Look at the marks on Compression",
        (dry_column.count() < CYLINDERS, "Gauge every cylinder dry, throttle open, all plugs out"),
        (counts == NO, "Repeat the compression test under test conditions"),
        (how_many_low > 0, "Wet test of the low cylinders and one sound one, or leak-down"),
        (conditions != MET, "Write down the test conditions on Compression"),
        (number("site_compression_min").missing, "Fill in the engine's lowest compression on Engine"),
    ),
    "ignition": next_step(
        "ignition",
        "Look at the marks on Ignition",
        ((fitted == YES) & gap.missing & dwell.missing, "Measure point gap or dwell, then the timing"),
        (timing.missing, "Read the timing with the light, vacuum line off and plugged"),
        (number("spec_timing").missing, "Fill in the engine's timing on Engine"),
        (
            number("margin_point_gap").missing & number("margin_dwell").missing,
            "Fill in the engine's point gap or dwell on Engine",
        ),
    ),
    "fuel and air": next_step(
        "fuel and air",
        "Look at the marks on Fuel and air",
        (
            number("cranking_vacuum").missing,
            "Read the vacuum while the starter turns the engine, throttle closed",
        ),
        (number("fuel_pressure").missing, "Tee the fuel pressure gauge in at the carburettor"),
        (number("site_cranking_vacuum_min").missing, "Fill in the engine's lowest cranking vacuum on Engine"),
    ),
}
NEXT_TEST = table(
    *((word(STATES[system]) != PROVEN, word(NEXT[system])) for system in STATES),
    otherwise=NOTHING_NEXT,
)

SUMMARY = Sheet(
    name="Summary",
    purpose="Where the proof stands. Work from the top down: a later system is not judged before the earlier ones.",
    cost="nothing to type; run the check for the findings",
    parts=(
        Block("Next test to make", (Result("next_test", "Next", NEXT_TEST, wide=True),)),
        Block(
            "Systems, in the order of proof",
            tuple(
                result
                for system in STATES
                for result in (
                    Result(STATES[system], system.capitalize(), state(system)),
                    Result(NEXT[system], f"Next for {system}", STEPS[system], wide=True),
                )
            )
            + tuple(
                Result(FAULTS[system], f"First fault, {system}", first_fault(system), working=True)
                for system in STATES
            )
            + tuple(verdict for system in STATES for verdict in verdicts(system, "job")),
        ),
    ),
)
