"""Spark plugs by cylinder: unfit by look or gap, or pointed to by a small fall in speed."""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.ignition import compression_is_even
from workbook_tools.diagnose.mixture import misfire
from workbook_tools.diagnose.model import Draft
from workbook_tools.form.compression_results import SOUND
from workbook_tools.language.model import cell_name

UNFIRED = ("wet with fuel", "dry soot")
SPARK_NEXT = (
    "Look at the spark on this lead, swap the plug with a neighbour's, and read the fall in speed again"
)


def find(case: Case) -> Iterator[Draft]:
    """Plug findings, cylinder by cylinder."""
    for cylinder in case.cylinders:
        if is_unfit(case, cylinder):
            yield _unfit(case, cylinder)
        elif weak_though_sound(case, cylinder):
            yield _weak(case, cylinder)
    yield from _misfire_with_strong_spark(case)


def is_unfit(case: Case, cylinder: int) -> bool:
    """Cracked or worn, or its gap outside the specification."""
    return case.text("plug_look", cylinder) == "cracked or worn" or case.is_beyond("plug_gap", cylinder)


def weak_though_sound(case: Case, cylinder: int) -> bool:
    """A small fall in speed on a cylinder of normal compression that does not leak over its limit."""
    weak = case.text("drop_is_weak", cylinder) == "weak" and case.text("compression_counts") != "no"
    return (
        weak and case.text("compression_is_low", cylinder) == SOUND and not case.is_out("leakdown", cylinder)
    )


def _unfit(case: Case, n: int) -> Draft:
    parts, evidence = [], []
    if case.text("plug_look", n) == "cracked or worn":
        parts.append("is cracked or worn")
        evidence.append(cell_name("plug_look", n))
    if case.is_beyond("plug_gap", n):
        low, high = case.says("spec_plug_gap_min"), case.says("spec_plug_gap_max")
        parts.append(f"has a gap of {case.says('plug_gap', n)} ({low} to {high} specified)")
        evidence += [cell_name("plug_gap", n), "spec_plug_gap_min", "spec_plug_gap_max"]
    weak = weak_though_sound(case, n)
    agrees = (
        f"; the engine hardly slows without it ({case.says('speed_drop', n)}), though compression is normal"
        if weak
        else ""
    )
    evidence += [cell_name("speed_drop", n), cell_name("compression_dry", n)] if weak else []
    statement = f"The plug of cylinder {n} {' and '.join(parts)}{agrees}."
    return Draft("plug_fault", "confirmed", statement, tuple(evidence), "plug look and gap", (n,))


def _weak(case: Case, n: int) -> Draft:
    """Plug, lead or mixture: the plug first, unless it was looked at and gapped and found in order."""
    look = case.text("plug_look", n)
    alone = sum(case.text("plug_look", other) == look for other in case.cylinders) * 2 <= case.shape.cylinders
    unfired = look in UNFIRED and alone
    plug_in_order = look == "normal" and case.is_inside("plug_gap", n)
    told = (
        f"Cylinder {n} falls only {case.says('speed_drop', n)} ({case.says('sound_drop')} is usual here),"
        " though its compression is normal"
    )
    if unfired:
        told += (
            f", and its plug alone is {look}"
            if look == "wet with fuel"
            else ", and its plug alone has dry soot"
        )
    blame = (
        "its plug is in order, so look at the lead, then at its mixture"
        if plug_in_order
        else "its plug, its lead or its mixture"
    )
    return Draft(
        "weak_spark" if plug_in_order else "plug_fault",
        "indicated" if unfired else "possible",
        f"{told}: {blame}.",
        tuple(cell_name(name, n) for name in ("speed_drop", "compression_dry", "plug_look", "plug_gap"))
        + ("sound_drop",),
        "small fall in speed",
        (n,),
        waits_for=("readiness", "compression"),
        rests_on=case.each("speed_drop"),
        next_step=SPARK_NEXT,
    )


def _misfire_with_strong_spark(case: Case) -> Iterator[Draft]:
    """Unburned charges although the spark is strong: a plug, where none was found unfit yet."""
    gases = misfire(case)
    if not gases or case.text("spark") != "strong" or not compression_is_even(case):
        return
    if any(is_unfit(case, n) or weak_though_sound(case, n) for n in case.cylinders):
        return
    yield Draft(
        "plug_fault",
        "possible",
        "Unburned fuel and oxygen leave together with lambda near one: charges that did not fire, not the"
        " mixture. The spark is strong and compression is even, so a plug or a lead is next.",
        (*gases, "spark"),
        "misfire, not mixture",
        waits_for=("readiness", "compression"),
        next_step="Short out one cylinder at a time and read the fall in speed; look at plugs and leads",
    )
