"""Ignition: readings that contradict each other, tests begun and not finished, proof, tests still to do."""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.compression_checks import missing_reading
from workbook_tools.diagnose.model import Discrepancy
from workbook_tools.diagnose.vacuum_checks import conflict
from workbook_tools.faults import timing

GAP_SPECIFIED = ("spec_point_gap_min", "spec_point_gap_max", "spec_dwell_min", "spec_dwell_max")


def conflicts(case: Case) -> Iterator[Discrepancy]:
    """Gap and dwell out to the same side, more vacuum in the line than in the manifold."""
    for side in (case.is_above, case.is_below):
        if side("point_gap") and side("dwell"):
            word, other = ("wide", "smaller") if side == case.is_above else ("narrow", "larger")
            reason = (
                f"a gap too {word} ({case.reading('point_gap')}) makes the dwell {other}, but"
                f" {case.reading('dwell')} is not"
            )
            yield conflict(case, "dwell", f"{other} than specified, by the gap read", reason)
    if case.holds(timing.slipped_mark):
        reason = f"so much advance ({case.reading('timing_error')} too early) does not fit a low vacuum: the timing mark may have slipped"
        yield conflict(case, "timing", "a vacuum in or above its range", reason)
    line, manifold = case.number("advance_line_vacuum"), case.number("manifold_vacuum_then")
    if line is not None and manifold is not None and line - manifold > case.values.constant("same_vacuum"):
        reason = "the line to the advance unit reads more vacuum than the manifold that feeds it"
        yield conflict(case, "advance_line_vacuum", f"at most {case.reading('manifold_vacuum_then')}", reason)


def missing(case: Case) -> Iterator[Discrepancy]:
    """An advance unit that does not move, line or manifold vacuum not read; a timing without its speed."""
    if case.text("advance_unit_moves") == "no":
        if not case.typed("advance_line_vacuum"):
            why = "The advance unit does not move: the vacuum in its line tells whether the unit or the line is at fault."
            yield missing_reading(case, "advance_line_vacuum", why)
        elif not case.typed("manifold_vacuum_then"):
            why = "The line's vacuum means nothing without the manifold's at the same throttle."
            yield missing_reading(case, "manifold_vacuum_then", why)
    if case.typed("timing") and not case.typed("timing_speed") and case.has("spec_timing_speed"):
        why = f"Timing is specified at {case.reading('spec_timing_speed')}; the speed at which it was read is not recorded."
        yield missing_reading(case, "timing_speed", why)
