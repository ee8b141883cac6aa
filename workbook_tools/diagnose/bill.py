"""The bill: totals that were typed over with a wrong sum, and entries without which an amount counts as nothing.

A stored total whose formula stands is held against its entries with all other results (`workbook_checks.py`). A total
that was typed over is no longer a result there: here it is held against the sum of the entries, worked out in decimals.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from workbook_tools.diagnose.case import Case
from workbook_tools.diagnose.compression_checks import missing_reading
from workbook_tools.diagnose.entries import shown
from workbook_tools.diagnose.model import Discrepancy
from workbook_tools.diagnose.workbook_checks import is_replaced
from workbook_tools.language.model import Result, cell_name
from workbook_tools.read.entries import read_money
from workbook_tools.read.filled_form import FoundCell
from workbook_tools.science import money

TAX_CHOICES = (money.TAX_ON_PARTS, money.TAX_ON_ALL, money.TAX_ON_NOTHING)


def check(case: Case) -> Iterator[Discrepancy]:
    """Typed-over amounts that are not the sum of the entries."""
    replaced = [
        cell for cell in case.form.computed.values() if _is_money(cell) and is_replaced(cell, case.shape)
    ]
    if not replaced:
        return
    amounts = amounts_of(case)
    for cell in replaced:
        should, holds = amounts.get(cell.form.name, Decimal(0)), amount_in(cell)
        if holds is not None and holds != should:
            yield _differs(case, cell, holds, should)


def missing(case: Case) -> Iterator[Discrepancy]:
    """Halves of an amount: without the other it counts as nothing, and the bill comes out too low."""
    rows = case.values.numbers_of("quantity")
    for row in rows:
        for one, other in (("quantity", "unit_price"), ("unit_price", "quantity")):
            if case.has(one, row) and not case.typed(other, row):
                why = f"Line {row} has a {_word(one)} without a {_word(other)}: it adds nothing to the bill."
                yield missing_reading(case, cell_name(other, row), why)
    if any(case.has("hours", row) for row in rows) and not case.typed("labour_rate"):
        yield missing_reading(
            case, "labour_rate", "Hours are entered, but no hourly rate: they add nothing to the bill."
        )
    if (case.number("tax_percent") or 0) > 0 and not case.typed("tax_on"):
        yield missing_reading(
            case, "tax_on", "A tax rate is entered, but not what it applies to: the bill has no tax."
        )
    if case.text("tax_on") in (money.TAX_ON_PARTS, money.TAX_ON_ALL) and not case.typed("tax_percent"):
        yield missing_reading(
            case,
            "tax_percent",
            "What is taxed is chosen, but no tax rate is entered: the bill has no tax.",
        )


def _word(name: str) -> str:
    return "price" if name == "unit_price" else name


def bill_lines(case: Case) -> dict[int, money.BillLine]:
    """Every line of work with its number; a pair of which one half is missing counts as nothing, as on the sheet."""
    lines = {}
    for row in case.values.numbers_of("quantity"):
        quantity, price, hours = (case.number(name, row) for name in ("quantity", "unit_price", "hours"))
        both = quantity is not None and price is not None
        if row is not None and (both or hours is not None):
            lines[row] = money.BillLine(quantity or 0 if both else 0, price or 0 if both else 0, hours or 0)
    return lines


def amounts_of(case: Case) -> dict[str, Decimal]:
    """Every amount of the bill by the name of its cell, from the entries in decimals."""
    lines, rate = bill_lines(case), case.number("labour_rate") or 0
    chosen = case.text("tax_on")
    tax_on = chosen if chosen in TAX_CHOICES else money.TAX_ON_NOTHING
    bill = money.bill(lines.values(), rate, case.number("tax_percent") or 0, tax_on)
    taxed = {money.TAX_ON_PARTS: bill.parts, money.TAX_ON_ALL: bill.parts + bill.labour}
    amounts = {
        "parts_total": bill.parts,
        "labour_total": bill.labour,
        "taxable_total": taxed.get(tax_on, Decimal(0)),
        "tax_total": bill.tax,
        "bill_total": bill.total,
    }
    for row, line in lines.items():
        parts = money.parts_amount(line.quantity, line.unit_price)
        total = money.line_total(line.quantity, line.unit_price, line.hours, rate)
        amounts |= {
            f"line_parts_{row}": parts,
            f"line_labour_{row}": total - parts,
            f"line_total_{row}": total,
        }
    return amounts


def amount_in(cell: FoundCell) -> Decimal | None:
    """The amount that a computed cell shows, None where it shows none."""
    read = read_money(cell.raw).value if cell.raw not in (None, "") else None
    return money.to_cents(read) if isinstance(read, Decimal) else None


def _is_money(cell: FoundCell) -> bool:
    return isinstance(cell.form.item, Result) and cell.form.item.money


def _differs(case: Case, cell: FoundCell, holds: Decimal, should: Decimal) -> Discrepancy:
    sign = case.shape.currency
    difference = holds - should
    how = "was typed over with" if cell.formula is None else "has another formula now and shows"
    message = (
        f"{cell.where} ({cell.form.item.label}) {how} {sign}{holds}, but the lines of the bill give {sign}{should}: "
        f"{sign}{abs(difference)} too {'much' if difference > 0 else 'little'}. Restore the formula, and correct the lines."
    )
    return Discrepancy("bill_differs", cell.form.name, cell.where, shown(cell.raw), str(should), message)
