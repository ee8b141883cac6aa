"""The life of a shop in a few calls: specs book, forms from it, a folder checked, the register."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from openpyxl import load_workbook

from workbook_tools import check_workbook, fill_workbook
from workbook_tools.commands.program import main
from workbook_tools.commands.sample_jobs import filled_workbooks
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
    again = load_workbook(register)["Jobs"]
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
