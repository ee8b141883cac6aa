"""What a steady needle off its range speaks for: shared by ignition, intake and what stays unexplained."""

from __future__ import annotations

from workbook_tools.faults.model import Bench
from workbook_tools.language.expressions import YES, Cond, column, either, number, word
from workbook_tools.language.model import CONFIRMED, INDICATED, OUT_OF_LIMITS
from workbook_tools.sheets.compression_results import LOW, counts, low_column
from workbook_tools.sheets.fuel_results import TIGHT, TIGHTENED, intake
from workbook_tools.sheets.readings import is_inside, is_judged
from workbook_tools.sheets.vacuum import HIGH
from workbook_tools.sheets.vacuum import LOW as TOO_LOW

steady = word("idle_is_steady") == YES
very_low = word("vacuum_very_low") == YES
even = (word("compression_even") == YES) & (counts != "no")
#: Low cylinders or leaks explain a low vacuum; compression comes first where it was not gauged at all.
explained_by_compression = low_column.any_is(LOW) | column("mark_leakdown").any_is(OUT_OF_LIMITS)
high_and_steady = word("idle_off_range") == HIGH
low_and_steady = (word("idle_off_range") == TOO_LOW) & ~explained_by_compression
intake_measured = is_judged("cranking_vacuum") | is_judged("cranking_vacuum_retest")
timing_measured = is_judged("timing")
timing_in_limits = is_inside("timing")
intake_in_order = intake.is_in(TIGHT, TIGHTENED)
#: Causes that lower the vacuum by themselves: beside one of them, found, no low vacuum is unexplained.
LOWER_THE_VACUUM = (
    "cylinder_fault_worn_rings",
    "cylinder_fault_leaking_valve",
    "cylinder_fault_head_gasket",
    "fault_general_wear",
    "fault_valve_timing",
    "fault_late_timing",
    "fault_intake_leak",
    "fault_manifold_or_heat_riser",
    "fault_exhaust_restriction",
)


def _found(name: str) -> Cond:
    if name.startswith("cylinder_"):
        return column(name).any_is(CONFIRMED) | column(name).any_is(INDICATED)
    return word(name).is_in(CONFIRMED, INDICATED)


explained_by_a_cause = either(*(_found(name) for name in LOWER_THE_VACUUM))
needle_shown = (number("idle_vacuum_low").known, number("idle_vacuum_high").known, word("needle").known)


def low_vacuum(bench: Bench) -> str:
    """The reading in words, to go on from."""
    return (
        f"Vacuum is low and steady: {bench.reading('idle_vacuum_mean')}, at least "
        f"{bench.reading('site_idle_vacuum_min')} needed here"
    )
