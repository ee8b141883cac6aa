"""The life of a shop in a few calls: specs book, forms from it, a folder checked, the register."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.support.one_sheet import sheet_in
from workbook_tools import check_workbook, fill_workbook, new_workbook
from workbook_tools.commands.program import main
from workbook_tools.commands.sample_jobs import filled_workbooks
from workbook_tools.read.workbook import read_workbook
from workbook_tools.register.records import is_blank
from workbook_tools.specs.book import read_specs

ENGINE = {
    "engine_name": "Invented pump four",
    "cylinder_count": 4,
    "cylinder_banks": "1-2-3-4",
    "firing_order": "1-3-4-2",
    "spec_compression_min": 115,
    "spec_idle_speed_min": 600,
    "spec_idle_speed_max": 700,
    "spec_source": "Invented figures",
}


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """A specs book with one invented engine, typed in as a shop would."""
    path = tmp_path / "engines.xlsx"
    assert main(["specs", str(path)]) == 0
    typed = load_workbook(path)
    sheet = typed.worksheets[0]
    heads = {
        cell.value: cell.column for row in sheet.iter_rows() for cell in row if isinstance(cell.value, str)
    }
    table = next(iter(sheet.tables.values()))
    first = int("".join(c for c in table.ref.split(":")[0] if c.isdigit())) + 1
    from workbook_tools.specs.book import spec_columns

    for column in spec_columns():
        if column.name in ENGINE:
            sheet.cell(first, heads[column.head("us")]).value = ENGINE[column.name]
    typed.save(path)
    return path


def test_a_form_comes_from_the_specs_book(book: Path, tmp_path: Path) -> None:
    """The engine's figures stand in a form made from the book; an engine that is not in it gets near names."""
    assert read_specs(book).engine("invented pump FOUR").cylinders == 4
    assert (
        main(["new", str(tmp_path / "job.xlsx"), "--engine", "Invented pump four", "--specs", str(book)]) == 0
    )
    form = load_workbook(tmp_path / "job.xlsx")
    sheet, address = form.defined_names["spec_compression_min"].attr_text.replace("$", "").split("!")
    assert form[sheet.strip("'")][address].value == 115


def test_an_unknown_engine_gets_near_names(book: Path, tmp_path: Path, capsys) -> None:  # noqa: ANN001
    """A slip in the engine's name is answered with the names that are like it."""
    assert (
        main(["new", str(tmp_path / "job.xlsx"), "--engine", "Invented pmp four", "--specs", str(book)]) == 2
    )
    assert "Invented pump four" in capsys.readouterr().err
    assert not (tmp_path / "job.xlsx").exists()


def test_a_limit_that_differs_from_the_book_is_reported(book: Path, tmp_path: Path) -> None:
    """A figure changed on sheet Engine is a limit_changed at its cell, with both figures."""
    main(["new", str(tmp_path / "form.xlsx"), "--engine", "Invented pump four", "--specs", str(book)])
    fill_workbook(tmp_path / "form.xlsx", {"spec_compression_min": 100}, tmp_path / "job.xlsx")
    checked = check_workbook(tmp_path / "job.xlsx", write=False, specs=book)
    changed = [each for each in checked.diagnosis.discrepancies if each.kind == "limit_changed"]
    assert [each.field for each in changed] == ["spec_compression_min"]
    assert "100" in changed[0].found and "115" in changed[0].expected


def copy_samples(folder: Path) -> list[Path]:
    """Two sample jobs, one in a folder of its own."""
    jobs = filled_workbooks()[:2]
    (folder / "deeper").mkdir(parents=True)
    return [
        Path(shutil.copy(jobs[0], folder / jobs[0].name)),
        Path(shutil.copy(jobs[1], folder / "deeper" / jobs[1].name)),
    ]


def test_a_folder_is_checked_and_left_alone_the_second_time(tmp_path: Path, capsys) -> None:  # noqa: ANN001
    """All jobs below a folder get their findings; unchanged ones keep every byte at the next check."""
    jobs = copy_samples(tmp_path / "jobs")
    (tmp_path / "jobs" / "notes.txt").write_text("no workbook")
    assert main(["check", str(tmp_path / "jobs"), "--jobs", "1"]) == 0
    assert all("Findings" in load_workbook(job).sheetnames for job in jobs)
    before = [job.read_bytes() for job in jobs]
    assert main(["check", str(tmp_path / "jobs"), "--jobs", "1"]) == 0
    assert [job.read_bytes() for job in jobs] == before


def test_two_processes_check_as_one_does(tmp_path: Path) -> None:
    """With two jobs at a time the same files get their findings, and one bad file stops nothing."""
    jobs = copy_samples(tmp_path / "jobs")
    (tmp_path / "jobs" / "bad.xlsx").write_bytes(b"PK broken")
    assert main(["check", str(tmp_path / "jobs"), "--jobs", "2"]) == 2
    assert all("Findings" in load_workbook(job).sheetnames for job in jobs)


