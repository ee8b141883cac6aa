"""Where the proof of the ignition stands, and its next step, for sheet Summary."""

from __future__ import annotations

from workbook_tools.form.model import OUT_OF_LIMITS, Result, Value
from workbook_tools.form.summary import FAULT, OPEN, PROVEN, inside_formula, is_inside
from workbook_tools.form.values import Values


def state_ignition(v: Values, _: int | None) -> Value:
    """Fault where the timing is out of limits; proven where it is in limits and points, where read, are too."""
    marks = [v.text(f"mark_{name}") for name in ("timing", "point_gap", "dwell")]
    if OUT_OF_LIMITS in marks:
        return FAULT
    return PROVEN if is_inside(v, "timing") and (is_inside(v, "point_gap") or is_inside(v, "dwell")) else OPEN


def next_ignition(v: Values, _: int | None) -> Value:
    """What to do next in ignition."""
    state = v.text("state_ignition")
    if state == PROVEN:
        return None
    return "Set points, then timing" if state == FAULT else "Measure gap or dwell, then timing"


IGNITION_SUMMARY = (
    Result(
        "state_ignition",
        "Ignition",
        f'=IF(OR(mark_timing="{OUT_OF_LIMITS}",mark_point_gap="{OUT_OF_LIMITS}",mark_dwell="{OUT_OF_LIMITS}"),"{FAULT}",'
        f'IF(AND({inside_formula("timing")},OR({inside_formula("point_gap")},{inside_formula("dwell")})),"{PROVEN}","{OPEN}"))',
        state_ignition,
    ),
    Result(
        "next_ignition",
        "Next for ignition",
        f'=IF(state_ignition="{PROVEN}","",IF(state_ignition="{FAULT}","Set points, then timing",'
        '"Measure gap or dwell, then timing"))',
        next_ignition,
        wide=True,
    ),
)
