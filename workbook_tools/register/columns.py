"""The columns of the register's tables: heading, width, what kind of cell, and where the value is found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

KEY_HEADING = "Register key"
#: Columns set aside for the bookkeeper on sheet Jobs; sheet Open points has the last one.
PAID_ON, FILED_IN, NOTE = "Paid on", "Filed in", "Note"
OWN_HEADINGS = (PAID_ON, FILED_IN, NOTE)

CellKind = Literal[
    "text",
    "wrapped",
    "date",
    "number",
    "plain",
    "whole",
    "hours",
    "money",
    "percent",
    "link",
    "place",
    "key",
    "own",
]


@dataclass(frozen=True)
class Column:
    """One column: its heading, the frame's column that fills it, its kind and width in characters."""

    heading: str
    source: str
    kind: CellKind = "text"
    width: float = 12


SHOP = Column("Shop", "shop", width=12)
KEY = Column(KEY_HEADING, "key", "key", 8)
OWN = {
    PAID_ON: Column(PAID_ON, PAID_ON, "own", 12),
    FILED_IN: Column(FILED_IN, FILED_IN, "own", 14),
    NOTE: Column(NOTE, NOTE, "own", 32),
}

#: On the first screen of a laptop: whose engine, what was found, what is to be paid, and whether it was.
JOBS_FIRST = (
    Column("Job", "job_number", width=11),
    Column("Date in", "date_in", "date", 11),
    Column("Customer", "customer_name", "wrapped", 20),
    Column("Engine", "engine", "wrapped", 24),
    Column("Finding", "headline", "wrapped", 38),
    Column("To pay", "total_cents", "money", 12),
)
JOBS = (
    Column("Invoice", "invoice_number", width=12),
    Column("Date out", "date_out", "date", 11),
    Column("Plate", "plate", width=11),
    Column("Complaint", "complaint", "wrapped", 14),
    Column("Repair", "repair", "wrapped", 30),
    Column("Repair proven", "proof", "wrapped", 13),
    Column("Parts", "parts_cents", "money", 11),
    Column("Labour", "labour_cents", "money", 11),
    Column("Tax", "tax_cents", "money", 10),
    Column("Open points", "open_points", "whole", 8),
    Column("Workbook", "path", "link", 26),
    Column("File missing since", "missing_since", "date", 12),
)
#: What a form says of the payment: not shown, and what the bookkeeper's column is held against.
PAID_IN_FORM = Column("Paid on, from the workbook", "paid_in_form", "key", 8)
INVOICES = (
    Column("Invoice", "invoice_number", width=14),
    Column("Date", "billed_on", "date", 11),
    Column("Customer", "customer_name", "wrapped", 26),
    Column("Net", "net_cents", "money", 13),
    Column("Tax, %", "tax_percent", "plain", 8),
    Column("Tax", "tax_cents", "money", 12),
    Column("Gross", "total_cents", "money", 13),
    Column("Paid on", "paid_on", "date", 12),
    Column("Still to pay", "open_cents", "money", 13),
    Column("Days open", "days_open", "whole", 8),
    Column("Job", "job_number", width=11),
    Column("Workbook", "path", "link", 26),
)
POINTS = (
    Column("Job", "job_number", width=11),
    Column("Date in", "date_in", "date", 11),
    Column("Customer", "customer_name", "wrapped", 20),
    Column("Vehicle or machine", "vehicle", "wrapped", 20),
    Column("Kind", "kind", "wrapped", 20),
    Column("What is open", "what", "wrapped", 76),
    Column("Where", "cell", "place", 18),
    Column("Workbook", "path", "link", 26),
)
FINDINGS = (
    Column("Job", "job_number", width=11),
    Column("Date in", "date_in", "date", 11),
    Column("Vehicle or machine", "vehicle", "wrapped", 20),
    Column("System", "system", width=13),
    Column("Cause", "named", "wrapped", 26),
    Column("Cylinders", "cylinders", width=10),
    Column("How sure", "sure", "wrapped", 13),
    Column("What was found", "statement", "wrapped", 56),
    Column("Next step", "next_step", "wrapped", 36),
    Column("Answer", "answer", "wrapped", 24),
    Column("Workbook", "path", "link", 26),
)
ENGINES = (
    Column("Vehicle or machine", "vehicle", "wrapped", 22),
    Column("Plate", "plate", width=12),
    Column("Engine serial", "engine_serial", "wrapped", 15),
    Column("Engine", "engine_name", "wrapped", 18),
    Column("Customer", "customer", "wrapped", 20),
    Column("Visits", "visits", "whole", 7),
    Column("First", "first", "date", 11),
    Column("Last", "last", "date", 11),
    Column("Odometer", "odometer", "whole", 10),
    Column("Unit", "distance_unit", width=5),
    Column("Lowest compression", "lowest", "whole", 13),
    Column("In cylinder", "lowest_cylinder", "whole", 9),
    Column("Unit of it", "compression_unit", width=7),
    Column("Change", "change", "number", 9),
    Column("Change is", "per", width=14),
    Column("Look at", "look", "wrapped", 24),
    Column("Outlook", "outlook", "wrapped", 34),
    Column("History", "history", "link", 11),
)
SUMS = (
    Column("Jobs", "jobs", "whole", 9),
    Column("Hours", "hours", "hours", 10),
    Column("Parts", "parts_cents", "money", 14),
    Column("Labour", "labour_cents", "money", 14),
    Column("Net", "net_cents", "money", 14),
    Column("Tax", "tax_cents", "money", 14),
    Column("Gross", "total_cents", "money", 14),
    Column("Paid", "paid_cents", "money", 14),
    Column("Still to pay", "open_cents", "money", 14),
)
MONTHS = (Column("Month", "month", width=14), *SUMS)
YEARS = (Column("Year", "year", width=14), *SUMS)
TECHNICIANS = (Column("Year", "year", width=14), Column("Technician", "technician", "wrapped", 24), *SUMS)
WORK = (
    Column("Year", "year", width=14),
    Column("For which cause", "named", "wrapped", 40),
    *(
        column
        for column in SUMS
        if column.source in ("jobs", "hours", "parts_cents", "labour_cents", "net_cents")
    ),
)
CAUSES = (
    Column("Cause", "named", "wrapped", 40),
    Column("System", "system", width=14),
    Column("Jobs with it", "found", "whole", 10),
    Column("Confirmed", "confirmed", "whole", 11),
    Column("Indicated", "indicated", "whole", 11),
    Column("Possible", "possible", "whole", 11),
    Column("Repaired", "repaired", "whole", 10),
    Column("Proven", "proven", "whole", 10),
    Column("Not proven", "not proven", "whole", 10),
    Column("Not taken again", "not taken again", "whole", 10),
    Column("Can't be proven on the form", "can't be proven on the form", "whole", 13),
    Column("Share proven", "share_proven", "percent", 10),
    Column("Proven, by complaint", "by_complaint", "wrapped", 34),
)
LEFT_OVER = (
    Column("Job", "job_number", width=12),
    Column("Was in", "path", "wrapped", 40),
)

