"""The advance curve: the band between the manual's points at the speed of each reading, and what the
readings say.

The least and the most advance run straight from point to point of the manual; outside its points there is
no band. The initial timing error is taken off each reading first, so that a distributor set late is not
blamed on the weights.
"""

from __future__ import annotations

from typing import Literal

from workbook_tools.language.expressions import BLANK, column, joined, number, table
from workbook_tools.language.measures import ANGLE, SPEED
from workbook_tools.language.model import OUT_OF_LIMITS, Limits, Result

ADVANCE_POINTS = 6
ON_CURVE, OFF_CURVE = "on its curve", "outside its curve"
TIMING_UNKNOWN = ": read the initial timing too"

Side = Literal["min", "max"]

speed, error = number("advance_speed"), number("timing_error")
marks, margins = column("mark_advance_corrected"), column("margin_advance_corrected")


def band_edge_results(side: Side, label: str) -> tuple[Result, ...]:
    """The steps of one side of the band: usable points, the points on either side, the edge itself, linear between."""
    speeds, edges = column(f"advance_{side}_speed"), column(f"spec_advance_{side}")
    before, after = number(f"advance_{side}_before"), number(f"advance_{side}_after")
    start, end = edges.mean_at(speeds.name, before), edges.mean_at(speeds.name, after)

    def per_point(name: str, text: str, expression: object, measure: object = SPEED) -> Result:
        return Result(name, text, expression, measure, per=ADVANCE_POINTS, working=True)  # type: ignore[arg-type]

    return (
        per_point(
            speeds.name,
            f"Curve point, {label}: speed",
            number("spec_advance_speed").where(number(edges.name).known),
        ),
        per_point(before.name, f"Point before, {label}", speeds.last_up_to(speed)),
        per_point(after.name, f"Point after, {label}", speeds.first_from(speed)),
        per_point(
            f"advance_band_{side}",
            label[:1].upper() + label[1:],
            table(
                (before == after, start.round(6)),
                otherwise=(start + (end - start) * (speed - before) / (after - before)).round(6),
            ),
            ANGLE,
        ),
    )


CURVE = (
    Result(
        "advance_corrected",
        "Less the timing error",
        (number("advance_reading") - error.or_zero).round(6),
        ANGLE,
        per=ADVANCE_POINTS,
        limits=Limits("advance_band_min_#", "advance_band_max_#"),
    ),
    *band_edge_results("min", "least advance"),
    *band_edge_results("max", "most advance"),
)

ADVANCE_VERDICT = Result(
    "advance_verdict",
    "The advance is",
    table(
        (margins.missing, BLANK),
        otherwise=joined(
            table((marks.any_is(OUT_OF_LIMITS), OFF_CURVE), otherwise=ON_CURVE),
            table((error.missing, TIMING_UNKNOWN)),
        ),
    ),
    wide=True,
)
