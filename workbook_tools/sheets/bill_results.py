"""The bill: each line to the cent, halves away from zero, then the sums (`science/money.py` does the same in decimals).

A line is rounded once; its labour is the line less its parts, so that parts and labour always add up to the
lines. A credit is a negative quantity.
"""

from __future__ import annotations

from workbook_tools.language.expressions import (
    BLANK,
    all_known,
    column,
    number,
    table,
    word,
)
from workbook_tools.language.measures import NONE
from workbook_tools.language.model import Result
from workbook_tools.science import money

BILL_LINES = 20
CHOOSE_TAXED = "choose what the tax is on"


quantity, price = number("quantity"), number("unit_price")
hours, rate = number("hours"), number("labour_rate")
line_parts, line = number("line_parts"), number("line_total")
parts, labour, taxed = number("parts_total"), number("labour_total"), number("taxable_total")
percent, tax_on = number("tax_percent").or_zero, word("tax_on")


def per_line(name: str, label: str, expression: object) -> Result:
    """An amount of each line of the bill."""
    return Result(name, label, expression, NONE, per=BILL_LINES, money=True)  # type: ignore[arg-type]


LINES = (
    per_line("line_parts", "Parts", (quantity * price).round(2)),
    per_line("line_labour", "Labour", (line - line_parts.or_zero).round(2).where(all_known(hours, rate))),
    per_line(
        "line_total",
        "Line",
        ((quantity * price).or_zero + (hours * rate).or_zero)
        .round(2)
        .where(all_known(quantity, price) | all_known(hours, rate)),
    ),
)


def total_of(what: str) -> Result:
    """Sum of one column of the bill; blank while no line has an amount."""
    total = column(f"line_{what}").sum().round(2).where(column("line_total").known)
    return Result(f"{what}_total", what.capitalize(), total, money=True)


TOTALS = (
    total_of("parts"),
    total_of("labour"),
    Result(
        "taxable_total",
        "Tax is on",
        table(
            (parts.missing | labour.missing, BLANK),
            (tax_on == money.TAX_ON_PARTS, parts),
            (tax_on == money.TAX_ON_ALL, (parts + labour).round(2)),
            otherwise=0.0,
        ),
        money=True,
    ),
    Result("tax_total", "Tax", (taxed * percent / 100).round(2), money=True),
    Result("bill_total", "To pay", (parts + labour + number("tax_total")).round(2), money=True),
    Result(
        "bill_missing",
        "Missing",
        table(
            (
                (percent > 0) & ~tax_on.is_in(money.TAX_ON_PARTS, money.TAX_ON_ALL, money.TAX_ON_NOTHING),
                CHOOSE_TAXED,
            )
        ),
        wide=True,
    ),
)
