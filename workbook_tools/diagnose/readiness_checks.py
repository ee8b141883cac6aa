"""Readiness: readings that contradict each other, and tests still to be made."""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.model import Discrepancy


def conflicts(case: Case) -> Iterator[Discrepancy]:
    """Barometer and elevation that can't both be right."""
    barometer, standard = case.number("barometer"), case.number("standard_pressure")
    if barometer is None or standard is None or not case.has("site_elevation"):
        return
    difference = barometer - standard
    if abs(difference) <= case.values.constant("barometer_conflict"):
        return
    if difference > 0:
        reason = "it was reduced to sea level, as weather reports are, so the elevation is used"
    else:
        reason = "the elevation is taken to be wrong, so the barometer is used"
    where = case.form.where("barometer")
    message = (
        f"{where} (Barometer) reads {case.reading('barometer')}, but at {case.reading('site_elevation')} the standard pressure is "
        f"{case.reading('standard_pressure')}: {reason}. Read both again; if both stand, leave them as they are and say so."
    )
    yield Discrepancy(
        "readings_conflict",
        "barometer",
        where,
        case.reading("barometer"),
        case.reading("standard_pressure"),
        message,
    )
