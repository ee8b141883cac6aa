"""The register's workbook: texts stay texts, and what the bookkeeper typed stays with its row."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pandas as pd
import pytest
from openpyxl import Workbook, load_workbook

from tests.support.office import Office
from tests.support.one_sheet import sheet_in
from tests.support.register_records import finding, kept, record
from workbook_tools.errors import UnusableFile
from workbook_tools.register.book import register_book
from workbook_tools.register.contents import Contents, contents_of
from workbook_tools.register.export import write_csv
from workbook_tools.register.kept import Kept as TypedBefore
from workbook_tools.register.kept import read_kept
from workbook_tools.register.records import DiscrepancyFacts
from workbook_tools.register.store import Kept, Store

HOSTILE = ("=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "http://no.example", "{=1}", "_x0041_", "a" * 3000)
POINT = DiscrepancyFacts("missing_reading", "timing", "Ignition!B7", "Take it.", "")


def contents(tmp_path: Path, jobs: Sequence[Kept], name: str = "jobs") -> Contents:
    """The contents of a store that holds those jobs and no others."""
    with Store.open(tmp_path / f"{name}.sqlite") as store:
        store.keep(jobs)
        there = {each.file.path for each in jobs}
        store.forget([path for path in store.known_files() if path not in there])
        return contents_of(store)


def write(tmp_path: Path, jobs: Sequence[Kept], out: str = "register.xlsx") -> Path:
    """Write the register anew over the one that is there; returns its path."""
    path = tmp_path / out
    made = register_book(contents(tmp_path, jobs), read_kept(path), root=tmp_path, target=path)
    path.write_bytes(made.data)
    return path


def rows(path: Path, sheet: str) -> list[dict[str, Any]]:
    """The rows of a sheet's table by heading, the row number as `row`."""
    page = load_workbook(path)[sheet]
    (table,) = page.tables.values()
    heads, *body = page[table.ref]
    names = [cell.value for cell in heads]
    return [dict(zip(names, (cell.value for cell in line), strict=True), row=line[0].row) for line in body]


def type_in(
    path: Path, sheet: str, job: str, heading: str, value: object, number_format: str | None = None
) -> None:
    """Type a value beside a job's row, as a bookkeeper does."""
    book = load_workbook(path)
    page = book[sheet]
    heads = {cell.value: cell.column for cell in page[4]}
    row = next(line[0].row for line in page.iter_rows(min_row=5) if line[heads["Job"] - 1].value == job)
    cell = page.cell(row, heads[heading], value)
    if number_format:
        cell.number_format = number_format
    book.save(path)


def test_texts_are_never_formulas_or_links(tmp_path: Path) -> None:
    """Whatever a technician typed stands as text on every sheet; the only formulas are the register's sums."""
    jobs = [
        kept(
            record(
                f"{n}",
                customer_name=text,
                vehicle=text,
                plate=f"P{n}",
                findings=[finding("late_timing", answer=text)],
            )
        )
        for n, text in enumerate(HOSTILE)
    ]
    path = write(tmp_path, jobs)
    book = load_workbook(path)
    formulas = [cell for page in book for line in page.iter_rows() for cell in line if cell.data_type == "f"]
    assert formulas and all(str(cell.value).startswith("=SUBTOTAL(") for cell in formulas)
    shown = {row["Job"]: row["Customer"] for row in rows(path, "Jobs")}
    assert [shown[f"{n}"] for n in range(8)] == list(HOSTILE[:8])


def test_amounts_and_sums(tmp_path: Path) -> None:
    """Amounts stand in whole units with the job's currency sign, and are summed where all are in one."""
    path = write(
        tmp_path,
        [
            kept(record("1", total_cents=123_456, currency="€")),
            kept(record("2", total_cents=4, currency="€")),
        ],
    )
    page = sheet_in(path, "Jobs")
    cell = next(cell for line in page.iter_rows(min_row=5) for cell in line if cell.value == 1234.56)
    assert cell.number_format == '"€"#,##0.00'
    stored = sheet_in(path, "Jobs", data_only=True)
    heads = {cell.value: cell.column for cell in stored[4]}
    assert stored.cell(3, heads["To pay"]).value == pytest.approx(1234.60)


