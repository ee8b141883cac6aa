"""Readiness: is the engine warm, oiled and turned fast enough, and was compression gauged as it must be?"""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.model import Discrepancy, Draft, OwedTest

STARTER = ("cranking_speed", "battery_cranking")


def find(case: Case) -> Iterator[Draft]:
    """Readiness findings: all are direct measurements or what the technician wrote down."""
    cold = case.is_below("coolant_temperature")
    speed = case.is_out("idle_speed")
    if cold or speed:
        parts = [f"coolant at {case.says('coolant_temperature')}"] if cold else []
        parts += [f"idle speed {case.says('idle_speed')}"] if speed else []
        evidence = ("coolant_temperature", "spec_operating_temp_min") if cold else ()
        evidence += ("idle_speed", "spec_idle_speed_min", "spec_idle_speed_max") if speed else ()
        statement = (
            f"The engine was not ready for testing: {' and '.join(parts)}. Readings taken so are provisional."
        )
        yield Draft("engine_not_ready", "confirmed", statement, evidence, "warm and idling")
    if case.is_above("coolant_temperature"):
        statement = (
            f"The engine is hotter than its working range: coolant at {case.says('coolant_temperature')}."
        )
        yield Draft(
            "engine_overheated",
            "confirmed",
            statement,
            ("coolant_temperature", "spec_operating_temp_max"),
            "not above working temperature",
        )
    if case.is_out("oil_pressure"):
        statement = f"Oil pressure is low: {case.says('oil_pressure')}, at least {case.says('spec_oil_pressure_min')} specified."
        yield Draft(
            "low_oil_pressure",
            "confirmed",
            statement,
            ("oil_pressure", "spec_oil_pressure_min"),
            "oil pressure first",
        )
    yield from _cranking(case)


def _cranking(case: Case) -> Iterator[Draft]:
    slow = [name for name in STARTER if case.is_out(name)]
    if slow:
        words = {
            "cranking_speed": f"it turned at {case.says('cranking_speed')}, {case.says('spec_cranking_speed_min')} specified",
            "battery_cranking": f"the battery fell to {case.says('battery_cranking')}, at least {case.says('cranking_voltage_min')} needed",
        }
        statement = f"The starter turns the engine too slowly: {' and '.join(words[name] for name in slow)}."
        limits = {"cranking_speed": "spec_cranking_speed_min", "battery_cranking": "cranking_voltage_min"}
        evidence = tuple(cell for name in slow for cell in (name, limits[name]))
        support = (*case.each("compression_dry"),) if case.text("compression_all_low") == "yes" else ()
        yield Draft("slow_cranking", "confirmed", statement, evidence + support, "starter fast enough")
    if case.text("compression_conditions") == "not met":
        faults = []
        if case.text("throttle_held_open") == "no":
            faults.append("the throttle was not held open")
        if case.text("all_plugs_out") == "no":
            faults.append("plugs were left in")
        strokes = case.number("compression_strokes")
        if strokes is not None and strokes < case.values.constant("least_strokes"):
            faults.append(f"only {strokes:g} strokes were made")
        statement = f"The compression test was not made under test conditions: {' and '.join(faults)}."
        evidence = ("throttle_held_open", "all_plugs_out", "compression_strokes")
        yield Draft("compression_test_invalid", "confirmed", statement, evidence, "test conditions")


def is_proven(case: Case) -> bool:
    """Coolant, where the engine has a specification for it, and idle speed are in limits."""
    warm = case.is_inside("coolant_temperature") or not has_temperature_range(case)
    return warm and case.is_inside("idle_speed")


def has_temperature_range(case: Case) -> bool:
    """Whether the engine has a specified working temperature."""
    return case.has("spec_operating_temp_min") or case.has("spec_operating_temp_max")


def owed(case: Case) -> Iterator[OwedTest]:
    """Readiness readings still to be taken, and figures that are missing to judge them."""
    if has_temperature_range(case) and not case.has("coolant_temperature"):
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
        f"{where} (Barometer) reads {case.says('barometer')}, but at {case.says('site_elevation')} the standard pressure is "
        f"{case.says('standard_pressure')}: {reason}. Correct the one that is wrong."
    )
    yield Discrepancy(
        "readings_conflict",
        "barometer",
        where,
        case.says("barometer"),
        case.says("standard_pressure"),
        message,
    )
