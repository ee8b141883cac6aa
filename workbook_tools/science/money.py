"""Bills in decimal money, to the cent.

A cell holds 2.675 as the nearest binary number, which is a little less; what the technician typed, and what
the sheet shows, is 2.675. Amounts are therefore taken as the decimal number that is shown (15 significant
digits), worked out exactly, and rounded once a line, halves away from zero: the same result as the
worksheet's `ROUND(..., 2)`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from workbook_tools.science.sheet_math import round_half_away, sheet_decimal

Amount = Decimal | int | float

CENT_DIGITS = 2
TAX_ON_PARTS = "parts"
TAX_ON_ALL = "parts and labour"
TAX_ON_NOTHING = "nothing"


@dataclass(frozen=True)
class BillLine:
    """One line of work: parts as quantity and unit price, labour as hours; zero where left blank."""

    quantity: Amount = 0
    unit_price: Amount = 0
    hours: Amount = 0


@dataclass(frozen=True)
class Bill:
    """The sums of a bill, each to the cent; `total` is exactly parts + labour + tax."""

    parts: Decimal
    labour: Decimal
    tax: Decimal
    total: Decimal


def exact(value: Amount) -> Decimal:
    """The amount as it was typed: a float becomes the decimal number that a spreadsheet shows for it.

    Raises ValueError when the value is not a finite number.
    """
    if isinstance(value, float):
        return sheet_decimal(value)
    amount = Decimal(value)
    if not amount.is_finite():
        raise ValueError(f"{value} is not an amount")
    return amount


def to_cents(value: Amount) -> Decimal:
    """The amount rounded to the cent, halves away from zero (1.005 becomes 1.01, -1.005 becomes -1.01).

    Raises ValueError when the value is not a finite number.
    """
    return round_half_away(exact(value), CENT_DIGITS)


def parts_amount(quantity: Amount, unit_price: Amount) -> Decimal:
    """What the parts of one line cost, to the cent."""
    return to_cents(exact(quantity) * exact(unit_price))


def line_total(quantity: Amount, unit_price: Amount, hours: Amount, rate: Amount) -> Decimal:
    """One line of the bill, quantity x unit price + hours x rate, rounded once to the cent."""
    return to_cents(exact(quantity) * exact(unit_price) + exact(hours) * exact(rate))


def tax_total(parts: Amount, labour: Amount, tax_percent: Amount, tax_on: str) -> Decimal:
    """The tax in money to the cent, on `parts`, on `parts and labour` or on `nothing`.

    Raises ValueError for another `tax_on`.
    """
    if tax_on == TAX_ON_PARTS:
        taxed = exact(parts)
    elif tax_on == TAX_ON_ALL:
        taxed = exact(parts) + exact(labour)
    elif tax_on == TAX_ON_NOTHING:
        taxed = Decimal(0)
    else:
        raise ValueError(
            f"tax is on {TAX_ON_PARTS!r}, {TAX_ON_ALL!r} or {TAX_ON_NOTHING!r}, not on {tax_on!r}"
        )
    return to_cents(taxed * exact(tax_percent) / 100)


def bill(lines: Iterable[BillLine], labour_rate: Amount, tax_percent: Amount, tax_on: str) -> Bill:
    """The whole bill from its lines.

    Each line is rounded once; its labour is the line less its parts, so that parts and labour always add up
    to the sum of the lines. Raises ValueError as `tax_total` does.
    """
    parts = labour = Decimal("0.00")
    for line in lines:
        line_parts = parts_amount(line.quantity, line.unit_price)
        parts += line_parts
        labour += line_total(line.quantity, line.unit_price, line.hours, labour_rate) - line_parts
    tax = tax_total(parts, labour, tax_percent, tax_on)
    return Bill(parts, labour, tax, parts + labour + tax)
