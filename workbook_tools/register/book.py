"""The register as a workbook: jobs, open points, money, findings, engines with their histories, causes, and kept notes.

register_book(contents, kept, root, target)     the file's bytes
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

import pandas as pd
from xlsxwriter.workbook import Workbook

from workbook_tools.faults.causes import CAUSES
from workbook_tools.generate.sheet_writer import checked
from workbook_tools.generate.styles import DATE_FORMAT, FONT, SIZE, Styles
from workbook_tools.language.model import Shape
from workbook_tools.register import columns
from workbook_tools.register.bills import Bills, bills_of
from workbook_tools.register.columns import PAID_ON
from workbook_tools.register.contents import Contents
from workbook_tools.register.engines import COMPRESSION, History
from workbook_tools.register.histories import HISTORIES, HistoryWriter
from workbook_tools.register.kept import (
    REGISTER_MARK,
    REGISTER_VERSION_MARK,
    JobKey,
    Kept,
    Row,
    Typed,
    job_key,
    key_in_words,
)
from workbook_tools.register.months_chart import add_months_chart
from workbook_tools.register.points import BACKWARDS, FALLING, points_of_bills
from workbook_tools.register.records import PROVEN
from workbook_tools.register.tables import Cells, TableWriter
from workbook_tools.register.trend import outlooks
from workbook_tools.science.engine_geometry import default_banks

JOBS, POINTS, INVOICES, FINDINGS, ENGINES, MONTHS, YEARS, WORK, TECHNICIANS, CAUSES_SHEET, LEFT_OVER = (
    "Jobs",
    "Open points",
    "Invoices",
    "Findings",
    "Engines",
    "Months",
    "Years",
    "Work",
    "Technicians",
    "Causes",
    "Kept notes",
)
#: The register's own sheets: another one in it is somebody's, and the register is then not written over.
OWN_SHEETS = (
    *(JOBS, POINTS, INVOICES, FINDINGS, ENGINES, HISTORIES),
    *(MONTHS, YEARS, WORK, TECHNICIANS, CAUSES_SHEET, LEFT_OVER),
)
Rows = list[dict[str, Any]]


@dataclass(frozen=True)
class RegisterBook:
    """The workbook's bytes, and how many rows have notes of the bookkeeper's that belong to no row any more."""

    data: bytes
    notes_kept: int
    bills: Bills
    points: pd.DataFrame
    #: What the bookkeeper typed of payments, by shop and content.
    paid: Mapping[tuple[str, str], object]


def register_book(
    contents: Contents, kept: Kept, *, root: Path, target: Path, today: dt.date | None = None
) -> RegisterBook:
    """Write the register; what the bookkeeper typed stands where it belongs, the rest on a sheet of its own."""
    memory = BytesIO()
    default_format = {"font_name": FONT, "font_size": SIZE}
    book = Workbook(memory, {"in_memory": True, "default_format_properties": default_format})
    book.set_properties({"title": "Register of engine checks"})
    checked(book.set_custom_property(REGISTER_MARK, ", ".join(OWN_SHEETS)), "the register's mark")
    version = columns.REGISTER_VERSION
    checked(book.set_custom_property(REGISTER_VERSION_MARK, version), "the register's version")
    styles = Styles(book, Shape(4, default_banks(4)))
    writer = TableWriter(book, styles, root, target, contents.currencies)
    own_headings = kept.headings
    pages = {name: book.add_worksheet(name) for name in OWN_SHEETS[:-1]}
    typed = typed_beside_jobs(contents, kept)
    paid = paid_by_hand(typed)
    bills = bills_of(contents.jobs, contents.lines, paid, today or dt.date.today())
    every_point = pd.concat([points_of_bills(bills.invoices), contents.points], ignore_index=True)
    points = point_rows(every_point, contents.own_shop, kept)
    jobs = job_rows(contents, every_point, typed)
    histories = HistoryWriter(book, pages[HISTORIES], styles)
    anchors = histories.write(contents.engines, falling_engines(contents))
    shop = (columns.SHOP,) if contents.several_shops else ()
    writer.write(pages[JOBS], _jobs(jobs, own_headings, shop))
    writer.write(pages[POINTS], _points(points, shop))
    writer.write(pages[INVOICES], _invoices(bills, contents.own_shop, shop))
    writer.write(pages[FINDINGS], _findings(contents, shop))
    writer.write(pages[ENGINES], _engines(contents, anchors, shop))
    writer.write(pages[MONTHS], _months(bills))
    add_months_chart(book, pages[MONTHS], bills.months)
    writer.write(pages[YEARS], _years(bills))
    writer.write(pages[WORK], _work(bills))
    writer.write(pages[TECHNICIANS], _technicians(bills))
    writer.write(pages[CAUSES_SHEET], _causes(contents))
    left_over = left_over_rows(kept)
    if left_over:
        writer.write(book.add_worksheet(LEFT_OVER), _left_over(left_over, own_headings))
    book.close()
    return RegisterBook(memory.getvalue(), len(left_over), bills, every_point, paid)


# --- rows ------------------------------------------------------------------------------------------------------------


def typed_beside_jobs(contents: Contents, kept: Kept) -> dict[tuple[str, str], Row]:
    """What the bookkeeper typed beside each job, by shop and content."""
    keys = job_keys(contents)
    matched = kept.match_jobs(keys)
    contents_keys = zip(contents.jobs["shop"], contents.jobs["sha256"], strict=True)
    return {content: matched.get(key, {}) for content, key in zip(contents_keys, keys, strict=True)}


def job_keys(contents: Contents) -> list[JobKey]:
    """Shop, number and path of each job: what a row of sheet Jobs is known by."""
    jobs = contents.jobs
    return list(zip(jobs["shop"], jobs["job_number"], jobs["path"], strict=True))


def paid_by_hand(typed: Mapping[tuple[str, str], Row]) -> dict[tuple[str, str], object]:
    """What stands in the bookkeeper's column of payments: days, or words that are none."""
    found: dict[tuple[str, str], object] = {}
    for key, row in typed.items():
        value = row[PAID_ON].value if PAID_ON in row else None
        if value not in (None, ""):
            found[key] = value.date() if isinstance(value, dt.datetime) else value
    return found