def test_what_the_bookkeeper_typed_survives(tmp_path: Path) -> None:
    """Dates, numbers with their format and texts are beside the same job after the next run, with another order of rows."""
    jobs = [kept(record("1", discrepancies=[POINT])), kept(record("2", plate="B"))]
    path = write(tmp_path, jobs)
    type_in(path, "Jobs", "1", "Paid on", dt.datetime(2025, 4, 1), "dd.mm.yyyy")
    type_in(path, "Jobs", "2", "Filed in", 1234.5, "#,##0.000")
    type_in(path, "Jobs", "2", "Note", "'tis paid")
    type_in(path, "Open points", "1", "Note", "asked on Monday")
    later = kept(record("0", plate="C", date_in=dt.date(2030, 1, 1)))
    path = write(tmp_path, [*jobs, later])
    found = {row["Job"]: row for row in rows(path, "Jobs")}
    assert found["1"]["Paid on"] == dt.datetime(2025, 4, 1)
    assert (found["2"]["Filed in"], found["2"]["Note"]) == (1234.5, "'tis paid")
    assert rows(path, "Open points")[0]["Note"] == "asked on Monday"
    assert "Kept notes" not in load_workbook(path).sheetnames


def test_own_columns_and_rows_of_the_bookkeeper_survive(tmp_path: Path) -> None:
    """A column that the bookkeeper added, with or without a heading, and a row typed by hand are still there."""
    jobs = [kept(record("1"))]
    path = write(tmp_path, jobs)
    book = load_workbook(path)
    page = book["Jobs"]
    past = page.max_column + 1
    page.cell(4, past, "Invoice")
    page.cell(5, past, "R-17")
    page.cell(5, past + 1, "no heading")
    page.cell(9, 1, "an old job on paper")
    book.save(path)
    for _ in range(2):
        path = write(tmp_path, jobs)
    texts = {cell.value for page in load_workbook(path) for line in page.iter_rows() for cell in line}
    assert {"Invoice (yours)", "R-17", "no heading", "an old job on paper"} <= texts


@pytest.mark.parametrize(("number", "path_after"), [("1", "moved/1.xlsx"), ("1a", "1.xlsx"), ("1", "1.xlsx")])
def test_a_note_follows_a_job_that_was_moved_or_renumbered(
    tmp_path: Path, number: str, path_after: str
) -> None:
    """A note stays with a job whose file was moved, whose number was corrected, or whose content changed."""
    path = write(tmp_path, [kept(record("1")), kept(record("2", plate="B"))])
    type_in(path, "Jobs", "1", "Note", "mine")
    path = write(tmp_path, [kept(record(number, hours=9.0), path_after), kept(record("2", plate="B"))])
    assert {row["Job"]: row["Note"] for row in rows(path, "Jobs")} == {number: "mine", "2": None}


def test_notes_of_a_job_that_vanished_are_kept_and_come_back(tmp_path: Path) -> None:
    """A job that is gone leaves its notes on a sheet of their own, over several runs, until it is there again."""
    both = [kept(record("1")), kept(record("2", plate="B"))]
    path = write(tmp_path, both)
    type_in(path, "Jobs", "2", "Note", "mine")
    for _ in range(2):
        path = write(tmp_path, both[:1])
        assert [(row["Job"], row["Note"]) for row in rows(path, "Kept notes")] == [("2", "mine")]
    path = write(tmp_path, both)
    assert {row["Job"]: row["Note"] for row in rows(path, "Jobs")} == {"1": None, "2": "mine"}
    assert "Kept notes" not in load_workbook(path).sheetnames


