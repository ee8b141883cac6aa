"""The bill: each line to the cent, halves away from zero, then the sums; Python works in decimals
(`money.py`).

A line is rounded once; its labour is the line less its parts, so that parts and labour always add up to the
lines. A credit is a negative quantity.
"""

from __future__ import annotations

from decimal import Decimal

from workbook_tools.language.measures import NONE
from workbook_tools.language.model import Result, Value
from workbook_tools.language.values import Values
from workbook_tools.science import money

BILL_LINES = 20
CHOOSE_TAXED = "choose what the tax is on"


def parts_of(v: Values, n: int | None) -> Value:
    """What a line's parts cost."""
    quantity, price = v.number("quantity", n), v.number("unit_price", n)
    return None if quantity is None or price is None else float(money.parts_amount(quantity, price))


def line_total(v: Values, n: int | None) -> Value:
    """Quantity times price, and hours times rate; a pair that is not complete counts nothing."""
    quantity, price = v.number("quantity", n), v.number("unit_price", n)
    hours, rate = v.number("hours", n), v.number("labour_rate")
    has_parts, has_labour = quantity is not None and price is not None, hours is not None and rate is not None
    if not has_parts and not has_labour:
        return None
    parts = (quantity or 0.0, price or 0.0) if has_parts else (0.0, 0.0)
    labour = (hours or 0.0, rate or 0.0) if has_labour else (0.0, 0.0)
    return float(money.line_total(*parts, *labour))


def labour_of(v: Values, n: int | None) -> Value:
    """A line less its parts."""
    if v.number("hours", n) is None or v.number("labour_rate") is None:
        return None
    return cents(v.number("line_total", n), -(v.number("line_parts", n) or 0.0))


def cents(*amounts: float | None) -> float:
    """The sum of amounts, blanks left out, to the cent."""
    return float(money.to_cents(sum((money.exact(x) for x in amounts if x is not None), Decimal(0))))


def total_of(column: str) -> Result:
    """Sum of one column of the bill; blank while no line has an amount."""

    def compute(v: Values, _: int | None) -> Value:
        return cents(*v.column(f"line_{column}")) if v.column("line_total") else None

    return Result(
        f"{column}_total",
        column.capitalize(),
        f'=IF(COUNT(all_line_total)=0,"",ROUND(SUM(all_line_{column}),2))',
        compute,
        money=True,
    )


def taxable(v: Values, _: int | None) -> Value:
    """What the tax is on, as chosen."""
    parts, labour, chosen = v.number("parts_total"), v.number("labour_total"), v.text("tax_on")
    if parts is None or labour is None:
        return None
    if chosen == money.TAX_ON_PARTS:
        return parts
    return cents(parts, labour) if chosen == money.TAX_ON_ALL else 0.0


def tax_total(v: Values, _: int | None) -> Value:
    """The tax on it."""
    taxed, percent = v.number("taxable_total"), v.number("tax_percent")
    return None if taxed is None else float(money.tax_total(taxed, 0, percent or 0.0, money.TAX_ON_PARTS))


def bill_total(v: Values, _: int | None) -> Value:
    """Parts, labour and tax."""
    sums = [v.number(name) for name in ("parts_total", "labour_total", "tax_total")]
    return None if None in sums else cents(*sums)


def bill_note(v: Values, _: int | None) -> Value:
    """What is missing for the tax."""
    no_choice = v.text("tax_on") not in (money.TAX_ON_PARTS, money.TAX_ON_ALL, money.TAX_ON_NOTHING)
    return CHOOSE_TAXED if (v.number("tax_percent") or 0.0) > 0 and no_choice else None


_PARTS = "IF(COUNT(quantity_#,unit_price_#)=2,quantity_#*unit_price_#,0)"
_LABOUR = "IF(COUNT(hours_#,labour_rate)=2,hours_#*labour_rate,0)"

LINES = (
    Result(
        "line_parts",
        "Parts",
        '=IF(COUNT(quantity_#,unit_price_#)<2,"",ROUND(quantity_#*unit_price_#,2))',
        parts_of,
        NONE,
        per=BILL_LINES,
        money=True,
    ),
    Result(
        "line_labour",
        "Labour",
        '=IF(COUNT(hours_#,labour_rate)<2,"",ROUND(line_total_#-SUM(line_parts_#),2))',
        labour_of,
        NONE,
        per=BILL_LINES,
        money=True,
    ),
    Result(
        "line_total",
        "Line",
        f'=IF(AND(COUNT(quantity_#,unit_price_#)<2,COUNT(hours_#,labour_rate)<2),"",ROUND({_PARTS}+{_LABOUR},2))',
        line_total,
        NONE,
        per=BILL_LINES,
        money=True,
    ),
)

TOTALS = (
    total_of("parts"),
    total_of("labour"),
    Result(
        "taxable_total",
        "Tax is on",
        '=IF(COUNT(parts_total,labour_total)<2,"",IF(tax_on="parts",parts_total,'
        'IF(tax_on="parts and labour",ROUND(parts_total+labour_total,2),0)))',
        taxable,
        money=True,
    ),
    Result(
        "tax_total",
        "Tax",
        '=IF(COUNT(taxable_total)=0,"",ROUND(taxable_total*SUM(tax_percent)/100,2))',
        tax_total,
        money=True,
    ),
    Result(
        "bill_total",
        "To pay",
        '=IF(COUNT(parts_total,labour_total,tax_total)<3,"",ROUND(parts_total+labour_total+tax_total,2))',
        bill_total,
        money=True,
    ),
    Result(
        "bill_note",
        "Missing",
        '=IF(AND(SUM(tax_percent)>0,tax_on<>"parts",tax_on<>"parts and labour",tax_on<>"nothing"),'
        f'"{CHOOSE_TAXED}","")',
        bill_note,
        wide=True,
    ),
)
