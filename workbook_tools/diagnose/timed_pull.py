"""The timed pull: what is missing for it, and in plain words what it shows and what it leaves out."""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.compression_checks import missing_reading
from workbook_tools.diagnose.model import Discrepancy
from workbook_tools.diagnose.vacuum_checks import conflict
from workbook_tools.science.road_power import (
    LEAST_TRUSTED_FACTOR,
    MOST_TRUSTED_FACTOR,
    within_scatter,
)
from workbook_tools.sheets.pull_results import DAYS, Day

#: What a timed pull needs beside its runs, and why.
NEEDED = {
    "pull_from_speed": "The pull was timed, but the starting speed is missing, so no power can be worked out.",
    "pull_to_speed": "The pull was timed, but the final speed is missing, so no power can be worked out.",
    "pull_mass": "The pull was timed, but the mass is missing, so no power can be worked out.",
}
AIR = ("pull_barometer", "pull_temperature")
LEFT_OUT = (
    "Drag and rolling resistance are not measured, so this is only the power that sped the vehicle up; the air factor is meant "
    "for full engine power."
)


def is_timed(case: Case, day: Day) -> bool:
    """Whether a run was timed on that day."""
    return any(
        case.typed(f"pull_seconds_{day}", run) for run in case.values.numbers_of(f"pull_seconds_{day}")
    )


def missing(case: Case) -> Iterator[Discrepancy]:
    """Mass, speeds and air of a pull that was timed."""
    timed = [day for day in DAYS if is_timed(case, day)]
    if not timed:
        return
    for name, why in NEEDED.items():
        if not case.typed(name):
            yield missing_reading(case, name, why)
    if len(timed) < len(DAYS):
        return
    for name in (f"{reading}_{day}" for day in DAYS for reading in AIR):
        if not case.typed(name):
            yield missing_reading(
                case, name, "Two days can only be compared in the same air, and this is part of it."
            )


def conflicts(case: Case) -> Iterator[Discrepancy]:
    """Speeds that do not rise."""
    start, end = case.number("pull_from_speed"), case.number("pull_to_speed")
    if start is not None and end is not None and end <= start:
        expected = f"more than {case.reading('pull_from_speed')}"
        yield conflict(case, "pull_to_speed", expected, "a pull goes from a lower to a higher speed")


def notes(case: Case) -> tuple[str, ...]:
    """The gain of a pull that was timed on both days, its scatter, the range of the factor, and what it leaves out."""
    gain, scatter = case.number("pull_gain_percent"), case.number("pull_scatter_percent")
    if gain is None:
        return ()
    if scatter is None:
        told = "With single runs the scatter is not known, so this may be no change at all."
    elif within_scatter(gain, scatter):
        told = f"That is within the scatter of the runs ({scatter:.1f} % either way): no change is shown."
    else:
        told = f"The scatter of the runs is {scatter:.1f} % either way (95 %), so it is a real change."
    way = "more" if gain >= 0 else "less"
    sentence = (
        f"Timed pull: {abs(gain):.1f} % {way} accelerating power after the repair ({case.reading('pull_power_before')} before, "
        f"{case.reading('pull_power_after')} after), both days brought to the same air by SAE J1349. {told} "
        f"{_factors(case)} {LEFT_OUT}"
    )
    return (sentence,)


def _factors(case: Case) -> str:
    factors = [case.number(f"pull_factor_{day}") for day in DAYS]
    shown = " and ".join(f"{factor:.3f}" for factor in factors if factor is not None)
    span = f"{LEAST_TRUSTED_FACTOR:g} to {MOST_TRUSTED_FACTOR:g}"
    if case.text("pull_factor_in_range") == "no":
        return f"The factors ({shown}) are not both within {span}: beyond that the correction is a guess."
    return f"The factors ({shown}) are within {span}, the range they are made for."
