"""What compression, leak-down and the needle say of a named fault of cylinders, head or valves."""

from __future__ import annotations

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.cause_verdicts import (
    NOTHING,
    Cylinders,
    Test,
    Verdict,
    above,
    against,
    sign,
    speaks_for,
)
from workbook_tools.form import cylinder_verdicts as verdict
from workbook_tools.form.compression_results import LITTLE_GAIN, LOW, RECOVERS, SOUND
from workbook_tools.language.model import cell_name


def _counts(case: Case) -> bool:
    return case.text("compression_counts") != "no"


def _leak_elsewhere(case: Case, n: int, *own: str) -> Verdict | None:
    """What a leak over its limit says by where it is heard; None where there is none, or none was heard."""
    means = case.text("leak_means", n)
    if not means or means == verdict.PLACE_UNKNOWN:
        return None
    cells = cell_name("leakdown", n), cell_name("leak_heard_at", n)
    return speaks_for(*cells) if means in own else against(*cells)


def _wet(case: Case, n: int, own: str) -> Verdict | None:
    """What a clear wet test says; None where it was not made or is open."""
    told = case.text("wet_verdict", n)
    if not _counts(case) or told not in (RECOVERS, LITTLE_GAIN):
        return None
    cells = cell_name("compression_dry", n), cell_name("compression_wet", n)
    return speaks_for(*cells) if told == own else against(*cells)


def _sound(case: Case, n: int) -> Verdict | None:
    """Against any leak in a cylinder that gauges sound or holds its air; None where neither was found."""
    if verdict.leak_is_tight(case.values, n) and case.text("compression_is_low", n) != LOW:
        return against(cell_name("leakdown", n))
    compared = len(case.each("compression_dry")) > 1 or case.has("site_compression_min")
    gauged = _counts(case) and compared and case.has("compression_low_line")
    if gauged and case.text("compression_is_low", n) == SOUND and not case.is_out("leakdown", n):
        return against(cell_name("compression_dry", n))
    return None


def rings(case: Case, n: int) -> Verdict:
    """Leak heard at the oil filler, or a wet test that recovers; an oily plug or a poor snap test as a sign."""
    return (
        _leak_elsewhere(case, n, verdict.RINGS)
        or _wet(case, n, RECOVERS)
        or _sound(case, n)
        or sign(case.text("plug_look", n) == "oily", cell_name("plug_look", n))
        or sign(case.text("snap_supports_rings") == "yes", "snap_vacuum_high")
        or NOTHING
    )


def valve(case: Case, n: int) -> Verdict:
    """Leak heard at intake or exhaust, or a wet test that gains little; evenly spaced drops as a sign."""
    return (
        _leak_elsewhere(case, n, verdict.EXHAUST_VALVE, verdict.INTAKE_VALVE)
        or _wet(case, n, LITTLE_GAIN)
        or _sound(case, n)
        or sign(case.text("needle_judged") == "evenly spaced drops", "needle")
        or NOTHING
    )


def gasket(case: Case, n: int) -> Verdict:
    """Leak heard next door or in the coolant; spoken against by a wet test that recovers and by unequal neighbours."""
    wet = _wet(case, n, LITTLE_GAIN)
    return (
        _leak_elsewhere(case, n, verdict.GASKET)
        or (wet if wet and wet.says == "against" else None)
        or sign(case.text("plug_look", n) == "coolant traces", cell_name("plug_look", n))
        or _sound(case, n)
        or _neighbours_differ(case, n)
        or sign(case.text("needle_judged") == "wide regular swing", "needle")
        or NOTHING
    )


def _neighbours_differ(case: Case, n: int) -> Verdict | None:
    mine, beside = case.number("compression_dry", n), case.shape.neighbours[n]
    theirs = [case.number("compression_dry", other) for other in beside]
    if mine is None or not theirs or None in theirs or not _counts(case):
        return None
    if any(
        abs(mine - other) <= case.values.constant("equal_neighbours") for other in theirs if other is not None
    ):
        return None
    return against(*(cell_name("compression_dry", each) for each in sorted((n, *beside))))


def all_low(own: str) -> Test:
    """A cause of all cylinders being low, told by what the wet test does in all of them."""
    other = LITTLE_GAIN if own == RECOVERS else RECOVERS

    def test(case: Case, _: Cylinders) -> Verdict:
        together, low = case.text("compression_all_low"), case.values.count_text("compression_is_low", LOW)
        if not together or not _counts(case):
            return NOTHING
        if together == "no":
            return against(*case.each("compression_dry"))
        if case.values.count_text("wet_verdict", other) == low:
            return against(*case.each("compression_wet"))
        return speaks_for(*case.each("compression_dry"))

    return test


def over_range(case: Case, n: int) -> Verdict:
    """Carbon: compression above the highest allowed, where one is specified."""
    if not case.has("site_compression_max") or not _counts(case):
        return NOTHING
    return above("compression_dry", n)(case, ())


def guides(case: Case, _: Cylinders) -> Verdict:
    """A fast flutter at idle that steadies with speed and does not go away with the valves adjusted."""
    needle, with_speed = case.text("needle_judged"), case.text("needle_with_speed")
    if case.text("needle_after_valve_adjustment") == "steady":
        return against("needle_after_valve_adjustment")
    if needle and needle != "fast flutter":
        return against("needle")
    if needle and with_speed and with_speed != "steadies":
        return against("needle", "needle_with_speed")
    return speaks_for("needle") if needle else NOTHING
