"""What the readings taken again after the repair give: the needle's mean and swing, the cylinders compared
again."""

from __future__ import annotations

from workbook_tools.language.expressions import column, number, table
from workbook_tools.language.measures import COMPRESSION, VACUUM
from workbook_tools.language.model import Limits, Result
from workbook_tools.sheets.compression_results import comparison_line, dry
from workbook_tools.sheets.fuel_and_air import IDLE_LIMITS

COMPRESSION_LIMITS = Limits(
    "site_compression_min", "site_compression_max", "compression_gauge_tolerance", "after_comparison_line"
)

low, high = number("after_idle_vacuum_low"), number("after_idle_vacuum_high")
again, all_again, last = number("after_compression"), column("after_compression"), column("compression_last")

IDLE = (
    Result(
        "after_idle_vacuum_mean",
        "Mean of the needle",
        ((low + high) / 2).round(6),
        VACUUM,
        limits=IDLE_LIMITS,
    ),
    Result("after_idle_vacuum_swing", "Swing of the needle", (high - low).round(6), VACUUM),
)

GAUGED_LAST = Result(
    "compression_last",
    "Gauged last",
    table((again.known, again), otherwise=dry),
    COMPRESSION,
    per="cylinder",
    help="a cylinder that was not gauged again stands as it was",
    working=True,
)

COMPRESSION_RESULTS = (
    Result("after_compression_highest", "Highest", last.max().where(all_again.known), COMPRESSION),
    Result("after_compression_lowest", "Lowest", last.min().where(all_again.known), COMPRESSION),
    Result(
        "after_compression_spread",
        "Difference",
        (number("after_compression_highest") - number("after_compression_lowest")).round(6),
        COMPRESSION,
    ),
    Result(
        "after_comparison_line",
        "Lowest that comparison allows",
        comparison_line("after_compression_highest"),
        COMPRESSION,
    ),
)