_TABLES = (
    *(
        JOBS_FIRST,
        JOBS,
        INVOICES,
        POINTS,
        FINDINGS,
        ENGINES,
        MONTHS,
        YEARS,
        TECHNICIANS,
        WORK,
        CAUSES,
        LEFT_OVER,
    ),
    (SHOP, KEY, PAID_IN_FORM),
)
#: Headings that the register writes; every other heading is the bookkeeper's.
REGISTER_HEADINGS = frozenset(column.heading for columns in _TABLES for column in columns) - set(OWN_HEADINGS)
#: What registers of the first version wrote; a column of the bookkeeper's may have a heading that came later.
_FIRST_HEADINGS = (
    "Answer|Can't be proven on the form|Cause|Change|Change "
    "is|Complaint|Confirmed|Customer|Cylinders|Date in|Date out|Engine|Engine "
    "serial|Finding|First|History|Hours|How sure|In cylinder|Indicated|Job|Jobs|Jobs with "
    "it|Kind|Labour|Last|Look at|Lowest compression|Month|Next step|Not proven|Not taken "
    "again|Odometer|Open points|Parts|Plate|Possible|Proven|Proven, by complaint|Register "
    "key|Repair|Repair proven|Repaired|Share proven|Shop|System|Tax|Total|Unit|Unit of it|Vehicle or "
    "machine|Visits|Was in|What is open|What was found|Where|Workbook"
)
#: Of this version is what is written now; raise it with every heading that is added, and note those from before.
REGISTER_VERSION = 2
HEADINGS_OF = {1: frozenset(_FIRST_HEADINGS.split("|")), REGISTER_VERSION: REGISTER_HEADINGS}


def own_columns(headings: list[str]) -> tuple[Column, ...]:
    """The bookkeeper's columns by heading; one that is also a heading of the register's is told from it."""
    return tuple(OWN.get(heading) or Column(_told_apart(heading), heading, "own", 16) for heading in headings)


def _told_apart(heading: str) -> str:
    ours = {each.casefold() for each in REGISTER_HEADINGS}
    return f"{heading} (yours)" if heading.casefold() in ours else heading


POINT_OWN = (OWN[NOTE],)
