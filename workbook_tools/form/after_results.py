"""What the readings taken again after the repair give: the needle's mean and swing, the cylinders compared
again."""

from __future__ import annotations

from collections.abc import Callable

from workbook_tools.form.fuel_and_air import IDLE_LIMITS
from workbook_tools.language.measures import COMPRESSION, VACUUM
from workbook_tools.language.model import Limits, Result, Value
from workbook_tools.language.values import Values
from workbook_tools.science.sheet_math import sheet_round

COMPRESSION_LIMITS = Limits(
    "site_compression_min", "site_compression_max", "compression_gauge_tolerance", "after_comparison_line"
)


def mean(v: Values, _: int | None) -> Value:
    """Middle of the needle's lowest and highest point."""
    low, high = v.number("after_idle_vacuum_low"), v.number("after_idle_vacuum_high")
    return None if low is None or high is None else sheet_round((low + high) / 2, 6)


def swing(v: Values, _: int | None) -> Value:
    """Highest point of the needle less its lowest."""
    low, high = v.number("after_idle_vacuum_low"), v.number("after_idle_vacuum_high")
    return None if low is None or high is None else sheet_round(high - low, 6)


IDLE = (
    Result(
        "after_idle_vacuum_mean",
        "Mean of the needle",
        '=IF(COUNT(after_idle_vacuum_low,after_idle_vacuum_high)<2,"",'
        "ROUND((after_idle_vacuum_low+after_idle_vacuum_high)/2,6))",
        mean,
        VACUUM,
        limits=IDLE_LIMITS,
    ),
    Result(
        "after_idle_vacuum_swing",
        "Swing of the needle",
        '=IF(COUNT(after_idle_vacuum_low,after_idle_vacuum_high)<2,"",'
        "ROUND(after_idle_vacuum_high-after_idle_vacuum_low,6))",
        swing,
        VACUUM,
    ),
)


def gauged_last(v: Values, cylinder: int | None) -> Value:
    """A cylinder's dry reading after the repair; one that was not gauged again stands as it was."""
    again = v.number("after_compression", cylinder)
    return v.number("compression_dry", cylinder) if again is None else again


def extreme(pick: Callable[[list[float]], float]) -> Callable[[Values, int | None], Value]:
    """Highest or lowest of all cylinders as gauged last, once any was gauged again."""

    def compute(v: Values, _: int | None) -> Value:
        return pick(v.column("compression_last")) if v.column("after_compression") else None

    return compute


def spread(v: Values, _: int | None) -> Value:
    """Highest less lowest of all cylinders as gauged last."""
    highest, lowest = v.number("after_compression_highest"), v.number("after_compression_lowest")
    return None if highest is None or lowest is None else sheet_round(highest - lowest, 6)


def comparison_line(v: Values, _: int | None) -> Value:
    """Lowest reading after the repair that comparison with the highest of all cylinders allows."""
    highest = v.number("after_compression_highest")
    largest, percent = v.number("spec_compression_spread"), v.number("spec_lowest_percent")
    if highest is None or (largest is None and percent is None):
        return None
    lines = [highest - largest] if largest is not None else []
    lines += [highest * percent / 100] if percent is not None else []
    return sheet_round(max(lines), 6)


GAUGED_LAST = Result(
    "compression_last",
    "Gauged last",
    '=IF(COUNT(after_compression_#)=1,after_compression_#,IF(COUNT(compression_dry_#)=1,compression_dry_#,""))',
    gauged_last,
    COMPRESSION,
    per="cylinder",
    working=True,
)

COMPRESSION_RESULTS = (
    Result(
        "after_compression_highest",
        "Highest",
        '=IF(COUNT(all_after_compression)=0,"",MAX(all_compression_last))',
        extreme(max),
        COMPRESSION,
    ),
    Result(
        "after_compression_lowest",
        "Lowest",
        '=IF(COUNT(all_after_compression)=0,"",MIN(all_compression_last))',
        extreme(min),
        COMPRESSION,
    ),
    Result(
        "after_compression_spread",
        "Difference",
        '=IF(COUNT(all_after_compression)=0,"",ROUND(after_compression_highest-after_compression_lowest,6))',
        spread,
        COMPRESSION,
    ),
    Result(
        "after_comparison_line",
        "Lowest that comparison allows",
        '=IF(OR(COUNT(after_compression_highest)=0,COUNT(spec_compression_spread,spec_lowest_percent)=0),"",'
        "ROUND(MAX(IF(COUNT(spec_compression_spread)=1,after_compression_highest-spec_compression_spread,-9999),"
        "IF(COUNT(spec_lowest_percent)=1,after_compression_highest*spec_lowest_percent/100,-9999)),6))",
        comparison_line,
        COMPRESSION,
    ),
)
