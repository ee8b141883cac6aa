"""The register as plain tables: CSV files in UTF-8 that a spreadsheet program opens as they are meant.

A text that begins with `=`, `+`, `-`, `@` (wide ones too), a tab or the end of a line would be run as a formula there; and
so would the rest of a text after a comma, semicolon, tab, upright stroke or line end, where a program takes that for the
end of a cell. Such a beginning gets an apostrophe before it, and so does one that is an apostrophe: `plain_again` takes
one off each, and has the text as it was typed. Numbers are untouched. Amounts of money have two decimals.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pandas as pd

from workbook_tools.checking.check import make_folder
from workbook_tools.package.safe_write import replace_file
from workbook_tools.register.bills import Bills
from workbook_tools.register.book import RegisterBook
from workbook_tools.register.contents import Contents
from workbook_tools.register.engines import History

#: What a program may take for the end of a cell; a space too, before a sign of equality that something follows.
ENDS_A_CELL = ",;\t|\r\n\v\f\x1c-\x1e\x85\u2028\u2029\uff0c\uff1b"
#: Spaces, quotes and marks that are not seen may come before; spreadsheet programs look past them.
LOOKED_PAST = '\\s"\u200b-\u200f\u202a-\u202e\u2060\u2066-\u2069\ufeff'
RUNS = f"[{LOOKED_PAST}]*[=+@\uff1d\uff0b\uff0d\uff20-]"
#: The empty places before which an apostrophe goes.
DANGEROUS = re.compile(rf"\A(?={RUNS}|[\t\r\n'])|(?<=[{ENDS_A_CELL}])(?={RUNS}|')|(?<= )(?='*=\S)")
MARKED = re.compile(rf"\A'|(?<=[{ENDS_A_CELL}])'|(?<= )'(?='*=\S)")
#: Columns of the store that say nothing outside it.
INTERNAL = ["sha256", "typed_digest", "judged_by", "modified_ns", "place", "from_register"]


def write_csv(contents: Contents, book: RegisterBook, folder: Path) -> list[Path]:
    """Write jobs, invoices, open points, findings, visits, months, years and causes; returns their paths."""
    make_folder(folder)
    frames = {
        "jobs": contents.jobs,
        "invoices": invoices_frame(book.bills),
        "open_points": book.points,
        "findings": contents.findings,
        "visits": visits_frame(contents.engines),
        "months": book.bills.months,
        "years": book.bills.years,
        "work": book.bills.causes,
        "technicians": book.bills.technicians,
        "causes": contents.causes,
    }
    written = []
    for name, frame in frames.items():
        path = folder / f"{name}.csv"
        text = as_plain(frame).to_csv(index=False, lineterminator="\r\n")
        replace_file(path, text.encode("utf-8-sig"))
        written.append(path)
    return written


def as_plain(frame: pd.DataFrame) -> pd.DataFrame:
    """A frame for export: no internal columns, money in whole units, no text that a program would run."""
    plain = frame.drop(columns=[name for name in INTERNAL if name in frame]).copy()
    for name in [each for each in plain.columns if each.endswith("_cents")]:
        plain[name] = [_with_decimals(int(cents)) for cents in plain[name]]
    for name in [each for each in plain.columns if not each.endswith("_cents")]:
        plain[name] = [harmless(value) for value in plain[name]]
    plain = plain.rename(columns=lambda name: name.removesuffix("_cents"))
    return plain


def _with_decimals(cents: int) -> str:
    return f"{'-' if cents < 0 else ''}{abs(cents) // 100}.{abs(cents) % 100:02d}"


def harmless(value: Any) -> Any:
    """A text of which no spreadsheet program takes a part for a formula, whatever it ends cells at; anything else as it is."""
    return DANGEROUS.sub("'", value) if isinstance(value, str) else value


def plain_again(text: str) -> str:
    """The text that `harmless` was given."""
    return MARKED.sub("", text)


def invoices_frame(bills: Bills) -> pd.DataFrame:
    """One invoice a row, in the plain layout that the import of an accounting program can be told of."""
    names = {
        "shop": "shop",
        "invoice_number": "number",
        "billed_on": "date",
        "customer_name": "customer",
        "net_cents": "net_cents",
        "tax_percent": "tax_rate",
        "tax_cents": "tax_cents",
        "total_cents": "gross_cents",
        "currency": "currency",
        "paid_on": "paid_on",
        "job_number": "job_number",
        "path": "file",
    }
    return bills.invoices[list(names)].rename(columns=names)


def visits_frame(engines: list[History]) -> pd.DataFrame:
    """Every reading of every visit, one a row."""
    rows = [
        {
            "shop": engine.shop,
            "vehicle": engine.vehicle,
            "plate": engine.plate,
            "engine_serial": engine.engine_serial,
            "engine_name": engine.engine_name,
            "job_number": visit.job_number,
            "date_in": visit.date_in,
            "odometer": visit.odometer,
            "odometer_unit": engine.distance_unit,
            "reading": name,
            "cylinder": number or None,
            "as_found": reading.found,
            "as_left": reading.left_as,
            "unit": engine.units[name],
        }
        for engine in engines
        for visit in engine.visits
        for (name, number), reading in visit.readings.items()
    ]
    columns = (
        "shop vehicle plate engine_serial engine_name job_number date_in odometer odometer_unit reading cylinder as_found "
        "as_left unit"
    ).split()
    return pd.DataFrame(rows, columns=columns)
