"""Ignition: readings that contradict each other, tests begun and not finished, proof, tests still owed."""

from __future__ import annotations

from collections.abc import Iterator

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.compression_checks import missing_reading
from workbook_tools.diagnose.model import Discrepancy, OwedTest
from workbook_tools.diagnose.vacuum_checks import conflict
from workbook_tools.faults import points, spark, timing
from workbook_tools.faults.words import cylinders_in_words
from workbook_tools.language.model import cell_name

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
        reason = f"so much advance ({case.reading('timing_error')} too early) does not go with a low vacuum: the timing mark may have slipped"
        yield conflict(case, "timing", "a vacuum in or above its range", reason)
    line, manifold = case.number("advance_line_vacuum"), case.number("manifold_vacuum_then")
    if line is not None and manifold is not None and line - manifold > case.values.constant("same_vacuum"):
        reason = "the line to the advance unit shows more vacuum than the manifold that feeds it"
        yield conflict(case, "advance_line_vacuum", f"at most {case.reading('manifold_vacuum_then')}", reason)


def missing(case: Case) -> Iterator[Discrepancy]:
    """An advance unit that does not move, line or manifold vacuum not read; a timing without its speed."""
    if case.text("advance_unit_moves") == "no":
        if not case.typed("advance_line_vacuum"):
            why = "The advance unit does not move, and the vacuum in its line tells the unit from the line."
            yield missing_reading(case, "advance_line_vacuum", why)
        elif not case.typed("manifold_vacuum_then"):
            why = "The line's vacuum says something only beside the manifold's at the same throttle."
            yield missing_reading(case, "manifold_vacuum_then", why)
    if case.typed("timing") and not case.typed("timing_speed") and case.has("spec_timing_speed"):
        why = (
            f"Timing is specified at {case.reading('spec_timing_speed')}, and was read at a speed that nobody"
            " wrote down."
        )
        yield missing_reading(case, "timing_speed", why)


def owed(case: Case) -> Iterator[OwedTest]:
    """Ignition tests still to be made: points, timing, then what would settle an open finding."""
    yield from _points(case)
    yield from _timing(case)
    yield from _advance(case)
    yield from _spark_and_plugs(case)


def _points(case: Case) -> Iterator[OwedTest]:
    taken = [name for name in ("point_gap", "dwell") if case.has(name)]
    if case.text("points_fitted") == "" and case.text("state_ignition") != "proven":
        yield OwedTest(
            "kind of ignition",
            ("ignition_type",),
            "Whether there are points to be set decides what proves the ignition.",
        )
    if case.text("points_fitted") != "yes":
        return
    if not taken:
        magneto = case.text("dwell_asked") == "no"
        yield OwedTest(
            "point gap" if magneto else "point gap or dwell",
            ("point_gap",) if magneto else ("point_gap", "dwell"),
            "The gap moves the timing, so no timing stands until it is known.",
        )
    elif not any(case.has(f"margin_{name}") for name in taken):
        why = "The points were measured, but the form has no figure to judge them by: find it in the manual."
        yield OwedTest("points, specified", tuple(f for f in GAP_SPECIFIED if not case.has(f)), why)


def _timing(case: Case) -> Iterator[OwedTest]:
    if not case.has("timing"):
        low = case.is_below("idle_vacuum_mean")
        why = (
            "Low vacuum with late timing is the commonest pair; nothing after it is judged until timing is"
            " known."
        )
        other = "Advance, mixture and vacuum are judged from the initial timing on."
        yield OwedTest("timing, by the light", ("timing", "timing_speed"), why if low else other)
    elif not case.has("spec_timing"):
        why = "Timing was read, but the form has no figure to judge it by: find it in the manual."
        yield OwedTest("timing, specified", ("spec_timing", "spec_timing_speed"), why)
    elif case.holds(points.points_out) and not case.is_inside("after_timing"):
        why = "Setting the points moves the timing: what was read counts only until they are set."
        yield OwedTest("timing, once the points are set", ("timing", "timing_speed"), why)
    elif case.holds(timing.off_speed):
        why = (
            f"It was read at {case.reading('timing_speed')}, where the advance may have begun;"
            f" {case.reading('spec_timing_speed')} is specified."
        )
        yield OwedTest("timing, at its speed", ("timing", "timing_speed"), why)


def _advance(case: Case) -> Iterator[OwedTest]:
    line, manifold = case.number("advance_line_vacuum"), case.number("manifold_vacuum_then")
    same = case.values.constant("same_vacuum")
    both_empty = line is not None and manifold is not None and line <= same and abs(manifold - line) <= same
    if case.text("advance_unit_moves") == "no" and both_empty:
        why = (
            "With next to no vacuum in the manifold an open line and a clogged one read alike: close the"
            " throttle a little."
        )
        yield OwedTest(
            "vacuum in the advance line, repeated", ("advance_line_vacuum", "manifold_vacuum_then"), why
        )
    elif not case.has("advance_unit_moves") and case.text("complaint") == "lacks power":
        yield OwedTest(
            "vacuum advance",
            ("advance_unit_moves",),
            "The engine lacks power, and an advance that does not move takes some.",
        )
    lone = [
        n
        for n in case.values.numbers_of("advance_reading")
        if case.has("advance_reading", n) != case.has("advance_speed", n)
    ]
    if lone:
        fields = tuple(
            cell_name("advance_speed" if case.has("advance_reading", n) else "advance_reading", n)
            for n in lone
        )
        yield OwedTest(
            "advance by speed", fields, "An advance reading says something only together with its speed."
        )
    wanders = case.text("timing_mark") == "wanders"
    if wanders and not case.has("rotor_springs_back") and not case.filled("margin_advance_corrected"):
        why = "The timing mark wanders: the rotor, let go, tells whether the advance weights stick."
        yield OwedTest("mechanical advance", ("rotor_springs_back",), why)


def _spark_and_plugs(case: Case) -> Iterator[OwedTest]:
    doubtful = tuple(n for n in case.cylinders if case.holds(spark.weak, n))
    unseen = [n for n in doubtful if not case.has("plug_look", n) or not case.has("plug_gap", n)]
    if unseen:
        fields = tuple(
            cell_name(name, n) for n in unseen for name in ("plug_look", "plug_gap") if not case.has(name, n)
        )
        who = cylinders_in_words(tuple(unseen))
        yield OwedTest(
            "plugs", fields, f"It tells the plug from its lead in {who}, weak although compression is normal."
        )
    unburned = case.holds(spark.unburned)
    if not case.has("spark") and (unburned or doubtful or case.holds(spark.sooty_though_in_order)):
        yield OwedTest(
            "spark",
            ("spark",),
            "Soot, unburned gas or a weak cylinder while the rest is in order: the spark is the next to"
            " know.",
        )
    if unburned and not case.filled("speed_drop") and case.shape.cylinders > 2:
        fields = tuple(cell_name("speed_drop", n) for n in case.cylinders)
        yield OwedTest("speed drop", fields, "It finds the cylinder whose charges do not fire.")