def test_notes_of_duplicate_numbers_stay_apart(tmp_path: Path) -> None:
    """Two jobs under one number keep each its own note, by their files."""
    jobs = [kept(record("1", plate="A"), "a.xlsx"), kept(record("1", plate="B"), "b.xlsx")]
    path = write(tmp_path, jobs)
    book = load_workbook(path)
    heads = {cell.value: cell.column for cell in book["Jobs"][4]}
    for line in (5, 6):
        book["Jobs"].cell(line, heads["Note"], book["Jobs"].cell(line, heads["Plate"]).value)
    book.save(path)
    path = write(tmp_path, jobs)
    assert all(row["Note"] == row["Plate"] for row in rows(path, "Jobs"))


def test_a_workbook_that_is_no_register_is_not_written_over(tmp_path: Path) -> None:
    """A letter to the bank under the register's name is refused, as is a register with a sheet of somebody's own."""
    stranger = tmp_path / "bank.xlsx"
    Workbook().save(stranger)
    with pytest.raises(UnusableFile, match="no register"):
        read_kept(stranger)
    path = write(tmp_path, [kept(record("1"))])
    book = load_workbook(path)
    book.create_sheet("My pivot")
    book.save(path)
    with pytest.raises(UnusableFile, match="My pivot"):
        read_kept(path)


def test_links_lead_to_the_workbooks(tmp_path: Path) -> None:
    """A job's link is the way from the register to its file, with odd characters in its name; engines link to histories."""
    odd = "a b/50% off #1.xlsx"
    path = write(tmp_path, [kept(record("1", (140, 141)), odd)])
    page = sheet_in(path, "Jobs")
    (link,) = [cell.hyperlink for line in page.iter_rows() for cell in line if cell.hyperlink]
    assert unquote(link.target) == odd and "#" not in link.target
    page = sheet_in(path, "Engines")
    (link,) = [cell.hyperlink for line in page.iter_rows() for cell in line if cell.hyperlink]
    sheet, _, cell = link.location.replace("'", "").partition("!")
    assert "INV-1" in load_workbook(path)[sheet][cell].value


def test_csv_files_hold_no_formula(tmp_path: Path) -> None:
    """Texts that a spreadsheet program would run get an apostrophe; amounts, negative ones too, stay numbers."""
    jobs = [
        kept(record(f"{n}", customer_name=text, plate=f"P{n}", total_cents=-1205))
        for n, text in enumerate(HOSTILE[:5])
    ]
    found = contents(tmp_path, jobs)
    book = register_book(found, TypedBefore(), root=tmp_path, target=tmp_path / "register.xlsx")
    write_csv(found, book, tmp_path / "csv")
    read = pd.read_csv(tmp_path / "csv" / "jobs.csv", dtype=str, keep_default_na=False).sort_values(
        "job_number"
    )
    assert list(read["customer_name"]) == [f"'{text}" for text in HOSTILE[:4]] + ["'\t'=1"]
    assert set(read["total"]) == {"-12.05"}
    assert {path.name for path in (tmp_path / "csv").iterdir()} == {
        "jobs.csv",
        "invoices.csv",
        "years.csv",
        "work.csv",
        "technicians.csv",
        "open_points.csv",
        "findings.csv",
        "visits.csv",
        "months.csv",
        "causes.csv",
    }


def test_notes_survive_another_program(tmp_path: Path, office: Office) -> None:
    """A register saved by LibreOffice is still a register, and its notes are found."""
    jobs = [kept(record("1", (140, 150), discrepancies=[POINT])), kept(record("2", plate="B"))]
    path = write(tmp_path, jobs)
    type_in(path, "Jobs", "2", "Note", "mine")
    office.resave(path, tmp_path / "saved.xlsx")
    (tmp_path / "saved.xlsx").replace(path)
    path = write(tmp_path, jobs)
    assert {row["Job"]: row["Note"] for row in rows(path, "Jobs")} == {"1": None, "2": "mine"}
