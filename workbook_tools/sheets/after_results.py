"""What the readings taken again after the repair give: the needle's mean and swing, the cylinders compared
again."""

from __future__ import annotations

from workbook_tools.language.expressions import column, constant, number, table, word
from workbook_tools.language.measures import COMPRESSION, RATIO, VACUUM, VOLUME_SHARE
from workbook_tools.language.model import Limits, Result
from workbook_tools.sheets.compression_results import comparison_line, dry, most, reference
from workbook_tools.sheets.fuel_and_air import IDLE_LIMITS
from workbook_tools.sheets.gas_results import GASES, USABLE, gas_sample

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

last_above, last_not_above = column("compression_last_above"), column("compression_last_not_above")
LAST = (
    GAUGED_LAST,
    *(
        Result(name, label, number("compression_last").where(when), COMPRESSION, per="cylinder", working=True)
        for name, label, when in (
            ("compression_last_above", "Last, above the maximum", number("compression_last") > most),
            ("compression_last_not_above", "Last, not above it", ~(number("compression_last") > most)),
        )
    ),
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
        "after_compression_reference",
        "Compared with",
        reference(last_above, last_not_above, 2 * last_above.count() > last.count()).where(all_again.known),
        COMPRESSION,
    ),
    Result(
        "after_comparison_line",
        "Lowest that comparison allows",
        comparison_line("after_compression_reference"),
        COMPRESSION,
    ),
)

co, co2, hc, o2 = (number(f"after_{gas}") for gas in GASES)
_SAMPLE = gas_sample(co, co2, hc, o2)
sample, ratio = word("after_sample_ok"), number("after_lambda")
balance, shifted = number("after_lambda_balance"), number("after_shifted_balance")

GAS = (
    Result(
        "after_sample_ok", "Sample", _SAMPLE.verdict(number("after_carbon_sum"), balance, shifted), wide=True
    ),
    Result(
        "after_lambda",
        "Lambda",
        _SAMPLE.air_ratio,
        RATIO,
        limits=Limits("after_lambda_low", "after_lambda_high"),
    ),
    Result("after_carbon_sum", "CO + CO2", _SAMPLE.carbon, VOLUME_SHARE, working=True),
    Result("after_lambda_balance", "Gas balance", _SAMPLE.balance, RATIO, working=True),
    Result("after_shifted_balance", "Balance with ten times the CO2", _SAMPLE.shifted, RATIO, working=True),
    Result(
        "after_lambda_low",
        "Rich below",
        table((sample == USABLE, constant("lambda_rich"))),
        RATIO,
        working=True,
    ),
    Result(
        "after_lambda_high",
        "Lean above",
        table((sample == USABLE, constant("lambda_lean"))),
        RATIO,
        working=True,
    ),
)
