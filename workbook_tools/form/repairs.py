"""Sheet Repairs: what the technician concluded, what was done about it, and the bill."""

from __future__ import annotations

from workbook_tools.faults.causes import CAUSES
from workbook_tools.language.expressions import table, word
from workbook_tools.language.measures import HOURS, NONE, PERCENT
from workbook_tools.language.model import Block, Field, Result, Sheet, Table
from workbook_tools.sheets import bill_results
from workbook_tools.sheets.bill_results import BILL_LINES

CAUSE_IDS = tuple(CAUSES)
CONCLUSIONS = 4

#: For the customer's page.
in_customer_words = table(
    *((word("concluded_cause").is_in(*cause.names), cause.customer_words) for cause in CAUSES.values())
)

REPAIRS = Sheet(
    name="Repairs",
    purpose="Say what you concluded, what was done about it, and what it costs.",
    cost="10 minutes, no tools",
    parts=(
        Table(
            "What you concluded",
            per=CONCLUSIONS,
            what_to_do="Your own conclusion; the check holds it against the readings.",
            row_label="No.",
            columns=(
                Field("concluded_cause", "Cause", "choice", per=CONCLUSIONS, choices=CAUSE_IDS),
                Field("concluded_cylinders", "Cylinders", "text", per=CONCLUSIONS, help="for example 3, 4"),
                Result(
                    "page_cause",
                    "For the customer",
                    in_customer_words,
                    per=CONCLUSIONS,
                    working=True,
                    since=4,
                ),
            ),
        ),
        Table(
            "Work and parts",
            per=BILL_LINES,
            row_label="Line",
            what_to_do="A negative quantity is a credit.",
            columns=(
                Field("work", "Work done", "text", per=BILL_LINES, wide=True),
                Field("work_cause", "For which cause", "choice", per=BILL_LINES, choices=CAUSE_IDS),
                Field("part", "Part", "text", per=BILL_LINES, columns=2),
                Field("quantity", "Quantity", measure=NONE, per=BILL_LINES),
                Field("unit_price", "Price of one", "money", per=BILL_LINES),
                Field("hours", "Hours", measure=HOURS, per=BILL_LINES, low=0, high=200),
                *bill_results.LINES,
            ),
        ),
        Block(
            "Bill",
            (
                Field(
                    "invoice_number",
                    "Invoice number",
                    "text",
                    help="the shop's own; each number once",
                    since=4,
                ),
                Field("invoice_date", "Invoice date", "date", help="blank counts as the date out", since=4),
                Field("labour_rate", "Labour, an hour", "money"),
                Field("tax_percent", "Tax", measure=PERCENT, low=0, high=40),
                Field("tax_on", "Tax on", "choice", choices=("parts", "parts and labour", "nothing")),
                *bill_results.TOTALS,
                Field("paid_on", "Paid on", "date", since=4),
            ),
        ),
        Block(
            "For the customer",
            (
                Field(
                    "advice",
                    "Advice",
                    "text",
                    help="what to have done next; the customer reads it",
                    wide=True,
                    since=4,
                ),
            ),
        ),
    ),
)
