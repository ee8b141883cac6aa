"""Sheet Summary: one line a system - proven, fault found, not proven yet - and the next test to make."""

from __future__ import annotations

from workbook_tools.faults.causes import of_system, verdicts
from workbook_tools.guide.telling import FITS_BEST, NEXT, SHOWN_SUSPECTS
from workbook_tools.language.expressions import (
    CYLINDERS,
    NO,
    YES,
    Choose,
    Cond,
    column,
    number,
    table,
    word,
)
from workbook_tools.language.model import (
    AS_FAR_AS_FIGURES,
    FAULT,
    NO_LIMIT,
    OPEN,
    PROVEN,
    STATES,
    Block,
    Result,
    Sheet,
    System,
    Table,
)
from workbook_tools.sheets.compression_results import MET, conditions
from workbook_tools.sheets.fuel_results import TIGHT, intake
from workbook_tools.sheets.ignition_results import fitted
from workbook_tools.sheets.readings import is_inside

FAULTS: dict[System, str] = {
    system: state.replace("state_", "", 1) + "_fault" for system, state in STATES.items()
}
SYSTEM_STATES = tuple(STATES.values())


def made(name: str) -> Cond:
    """A core reading was made: in limits, or without a limit to hold it against."""
    return is_inside(name) | (word(f"mark_{name}") == NO_LIMIT)


def not_asked(cell: str) -> Cond:
    """The engine has no such part."""
    return word(cell) == NO


no_temperature_range = ~(number("spec_operating_temp_min").known | number("spec_operating_temp_max").known)
coolant_is_no_core = no_temperature_range | not_asked("coolant_asked")
test_stands = (conditions == MET) & (word("starter_slow") != YES)
no_points = fitted != YES
#: The starter's vacuum of one or two cylinders can't be judged without the shop's own figure.
vacuum_is_no_core = (CYLINDERS < 3) & number("site_cranking_vacuum_min").missing
intake_made = (intake == TIGHT) | (
    intake.missing
    & ((word("mark_cranking_vacuum") == NO_LIMIT) | (word("mark_cranking_vacuum_retest") == NO_LIMIT))
)
gravity = not_asked("pressure_asked")

#: What proves a system where no fault is found in it: its core readings, all in limits.
CORE_IN_LIMITS: dict[System, Cond] = {
    "readiness": (is_inside("coolant_temperature") | coolant_is_no_core) & is_inside("idle_speed"),
    "compression": test_stands & (word("compression_in_limits") == YES),
    "ignition": is_inside("timing") & (no_points | is_inside("point_gap") | is_inside("dwell")),
    "fuel and air": ((intake == TIGHT) | vacuum_is_no_core)
    & ((gravity & is_inside("fuel_delivery_rate")) | (~gravity & is_inside("fuel_pressure"))),
}
#: The same readings made, as far as the form has figures to hold them against.
CORE_MADE: dict[System, Cond] = {
    "readiness": (made("coolant_temperature") | coolant_is_no_core) & made("idle_speed"),
    "compression": test_stands
    & (word("compression_even") == YES)
    & (column("margin_compression_dry").count_negative() == 0),
    "ignition": made("timing") & (no_points | made("point_gap") | made("dwell")),
    "fuel and air": (intake_made | vacuum_is_no_core)
    & ((gravity & made("fuel_delivery_rate")) | (~gravity & made("fuel_pressure"))),
}
#: The figures without which a core reading stays unjudged, by system: reading to specification.
WANTED: dict[System, tuple[tuple[str, str], ...]] = {
    "readiness": (("coolant_temperature", "spec_operating_temp_min"), ("idle_speed", "spec_idle_speed_min")),
    "compression": (("compression_dry", "spec_compression_min"),),
    "ignition": (("timing", "spec_timing"), ("point_gap", "spec_point_gap_min"), ("dwell", "spec_dwell_min")),
    "fuel and air": (
        ("cranking_vacuum", "spec_cranking_vacuum_min"),
        ("fuel_pressure", "spec_fuel_pressure_min"),
        ("fuel_delivery_rate", "spec_fuel_delivery_min"),
    ),
}


def first_fault(system: System) -> Choose:
    """The cause of a system that is found and put right first, by its id."""
    causes = sorted(of_system(system), key=lambda cause: cause.turn)
    return table(*((cause.is_found, cause.id) for cause in causes))


def state(system: System) -> Choose:
    """Fault found where a cause is confirmed or indicated; proven where the core readings are in limits."""
    return table(
        (word(FAULTS[system]).known, FAULT),
        (CORE_IN_LIMITS[system], PROVEN),
        (CORE_MADE[system], AS_FAR_AS_FIGURES),
        otherwise=OPEN,
    )


SUMMARY = Sheet(
    name="Summary",
    purpose="Where the proof stands, and which test tells most a minute now.",
    cost="nothing to type; run the check for the findings",
    parts=(
        Block("Next test to make", NEXT),
        Table(
            "What fits best",
            per=SHOWN_SUSPECTS,
            columns=FITS_BEST,
            row_label="No.",
            what_to_do="It ranks what is left; it is not the chance on this engine. What is found comes first.",
        ),
        Block(
            "Systems, checked in this order",
            tuple(Result(STATES[system], system.capitalize(), state(system), wide=True) for system in STATES)
            + tuple(
                Result(FAULTS[system], f"First fault, {system}", first_fault(system), working=True)
                for system in STATES
            )
            + tuple(verdict for system in STATES for verdict in verdicts(system, "job")),
        ),
    ),
)
