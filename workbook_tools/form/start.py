"""Sheet Start, the first: whose engine, what was found so far, what comes next, the engine from above, what fits best."""

from __future__ import annotations

from typing import Any

from workbook_tools.faults.causes import of_system, verdicts
from workbook_tools.guide.suspects import REPAIRED, WORKED_ON, is_fault, suspect_state
from workbook_tools.guide.telling import ANSWER, CAUTION_NOW, FITS, NEXT, SHOWN_SUSPECTS, with_cylinders
from workbook_tools.language.expressions import (
    CYLINDERS,
    NO,
    YES,
    Choose,
    Cond,
    column,
    either,
    joined,
    number,
    table,
    word,
)
from workbook_tools.language.model import (
    AS_FAR_AS_FIGURES,
    FAULT,
    NO_LIMIT,
    NOT_TAKEN,
    OPEN,
    PROVEN,
    STATES,
    Banks,
    Board,
    Boxes,
    Link,
    Result,
    Sheet,
    System,
)
from workbook_tools.sheets.compression_results import LOW, MET, SOUND, conditions
from workbook_tools.sheets.cylinder_verdicts import ALL_LOW, WET_NEXT
from workbook_tools.sheets.fuel_results import TIGHT, intake
from workbook_tools.sheets.ignition_results import fitted
from workbook_tools.sheets.readings import is_inside, is_out

FAULTS: dict[System, str] = {
    system: state.replace("state_", "", 1) + "_fault" for system, state in STATES.items()
}
NOT_GAUGED, SOUND_NOW, STILL_LOW = "not gauged", "sound now", "still low"


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


def part_of(system: System) -> Result:
    """The fault of a system that is put right first, by name, with its cylinders."""
    fault = word(FAULTS[system])
    named = table(*((fault == cause.id, with_cylinders(cause)) for cause in of_system(system)))
    stands = {
        words: either(
            *(
                (fault == cause.id) & (suspect_state(cause.id) == state)
                for cause in of_system(system)
                if is_fault(cause)
            )
        )
        for words, state in (("repaired: ", REPAIRED), ("worked on: ", WORKED_ON))
    }
    named = joined(table(*((holds, words) for words, holds in stands.items())), named)
    return Result(
        STATES[system].replace("state_", "part_", 1),
        f"{system.capitalize()}, fault",
        named,
        wide=True,
        small=True,
        since=5,
    )


def state_of(system: System) -> Result:
    """Where a system stands, filled by its word."""
    return Result(
        STATES[system],
        system.capitalize(),
        state(system),
        wide=True,
        small=True,
        looks=((PROVEN, PROVEN), (FAULT, FAULT)),
    )


def text_of(name: str, label: str, *parts: Any) -> Result:
    """What was typed elsewhere, in one line."""
    return Result(name, label, joined(*parts), wide=True, since=5)


def behind(name: str, before: str = ", ") -> Any:
    """A text from another sheet with what parts it from the one before, blank where there is none."""
    return table((word(name).known, joined(before, word(name))))


#: What one cylinder shows, in a word; once it was gauged again after a repair, by that.
VIEW = Result(
    "cylinder_view",
    "Cylinder",
    table(
        (is_out("after_compression"), STILL_LOW),
        (is_inside("after_compression"), SOUND_NOW),
        (number("compression_dry").missing & number("leakdown").missing, NOT_GAUGED),
        (word("points_to").known & ~word("points_to").is_in(WET_NEXT, ALL_LOW), word("points_to")),
        (word("compression_is_low") == LOW, LOW),
        otherwise=SOUND,
    ),
    per="cylinder",
    numbered=True,
    small=True,
    looks=((SOUND, PROVEN), (SOUND_NOW, PROVEN), (NOT_GAUGED, NOT_TAKEN), ("", FAULT)),
    since=5,
)
WHERE: dict[System, str] = {
    "readiness": "Warm-up",
    "compression": "Compression",
    "ignition": "Ignition",
    "fuel and air": "Fuel and air",
}
#: Leads to the cell in which the next step goes on.
GO_ON = Link("go to its first blank cell ›", cell="next_cell")
ALL, MOST, QUARTER = 8, 6, 2
BY_NAME = {item.name: item for item in NEXT}

START = Sheet(
    name="Start",
    purpose="Where the job stands, and what comes next.",
    cost="nothing to type here",
    parts=(
        Board(
            groups=(
                (
                    Boxes(
                        "Job",
                        (
                            (
                                text_of(
                                    "whose_engine",
                                    "Job",
                                    word("customer_name"),
                                    behind("vehicle"),
                                    behind("plate"),
                                ),
                                ALL,
                            ),
                        ),
                    ),
                    Boxes(
                        "Complaint",
                        (
                            (
                                text_of(
                                    "what_is_wrong",
                                    "Complaint",
                                    word("complaint"),
                                    behind("complaint_notes", ": "),
                                ),
                                ALL,
                            ),
                        ),
                        lines=2,
                    ),
                    Boxes("So far", ((ANSWER, ALL),)),
                ),
                (
                    Boxes(
                        "Next",
                        (
                            (BY_NAME["next_test"], MOST),
                            (GO_ON, QUARTER),
                        ),
                        lines=2,
                    ),
                    Boxes("Why", ((BY_NAME["next_why"], ALL),)),
                    Boxes("Caution", ((CAUTION_NOW, ALL),)),
                    Boxes(
                        "After that",
                        ((BY_NAME["next_after_1"], ALL // 2), (BY_NAME["next_after_2"], ALL // 2)),
                    ),
                ),
                (
                    Boxes(
                        "Systems, in this order",
                        tuple(
                            (Link(f"{system.capitalize()} ›", sheet=WHERE[system]), QUARTER)
                            for system in STATES
                        ),
                    ),
                    Boxes("Proven?", tuple((state_of(system), QUARTER) for system in STATES)),
                    Boxes("First fault", tuple((part_of(system), QUARTER) for system in STATES), lines=2),
                ),
                (Banks("Engine from above, front at the left", VIEW),),
                (
                    *(
                        Boxes(
                            f"{place} fits best" if place == 1 else str(place),
                            ((FITS[0], 4), (FITS[1], 1), (FITS[2], 3)),
                            number=place,
                        )
                        for place in range(1, SHOWN_SUSPECTS + 1)
                    ),
                    Boxes("Ranked by", ((BY_NAME["weights_from"], ALL),)),
                ),
            ),
            workings=(
                *(item for item in NEXT if item.working),
                *(
                    Result(FAULTS[system], f"First fault, {system}", first_fault(system), working=True)
                    for system in STATES
                ),
                *(verdict for system in STATES for verdict in verdicts(system, "job")),
            ),
        ),
    ),
)
