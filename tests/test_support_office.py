"""The tools that drive LibreOffice do what typing, calculating and saving in it would do."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter

from tests.support import office as office_module
from tests.support.office import CellError, Office, OfficeError
from tests.support.pictures import draw_pages
from workbook_tools import new_workbook


@pytest.fixture
def form(tmp_path: Path) -> Path:
    """A small protected form: three inputs, four results, two sheets, a name of a range."""
    path = tmp_path / "form.xlsx"
    with xlsxwriter.Workbook(path) as book:
        job, readings = book.add_worksheet("Job"), book.add_worksheet("The readings")
        entry = book.add_format({"locked": False})
        readings.write_blank("A1", None, entry)
        readings.write_blank("A2", None, entry)
        job.write_string("A1", "as delivered", entry)
        job.write_blank("A2", None, book.add_format({"locked": False, "num_format": "yyyy-mm-dd"}))
        formulas = {
            "ratio": "=reading_1/reading_2",
            "count": "=COUNT(readings)",
            "quiet": '=IF(COUNT(readings)<2,"",MAX(readings))',
            "words": '=note&"!"',
        }
        for row, (name, formula) in enumerate(formulas.items()):
            job.write_formula(row, 2, formula, None, "")
            book.define_name(name, f"=Job!$C${row + 1}")
        book.define_name("note", "=Job!$A$1")
        book.define_name("day", "=Job!$A$2")
        book.define_name("readings", "='The readings'!$A$1:$A$2")
        book.define_name("reading_1", "='The readings'!$A$1")
        book.define_name("reading_2", "='The readings'!$A$2")
        job.protect()
        readings.protect()
    return path


def test_reads_every_kind_of_value(office: Office, form: Path) -> None:
    """Number, text, quiet blank, empty cell and error come back as what they are; a range is not listed."""
    assert office.read_names(form) == {
        "ratio": CellError("#DIV/0!"),
        "count": 0,
        "quiet": "",
        "words": "as delivered!",
        "note": "as delivered",
        "day": None,
        "reading_1": None,
        "reading_2": None,
    }


def test_fill_keeps_types_and_protection(office: Office, form: Path, tmp_path: Path) -> None:
    """A saved filled form holds numbers, text and dates as typed, its results, and its protection."""
    out = tmp_path / "filled.xlsx"
    values = {"reading_1": 3, "reading_2": 4.5, "note": "=1+1", "day": dt.date(2031, 2, 28)}
    office.fill(form, values, out)
    book = openpyxl.load_workbook(out, data_only=True)
    assert [book["The readings"][cell].value for cell in ("A1", "A2")] == [3, 4.5]
    assert book["Job"]["A1"].value == "=1+1"
    assert book["Job"]["A1"].data_type == "s"
    assert book["Job"]["A2"].value == dt.datetime(2031, 2, 28)
    assert [book["Job"][f"C{row}"].value for row in (1, 2, 3, 4)] == [pytest.approx(2 / 3), 2, 4.5, "=1+1!"]
    assert book["Job"].protection.sheet


@pytest.mark.parametrize(
    ("text", "typed", "untyped"),
    [
        ("12.5", 12.5, "12.5"),
        ("12,5", "12,5", "12,5"),
        ("=1+1", 2, "=1+1"),
        ("1 in", "1 in", "1 in"),
        ("2/28/2031", 47907, "2/28/2031"),
    ],
)
def test_typed_text_is_parsed_as_typing(
    office: Office, form: Path, text: str, typed: object, untyped: object
) -> None:
    """Text becomes what the program makes of typing, or stays text (2031-02-28 is serial day 47907)."""
    assert office.fill_and_read(form, {"note": text}, ["note"], typed=True) == {"note": typed}
    assert office.fill_and_read(form, {"note": text}, ["note"]) == {"note": untyped}


def test_value_sets_do_not_leak_into_each_other(office: Office, form: Path) -> None:
    """Each value set starts from the form as it was: blanks, given text and typed-over formulas come back."""
    sets = [{"reading_1": 2, "reading_2": 5}, {"count": 99, "note": "x"}, {"reading_1": 7, "note": None}, {}]
    rows = office.evaluate_many(form, sets, ["reading_1", "reading_2", "count", "quiet", "words"])
    assert [tuple(row.values()) for row in rows] == [
        (2, 5, 2, 5, "as delivered!"),
        (None, None, 99, "", "x!"),
        (7, None, 1, "", "!"),
        (None, None, 0, "", "as delivered!"),
    ]


def test_names_follow_a_changed_layout(office: Office, form: Path, tmp_path: Path) -> None:
    """Rows inserted and sheets moved, renamed and added leave every name on its cell."""
    out = tmp_path / "changed.xlsx"
    office.rearrange(
        form,
        [
            ("unprotect", "The readings"),
            ("insert_rows", "The readings", 0, 3),
            ("add_sheet", "Mine"),
            ("move_sheet", "The readings", 0),
            ("rename_sheet", "The readings", "It's mine"),
            ("write", "Mine", "B2", "8"),
        ],
        out,
    )
    assert openpyxl.load_workbook(out).sheetnames == ["It's mine", "Job", "Mine"]
    assert office.fill_and_read(out, {"reading_1": 6, "reading_2": 3}, ["ratio"]) == {"ratio": 2}


@pytest.mark.parametrize(
    ("kind", "start"), [("xlsx", b"PK"), ("ods", b"PK"), ("xls", b"\xd0\xcf"), ("csv", b"as d")]
)
def test_resave_writes_the_format(
    office: Office, form: Path, tmp_path: Path, kind: str, start: bytes
) -> None:
    """Each format begins with its own first bytes."""
    out = tmp_path / f"again.{kind}"
    office.resave(form, out, kind)
    assert out.read_bytes().startswith(start)


def test_pictures_of_the_sheets(office: Office, form: Path, tmp_path: Path) -> None:
    """A filled form is drawn page by page, one PNG a printed sheet."""
    filled = tmp_path / "filled.xlsx"
    office.fill(form, {"reading_1": 1, "reading_2": 2}, filled)
    pages = draw_pages(office, filled, tmp_path / "pages")
    assert [page.name for page in pages] == ["filled-1.png", "filled-2.png"]
    assert all(page.read_bytes().startswith(b"\x89PNG") for page in pages)


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"no_such": 1}, "no defined name 'no_such'"),
        ({"readings": 1}, "'readings' does not refer to one single cell"),
    ],
)
def test_a_wrong_name_is_named(
    office: Office, form: Path, tmp_path: Path, values: dict[str, int], message: str
) -> None:
    """A missing name, or one of several cells, is refused by name, and the program still works after."""
    with pytest.raises(OfficeError, match=message):
        office.fill(form, values, tmp_path / "x.xlsx")
    assert office.read_names(form, ["count"]) == {"count": 0}


def test_a_file_that_is_none(office: Office, tmp_path: Path) -> None:
    """A missing file is refused in words."""
    with pytest.raises(OfficeError, match="no such file"):
        office.read_names(tmp_path / "nothing.xlsx")


def test_protected_sheet_refuses_inserted_rows(office: Office, form: Path, tmp_path: Path) -> None:
    """Rows go into a protected sheet only after it was unprotected, as in the program itself."""
    with pytest.raises(OfficeError, match="'Job' is protected"):
        office.rearrange(form, [("insert_rows", "Job", 0, 1)], tmp_path / "x.xlsx")


def test_time_out_ends_the_program_and_the_next_request_starts_another(form: Path, office: Office) -> None:
    """A request that takes too long is given up with its time in the message, and nothing is left hanging."""
    with Office(seconds=60) as other:
        assert other.read_names(form, ["count"]) == {"count": 0}
        other.seconds = 0.0
        with pytest.raises(OfficeError, match="longer than 0 s for read_names"):
            other.read_names(form)
        other.seconds = 60.0
        assert other.read_names(form, ["count"]) == {"count": 0}


def test_missing_program_is_one_clear_sentence(monkeypatch: pytest.MonkeyPatch, form: Path) -> None:
    """Without LibreOffice the message says so and what to install."""
    monkeypatch.setattr(office_module, "find_program", lambda: None)
    assert not office_module.office_available()
    with pytest.raises(OfficeError, match="LibreOffice is not installed: install it .*libreoffice-calc"):
        Office().read_names(form)


def test_a_form_filled_as_on_a_screen_keeps_its_view(office: Office, tmp_path: Path) -> None:
    """Frozen heads, hidden grid lines and the cell to begin at are still there after LibreOffice saved the form."""
    form = new_workbook(tmp_path / "form.xlsx")
    office.fill(form, {"job_number": "J-1"}, tmp_path / "filled.xlsx", seen=True)
    made, saved = (openpyxl.load_workbook(path) for path in (form, tmp_path / "filled.xlsx"))
    for before in made:
        after = saved[before.title]
        assert after.freeze_panes == before.freeze_panes == "A4"
        assert not after.sheet_view.showGridLines