def test_the_register_lists_each_job_once_and_keeps_notes(tmp_path: Path, capsys) -> None:  # noqa: ANN001
    """Each job is one row; what the bookkeeper typed survives the next run; a known job is not read again."""
    copy_samples(tmp_path / "jobs")
    register = tmp_path / "register.xlsx"
    assert main(["register", str(tmp_path / "jobs"), "--out", str(register)]) == 0
    assert "2 jobs" in capsys.readouterr().err
    book = load_workbook(register)
    sheet = book["Jobs"]
    cells = {cell.value: cell for row in sheet.iter_rows() for cell in row if isinstance(cell.value, str)}
    note = next(cell for text, cell in cells.items() if text.lower() == "note")
    numbers = [cell.row for text, cell in cells.items() if text in ("S-101", "S-102")]
    assert len(numbers) == 2
    sheet.cell(min(numbers), note.column).value = "=paid in cash"
    sheet.cell(min(numbers), note.column).data_type = "s"
    book.save(register)
    assert main(["register", str(tmp_path / "jobs"), "--out", str(register)]) == 0
    assert "0 workbooks read" in capsys.readouterr().err
    again = sheet_in(register, "Jobs")
    assert [cell.value for row in again.iter_rows() for cell in row if cell.value == "=paid in cash"]


def test_a_number_used_twice_is_reported(tmp_path: Path, capsys) -> None:  # noqa: ANN001
    """Two different jobs under one number are both kept, and the number is said to be used twice."""
    jobs = copy_samples(tmp_path / "jobs")
    fill_workbook(jobs[1], {"job_number": "S-101"}, tmp_path / "jobs" / "other.xlsx")
    jobs[1].unlink()
    main(["register", str(tmp_path / "jobs"), "--out", str(tmp_path / "register.xlsx")])
    book = load_workbook(tmp_path / "register.xlsx")
    texts = [
        str(cell.value) for row in book["Open points"].iter_rows() for cell in row if cell.value is not None
    ]
    assert any("S-101" in text and ("twice" in text or "another" in text or "too" in text) for text in texts)


# --- the shop's own data ---------------------------------------------------------------------------------------------

SHOP = {
    "shop_name": "Invented Motor Works",
    "shop_address": "1 Nowhere Lane\nInventham",
    "shop_contact": "none given",
    "shop_tax_number": "INV-0000",
    "labour_rate": 58.5,
    "tax_percent": 8.25,
    "tax_on": "parts",
    "site_elevation": 1200,
    "bill_note": "Invented scenario: nothing is to be paid.",
    "currency": "EUR",
}


def with_shop(path: Path, **changed: object) -> Path:
    """A book whose sheet Shop is filled in as a person would."""
    typed = load_workbook(path)
    for name, value in {**SHOP, **changed}.items():
        title, address = typed.defined_names[f"shop_sheet_{name}"].attr_text.replace("$", "").split("!")
        typed[title.strip("'")][address] = value
    typed.save(path)
    return path


def entries_of(form: Path) -> dict[str, object]:
    found = read_workbook(form)
    return {name: entry.value for name, entry in found.entries.items() if entry.value is not None}


def test_the_shop_is_written_once(book: Path, tmp_path: Path) -> None:
    """Every form made with the book has the shop's data, with an engine of the book or without; the command line goes first."""
    with_shop(book)
    form = tmp_path / "with.xlsx"
    assert main(["new", str(form), "--specs", str(book), "--engine", "Invented pump four"]) == 0
    told = entries_of(form)
    assert {name: told[name] for name in SHOP if name != "currency"} == {
        name: value for name, value in SHOP.items() if name != "currency"
    }
    assert read_workbook(form).shape.currency == "EUR"
    without = tmp_path / "without.xlsx"
    options = ["--specs", str(book), "--cylinders", "2", "--currency", "$", "--units", "metric"]
    assert main(["new", str(without), *options]) == 0
    there = read_workbook(without)
    assert (there.shape.cylinders, there.shape.units, there.shape.currency) == (2, "metric", "$")
    # 1 ft = 0.3048 m exactly (international yard and pound agreement, 1959)
    assert there.entries["site_elevation"].value == pytest.approx(1200 * 0.3048, abs=0.06)


def test_python_makes_the_same_form_as_the_command(book: Path, tmp_path: Path) -> None:
    with_shop(book)
    main(
        [
            "new",
            str(tmp_path / "a.xlsx"),
            "--specs",
            str(book),
            "--engine",
            "Invented pump four",
            "--job",
            "7",
        ]
    )
    new_workbook(tmp_path / "b.xlsx", specs=book, engine="Invented pump four", job_number="7")
    assert (tmp_path / "a.xlsx").read_bytes() == (tmp_path / "b.xlsx").read_bytes()


def test_the_example_is_never_taken_for_an_engine(tmp_path: Path) -> None:
    """An empty book shows one invented engine above the heads, and has none."""
    path = tmp_path / "specs.xlsx"
    assert main(["specs", str(path)]) == 0
    shown = [cell.value for row in sheet_in(path, "Engines").iter_rows() for cell in row if cell.value]
    assert sum(str(value).startswith("Example: ") for value in shown) == 1
    assert read_specs(path).engines == ()


def test_what_can_not_be_right_of_the_shop_is_said(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with_shop(book, tax_on="perhaps", currency="far too long", tax_percent=70)
    assert main(["specs", str(book), "--strict"]) == 1
    told = capsys.readouterr().err
    assert "Shop!B10 (Tax on)" in told and "The currency sign has 1 to 5 characters" in told
    assert "(Tax): 70 is outside what is plausible" in told


def test_a_stock_of_forms_of_the_shop_is_no_job(book: Path, tmp_path: Path) -> None:
    """What every form of the shop has is no sign that somebody worked on it."""
    with_shop(book)
    form = new_workbook(tmp_path / "form.xlsx", specs=book, engine="Invented pump four", job_number="7")
    assert is_blank(read_workbook(form))
    fill_workbook(form, {"vehicle": "pump set"}, tmp_path / "job.xlsx")
    assert not is_blank(read_workbook(tmp_path / "job.xlsx"))
