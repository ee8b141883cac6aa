"""Compression readings that contradict each other, and tests begun and not finished."""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.model import Discrepancy
from workbook_tools.diagnose.slips import out_of_order
from workbook_tools.diagnose.vacuum_checks import conflict
from workbook_tools.faults.words import cylinders_in_words
from workbook_tools.language.model import cell_name
from workbook_tools.sheets import cylinder_verdicts as verdict
from workbook_tools.sheets.compression_results import LITTLE_GAIN, LOW, RECOVERS

#: Tests that are finished only when every cylinder was taken: field, what it is called, why one blank matters.
EVERY_CYLINDER = {
    "compression_dry": "dry compression: a cylinder left out may be the low one",
    "compression_first": "first stroke: it tells rings from valves only when all are there to compare",
    "speed_drop": "speed drop: the balance is judged against the other cylinders",
    "plug_look": "plugs: a plug left out may be the one that differs",
}


def conflicts(case: Case) -> Iterator[Discrepancy]:
    """Wet below dry, first stroke above the end, wet test against leak-down, conditions against readings."""
    if case.text("gauge_doubted") == "yes":
        reason = "all cylinders read low, but idle and cranking vacuum are good: suspect the gauge, its hose or its seat"
        yield conflict(case, "compression_dry", f"at least {case.reading('site_compression_min')}", reason, 1)
    if case.text("tester_doubted") == "yes":
        reason = "all cylinders leak over the limit and no leak is heard, but compression is in limits: suspect the tester"
        yield conflict(case, "leakdown", f"at most {case.reading('spec_leakdown_max')}", reason, 1)
    for n in case.cylinders:
        dry, wet, first = "compression_dry", "compression_wet", "compression_first"
        reason = f"cylinder {n} reads less wet than dry, and oil can only raise it"
        yield from out_of_order(case, dry, wet, wet, reason, n)
        reason = f"cylinder {n} reads more after the first stroke than at the end"
        yield from out_of_order(case, first, dry, first, reason, n)
        yield from _wet_against_leakdown(case, n)


def _wet_against_leakdown(case: Case, n: int) -> Iterator[Discrepancy]:
    all_low_agrees = (
        case.text("compression_all_low") == "yes" and case.text("points_to", n) != verdict.LOW_BUT_TIGHT
    )
    if case.text("compression_counts") == "no" or all_low_agrees:
        return
    wet, leak = case.text("wet_verdict", n), case.text("leak_means", n)
    if case.text("compression_is_low", n) == LOW and case.holds(verdict.leak_is_tight, n):
        expected = f"over {case.reading('spec_leakdown_max')}, as compression is low"
        yield conflict(
            case, "leakdown", expected, f"cylinder {n} is low on the gauge, but leak-down finds it tight", n
        )
    elif leak and leak != verdict.PLACE_UNKNOWN and wet in (RECOVERS, LITTLE_GAIN):
        if (wet == RECOVERS) != (leak == verdict.RINGS):
            told = "rings" if wet == RECOVERS else "no rings"
            yield conflict(
                case,
                "leak_heard_at",
                f"a place that agrees with the wet test ({told})",
                f"cylinder {n}: the wet test says {told}, but the leak is heard at the {case.text('leak_heard_at', n)}, which outweighs it",
                n,
            )


def missing(case: Case) -> Iterator[Discrepancy]:
    """Tests begun and not finished, and readings that a low or leaking cylinder still needs."""
    for name, why in EVERY_CYLINDER.items():
        left = tuple(n for n in case.cylinders if not case.typed(name, n))
        if 0 < len(left) < case.shape.cylinders:
            # A test that was broken off is said once, not again for every cylinder that it did not come to.
            words = cylinders_in_words(left)
            were = "was" if len(left) == 1 else "were"
            said = f"{words[0].upper()}{words[1:]} {were} left out of the {why}."
            yield missing_reading(case, cell_name(name, left[0]), said)
    if case.text("compression_counts") == "no":
        return
    all_low = case.text("compression_all_low") == "yes"
    for n in case.cylinders:
        if (
            case.text("compression_is_low", n) == LOW
            and not case.typed("compression_wet", n)
            and not case.typed("leakdown", n)
        ):
            told = (
                "which says whether it is wear or valve timing"
                if all_low
                else "which tell rings from a valve"
            )
            yield missing_reading(
                case,
                cell_name("compression_wet", n),
                f"Cylinder {n} is low and has neither a wet reading nor leak-down, {told}.",
            )
        if case.text("leak_means", n) == verdict.PLACE_UNKNOWN and not case.typed("leak_heard_at", n):
            yield missing_reading(
                case,
                cell_name("leak_heard_at", n),
                f"Cylinder {n} leaks over the limit, and the place where it is heard decides what leaks.",
            )
    if any(case.text("wet_verdict", n) == verdict.OPEN for n in case.cylinders) and not case.filled(
        "sound_gain"
    ):
        sound = [n for n in case.cylinders if case.text("compression_is_low", n) == "sound"]
        if sound:
            why = "Oil raises a sound cylinder too: wet-test one sound cylinder, or the low ones can't be judged."
            yield missing_reading(case, cell_name("compression_wet", sound[0]), why)


def missing_reading(case: Case, cell: str, why: str) -> Discrepancy:
    """A missing_reading at one cell, with why it matters."""
    where = case.form.where(cell)
    return Discrepancy("missing_reading", cell, where, "blank", "a reading", f"{where}: {why}")
