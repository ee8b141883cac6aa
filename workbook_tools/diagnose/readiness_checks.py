"""Readiness: readings that contradict each other, and tests still to be made."""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.model import Discrepancy, OwedTest


def has_temperature_range(case: Case) -> bool:
    """Whether the engine has a specified working temperature."""
    return case.has("spec_operating_temp_min") or case.has("spec_operating_temp_max")


def owed(case: Case) -> Iterator[OwedTest]:
    """Readiness readings still to be taken, and figures that are missing to judge them."""
    if (
        has_temperature_range(case)
        and case.text("coolant_asked") != "no"
        and not case.has("coolant_temperature")
    ):
        yield OwedTest(
            "coolant temperature",
            ("coolant_temperature",),
            "A cold engine reads wrong everywhere: all other readings rest on it.",
        )
    if not case.has("idle_speed"):
        yield OwedTest(
            "idle speed",
            ("idle_speed",),
            "Vacuum and timing are specified at the idle: without it neither is judged.",
        )
    elif not case.has("spec_idle_speed_min") and not case.has("spec_idle_speed_max"):
        fields = ("spec_idle_speed_min", "spec_idle_speed_max")
        yield OwedTest(
            "idle speed, specified",
            fields,
            "The idle speed was read, but the form has no figure to judge it by.",
        )


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
