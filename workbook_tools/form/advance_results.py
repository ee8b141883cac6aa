"""The advance curve: the band between the manual's points at the speed of each reading, and what the
readings say.

The least and the most advance run straight from point to point of the manual; outside its points there is
no band. The initial timing error is taken off each reading first, so that a distributor set late is not
blamed on the weights.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from workbook_tools.language.measures import ANGLE, SPEED
from workbook_tools.language.model import OUT_OF_LIMITS, Limits, Result, Value
from workbook_tools.language.values import Values
from workbook_tools.science.sheet_math import sheet_round

ADVANCE_POINTS = 6
ON_CURVE, OFF_CURVE = "on its curve", "outside its curve"
TIMING_UNKNOWN = ": read the initial timing too"

Side = Literal["min", "max"]
Compute = Callable[[Values, int | None], Value]


def point_speed(side: Side) -> Compute:
    """Speed of a curve point that has that side of the band."""

    def compute(v: Values, n: int | None) -> Value:
        return v.number("spec_advance_speed", n) if v.number(f"spec_advance_{side}", n) is not None else None

    return compute


def speed_before(side: Side) -> Compute:
    """Speed of the last curve point that is not above the reading's speed."""

    def compute(v: Values, n: int | None) -> Value:
        speed = v.number("advance_speed", n)
        below = [x for x in v.column(f"advance_{side}_speed") if speed is not None and x <= speed]
        return max(below) if below else None

    return compute


def speed_after(side: Side) -> Compute:
    """Speed of the first curve point that is not under the reading's speed."""

    def compute(v: Values, n: int | None) -> Value:
        speed = v.number("advance_speed", n)
        above = [x for x in v.column(f"advance_{side}_speed") if speed is not None and x >= speed]
        return min(above) if above else None

    return compute


def band_edge(side: Side) -> Compute:
    """That side of the band at the reading's speed, linear between the points on either side."""

    def at_point(v: Values, speed: float) -> float:
        there = [
            v.number(f"spec_advance_{side}", n) or 0.0
            for n in v.numbers_of("spec_advance_speed")
            if v.number(f"advance_{side}_speed", n) == speed
        ]
        return sum(there) / len(there)

    def compute(v: Values, n: int | None) -> Value:
        speed = v.number("advance_speed", n)
        before, after = v.number(f"advance_{side}_before", n), v.number(f"advance_{side}_after", n)
        if speed is None or before is None or after is None:
            return None
        start, end = at_point(v, before), at_point(v, after)
        if before == after:
            return sheet_round(start, 6)
        return sheet_round(start + (end - start) * (speed - before) / (after - before), 6)

    return compute


def band_edge_results(side: Side, label: str) -> tuple[Result, ...]:
    """The steps of one side of the band: usable points, the points on either side, the edge itself."""
    speeds, values = f"all_advance_{side}_speed", f"all_spec_advance_{side}"

    def per_point(name: str, text: str, formula: str, compute: Compute) -> Result:
        return Result(name, text, formula, compute, SPEED, per=ADVANCE_POINTS, working=True)

    def at(cell: str) -> str:
        return f"SUMIF({speeds},{cell},{values})/COUNTIF({speeds},{cell})"

    before, after = f"advance_{side}_before_#", f"advance_{side}_after_#"
    not_above, not_under = (
        f'COUNTIF({speeds},"<="&advance_speed_#)',
        f'COUNTIF({speeds},">="&advance_speed_#)',
    )
    return (
        per_point(
            f"advance_{side}_speed",
            f"Curve point, {label}: speed",
            f'=IF(COUNT(spec_advance_speed_#,spec_advance_{side}_#)<2,"",spec_advance_speed_#)',
            point_speed(side),
        ),
        per_point(
            f"advance_{side}_before",
            f"Point before, {label}",
            f'=IF(COUNT(advance_speed_#)=0,"",IF({not_above}=0,"",SMALL({speeds},{not_above})))',
            speed_before(side),
        ),
        per_point(
            f"advance_{side}_after",
            f"Point after, {label}",
            f'=IF(COUNT(advance_speed_#)=0,"",IF({not_under}=0,"",LARGE({speeds},{not_under})))',
            speed_after(side),
        ),
        Result(
            f"advance_band_{side}",
            label[:1].upper() + label[1:],
            f'=IF(COUNT({before},{after})<2,"",ROUND(IF({before}={after},{at(before)},{at(before)}'
            f"+({at(after)}-{at(before)})*(advance_speed_#-{before})/({after}-{before})),6))",
            band_edge(side),
            ANGLE,
            per=ADVANCE_POINTS,
            working=True,
        ),
    )


def advance_corrected(v: Values, n: int | None) -> Value:
    """The reading less the initial timing error, where that is known."""
    reading = v.number("advance_reading", n)
    return None if reading is None else sheet_round(reading - (v.number("timing_error") or 0.0), 6)


def advance_verdict(v: Values, _: int | None) -> Value:
    """Whether the readings lie in the band; says so where the initial timing is not known."""
    inside = v.column("margin_advance_corrected")
    if not inside:
        return None
    word = OFF_CURVE if v.count_text("mark_advance_corrected", OUT_OF_LIMITS) else ON_CURVE
    return word + (TIMING_UNKNOWN if v.number("timing_error") is None else "")


CURVE = (
    Result(
        "advance_corrected",
        "Less the timing error",
        '=IF(COUNT(advance_reading_#)=0,"",ROUND(advance_reading_#-SUM(timing_error),6))',
        advance_corrected,
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
    f'=IF(COUNT(all_margin_advance_corrected)=0,"",IF(COUNTIF(all_mark_advance_corrected,"{OUT_OF_LIMITS}")>0,'
    f'"{OFF_CURVE}","{ON_CURVE}")&IF(COUNT(timing_error)=0,"{TIMING_UNKNOWN}",""))',
    advance_verdict,
    wide=True,
)