def job_rows(contents: Contents, points: pd.DataFrame, typed: Mapping[tuple[str, str], Row]) -> Rows:
    """Jobs as rows, each with what the bookkeeper typed beside it.

    A payment that stands on the form alone is shown in the bookkeeper's column, and known again by what stands beside it.
    """
    rows = _linked(contents.jobs, contents.own_shop)
    counts = points.groupby(["shop", "path"]).size().to_dict() if len(points) else {}
    for row in rows:
        named = (row["vehicle"], row["engine_name"] or row["engine_serial"])
        row["engine"] = ", ".join(part for part in dict.fromkeys(named) if part)
        row["open_points"] = counts.get((row["shop"], row["path"]), 0)
        row["key"] = job_key(row["shop"], row["job_number"], row["path"])
        if row["paid_on"] is not None:
            row["paid_in_form"] = row["paid_on"].isoformat()
            row[PAID_ON] = Typed(row["paid_on"], DATE_FORMAT)
        row |= typed[row["shop"], row["sha256"]]
    return rows


def point_rows(points: pd.DataFrame, own_shop: str, kept: Kept) -> Rows:
    """Open points as rows with the notes beside them."""
    rows = _linked(points, own_shop)
    for row in rows:
        row |= kept.take(row["key"])
    return rows


def engine_rows(contents: Contents, anchors: Mapping[str, str]) -> Rows:
    """Engines as rows: what they are, when they were seen, their lowest cylinder and how compression changes."""
    worries = _worries(contents)
    return [
        _engine_row(engine) | {"look": worries.get(engine.key, ""), "history": anchors.get(engine.key)}
        for engine in contents.engines
    ]


def _engine_row(engine: History) -> dict[str, Any]:
    last = engine.visits[-1]
    read = [visit for visit in engine.visits if visit.odometer is not None]
    gauged = {
        slot[1]: last_reading
        for slot in engine.slots
        if slot[0] == COMPRESSION and (last_reading := _left(engine, slot))
    }
    lowest = min(gauged, key=lambda cylinder: gauged[cylinder], default=None)
    rates = {slot: engine.rate(slot) for slot in engine.slots if slot[0] == COMPRESSION}
    known = [rate for rate in rates.values() if rate is not None]
    return {
        "shop": engine.shop,
        "vehicle": engine.vehicle,
        "plate": engine.plate,
        "engine_serial": engine.engine_serial,
        "engine_name": engine.engine_name,
        "customer": engine.customer,
        "visits": len(engine.visits),
        "first": engine.visits[0].date_in,
        "last": last.date_in,
        "odometer": read[-1].odometer if read else None,
        "distance_unit": engine.distance_unit if read else "",
        "lowest": gauged[lowest] if lowest is not None else None,
        "lowest_cylinder": lowest,
        "compression_unit": engine.units[COMPRESSION] if gauged else "",
        "change": sum(known) / len(known) if known else None,
        "per": f"{engine.units[COMPRESSION]} {engine.per}" if known else "",
        "outlook": next((each.words for each in outlooks(engine)), ""),
    }


def _left(engine: History, slot: tuple[str, int]) -> float | None:
    """The newest reading of a slot, as the engine was left."""
    having = [visit.readings[slot].left_as for visit in engine.visits if slot in visit.readings]
    return having[-1] if having else None


def _worries(contents: Contents) -> dict[str, str]:
    """What the register reports of an engine, in few words, by its key."""
    kinds = {FALLING: "compression falls faster", BACKWARDS: "odometer runs backwards"}
    by_path: dict[tuple[str, str], list[str]] = {}
    for row in _records(contents.points):
        if row["kind"] in kinds:
            by_path.setdefault((row["shop"], row["path"]), []).append(kinds[row["kind"]])
    found = {}
    for engine in contents.engines:
        words = [word for visit in engine.visits for word in by_path.get((visit.shop, visit.path), [])]
        if words:
            found[engine.key] = "; ".join(dict.fromkeys(words))
    return found


