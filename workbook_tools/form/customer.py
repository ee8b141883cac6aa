"""Sheet Customer: the page that goes home with the engine - what was found, what was done, what it costs.

Nothing is typed here. It draws on what the technician concluded, did and read again, in words that a customer knows.
"""

from __future__ import annotations

from workbook_tools.form.repairs import CONCLUSIONS
from workbook_tools.language.expressions import Num, Text, column, joined, number, table, word
from workbook_tools.language.measures import COMPRESSION, VACUUM
from workbook_tools.language.model import Block, Chart, Line, Result, Sheet, Table
from workbook_tools.sheets.bill_results import BILL_LINES

CUSTOMER_NAME = "Customer"


def as_text(name: str) -> Text:
    """A text from another cell, blank where that is."""
    return table((word(name).known, word(name)))


def shown(name: str, label: str, **look: int) -> Result:
    """A text from another sheet."""
    return Result(f"page_{name}", label, as_text(name), wide=True, **look)  # type: ignore[arg-type]


def day(name: str, label: str, of: Num) -> Result:
    """A day from another sheet."""
    return Result(f"page_{name}", label, of, is_date=True)


def amount(name: str, label: str) -> Result:
    """An amount of the bill."""
    return Result(f"page_{name}", label, number(name), money=True)


def with_note(first: Text, second: Text) -> Text:
    """Two texts, with what parts them where both are there."""
    return table((first.known & second.known, joined(first, ": ", second)), otherwise=joined(first, second))


def found(number: int) -> Result:
    """One conclusion in words for the customer, with its cylinders."""
    said, cylinders = word("page_cause").of(number), word("concluded_cylinders").of(number)
    told = table(
        (said.known & cylinders.known, joined(said, " (cylinder ", cylinders, ")")), (said.known, said)
    )
    return Result(f"page_found_{'abcd'[number - 1]}", "Found" if number == 1 else "and", told, wide=True)


invoiced = table((number("invoice_date").known, number("invoice_date")), otherwise=number("date_out"))

CUSTOMER = Sheet(
    name=CUSTOMER_NAME,
    purpose="What was found on your engine, what was done about it, and what it costs.",
    cost="",
    is_page=True,
    since=4,
    parts=(
        Block(
            "From",
            (
                shown("shop_name", "Shop"),
                shown("shop_address", "Address"),
                shown("shop_contact", "Telephone or mail"),
                shown("shop_tax_number", "Tax number"),
            ),
        ),
        Block(
            "For",
            (
                shown("customer_name", "Customer"),
                shown("vehicle", "Vehicle or machine"),
                shown("plate", "Plate or fleet number"),
                shown("invoice_number", "Invoice"),
                day("invoice_date", "Date", invoiced),
            ),
        ),
        Block(
            "What you told us",
            (
                Result(
                    "page_complaint",
                    "Complaint",
                    with_note(word("complaint"), word("complaint_notes")),
                    wide=True,
                    lines=2,
                ),
            ),
        ),
        Block(
            "What was found",
            tuple(found(number) for number in range(1, CONCLUSIONS + 1)),
        ),
        Table(
            "What was done",
            per=BILL_LINES,
            columns=(
                Result("page_work", "Work", as_text("work"), per=BILL_LINES, wide=True),
                Result("page_part", "Part", as_text("part"), per=BILL_LINES, wide=True),
                Result("page_line", "Amount", number("line_total"), per=BILL_LINES, money=True),
            ),
        ),
        Block(
            "Bill",
            (
                amount("parts_total", "Parts"),
                amount("labour_total", "Labour"),
                amount("tax_total", "Tax"),
                amount("bill_total", "To pay"),
                day("paid_on", "Paid on", number("paid_on")),
                shown("bill_note", "Note"),
            ),
        ),
        Block(
            "Measured before and after",
            (
                Result(
                    "page_compression_before",
                    "Weakest cylinder, before",
                    column("compression_dry").min(),
                    COMPRESSION,
                ),
                Result(
                    "page_compression_after",
                    "Repaired cylinders, weakest after",
                    column("after_compression").min(),
                    COMPRESSION,
                ),
                Result("page_vacuum_before", "Suction at idle, before", number("idle_vacuum_mean"), VACUUM),
                Result(
                    "page_vacuum_after", "Suction at idle, after", number("after_idle_vacuum_mean"), VACUUM
                ),
            ),
        ),
        Chart(
            "Compression before and after",
            per="cylinder",
            bars=(Line("compression_dry", "before"), Line("after_compression", "after")),
            x_title="Cylinder",
            y_title=COMPRESSION,
            rows=7,
        ),
        Block("What to have done next", (shown("advice", "Our advice", lines=2),)),
    ),
)
