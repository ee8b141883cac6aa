"""The vacuum gauge: readings that contradict each other, and tests begun and not finished."""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.model import Discrepancy
from workbook_tools.diagnose.slips import out_of_order


def conflicts(case: Case) -> Iterator[Discrepancy]:
    """Needle readings that contradict each other."""
    lowest = "the needle's lowest point is above its highest"
    yield from out_of_order(case, "idle_vacuum_low", "idle_vacuum_high", "idle_vacuum_low", lowest)
    swing = case.number("idle_vacuum_swing")
    if case.text("needle") == "steady" and swing is not None and swing > case.values.constant("steady_swing"):
        limit = f"{case.values.constant('steady_swing'):g} {case.unit('idle_vacuum_swing')}"
        yield conflict(
            case,
            "needle",
            f"a swing of at most {limit}",
            f"the needle is called steady, but it swings by {case.reading('idle_vacuum_swing')}",
        )
    snapped = "the snapped throttle falls to more than it rises to"
    yield from out_of_order(case, "snap_vacuum_low", "snap_vacuum_high", "snap_vacuum_low", snapped)


def missing(case: Case) -> Iterator[Discrepancy]:
    """One end of the needle's swing without the other: low without high."""
    pair = ("idle_vacuum_low", "idle_vacuum_high")
    for name, other in (pair, pair[::-1]):
        if case.typed(name) and not case.typed(other):
            where = case.form.where(other)
            message = f"{where}: Lowest and highest point of the needle are judged together; one alone hides the swing."
            yield Discrepancy("missing_reading", other, where, "blank", "a reading", message)


def conflict(case: Case, name: str, expected: str, reason: str, number: int | None = None) -> Discrepancy:
    """A readings_conflict at one cell."""
    cell = name if number is None else f"{name}_{number}"
    where = case.form.where(cell)
    found = case.reading(name, number)
    return Discrepancy(
        "readings_conflict",
        cell,
        where,
        found,
        expected,
        f"{where}: {reason}. Read both again; if both stand, leave them as they are and say so.",
    )