def falling_engines(contents: Contents) -> frozenset[str]:
    """Keys of the engines that the register reports."""
    return frozenset(_worries(contents))


def left_over_rows(kept: Kept) -> Rows:
    """Notes that belong to no row any more."""
    rows = []
    for key, typed in kept.rows.items():
        number, where = key_in_words(key)
        rows.append({"job_number": number, "path": where, "key": key, **typed})
    return rows


def _linked(frame: pd.DataFrame, own_shop: str) -> Rows:
    """A frame's rows; those of other shops have their workbooks elsewhere, where no link from here leads."""
    rows = _records(frame)
    for row in rows:
        row["elsewhere"] = row["shop"] != own_shop
    return rows


def _records(frame: pd.DataFrame) -> Rows:
    """A frame's rows, missing values as None."""
    plain = frame.astype(object)
    plain = plain.where(plain.notna(), None)
    return plain.to_dict("records")  # type: ignore[return-value]


# --- sheets ----------------------------------------------------------------------------------------------------------


def _jobs(rows: Rows, own_headings: list[str], shop: tuple[columns.Column, ...]) -> Cells:
    paid, *own = columns.own_columns(own_headings)
    purpose = "Every job, newest first. The pale blue columns are yours and are kept; all else is written anew each time."
    first, *others = columns.JOBS_FIRST
    table = (first, *shop, *others, paid, *columns.JOBS, *own, columns.PAID_IN_FORM, columns.KEY)
    return Cells(JOBS, purpose, table, rows, summed=True, frozen_columns=1)


def _invoices(bills: Bills, own_shop: str, shop: tuple[columns.Column, ...]) -> Cells:
    purpose = (
        "Every bill of an engine that left, newest first. Paid is what has a day on the form or in your column on sheet Jobs; "
        "days open are as of the day on which this was written."
    )
    return Cells(
        INVOICES, purpose, (*shop, *columns.INVOICES), _linked(bills.invoices, own_shop), summed=True
    )


def _points(rows: Rows, shop: tuple[columns.Column, ...]) -> Cells:
    purpose = "What is unanswered or unproven, and what can't be right between jobs. Answer it in the job's workbook; the note is yours."
    return Cells(POINTS, purpose, (*shop, *columns.POINTS, *columns.POINT_OWN, columns.KEY), rows)


def _findings(contents: Contents, shop: tuple[columns.Column, ...]) -> Cells:
    rows = _linked(contents.findings, contents.own_shop)
    for row in rows:
        row["named"] = CAUSES[row["cause"]].shown_as if row["cause"] in CAUSES else row["cause"]
        row["sure"] = row["strength"] + (", provisional" if row["provisional"] else "")
    return Cells(
        FINDINGS, "Every fault found, job by job, and how sure it is.", (*shop, *columns.FINDINGS), rows
    )


def _engines(contents: Contents, anchors: Mapping[str, str], shop: tuple[columns.Column, ...]) -> Cells:
    purpose = (
        "Every engine with its visits; change is what the cylinders lost (-) between leaving and coming back, on average. "
        "The link leads to its history."
    )
    return Cells(ENGINES, purpose, (*shop, *columns.ENGINES), engine_rows(contents, anchors))


def _months(bills: Bills) -> Cells:
    purpose = "By the month of the invoice, else of the day on which the engine left."
    return Cells(MONTHS, purpose, columns.MONTHS, _records(bills.months), summed=True)


def _years(bills: Bills) -> Cells:
    purpose = "By the year of the invoice, else of the day on which the engine left."
    return Cells(YEARS, purpose, columns.YEARS, _records(bills.years), summed=True)


def _work(bills: Bills) -> Cells:
    purpose = "By the cause that each line of the bills was for; a job counts once for each of its causes."
    return Cells(WORK, purpose, columns.WORK, _records(bills.causes), summed=True, frozen_columns=2)


def _technicians(bills: Bills) -> Cells:
    purpose = "By year and by the technician whose name stands on sheet Job."
    return Cells(
        TECHNICIANS, purpose, columns.TECHNICIANS, _records(bills.technicians), summed=True, frozen_columns=2
    )


def _causes(contents: Contents) -> Cells:
    rows = _records(contents.causes)
    for row in rows:
        row["share_proven"] = row[PROVEN] / row["repaired"] if row["repaired"] else None
    purpose = "How often each cause was found and repaired, and how often a reading proved the repair. One job counts once."
    return Cells(CAUSES_SHEET, purpose, columns.CAUSES, rows)


def _left_over(rows: Sequence[dict[str, Any]], own_headings: list[str]) -> Cells:
    purpose = "What you typed beside rows that are no longer in the register. It goes back when the job does; delete what is done with."
    own = columns.own_columns(own_headings)
    return Cells(LEFT_OVER, purpose, (*columns.LEFT_OVER, *own, columns.KEY), rows)
