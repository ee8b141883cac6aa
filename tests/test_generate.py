"""The written workbook: named, valid, quiet when blank, alike for the same request, plain in its refusals."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.workbook import Workbook
from openxml_audit import OpenXmlValidator

from tests.support.forms import cell_of
from tests.support.office import CellError, Office
from workbook_tools.errors import BadRequest
from workbook_tools.faults.causes import CAUSES
from workbook_tools.form import the_form
from workbook_tools.form.all_sheets import SHEETS, SHOWN
from workbook_tools.form.ranges import default_for, is_numeric_choice
from workbook_tools.generate.fill import fill_workbook
from workbook_tools.generate.sheet_writer import checked
from workbook_tools.generate.workbook import entries_for, new_workbook, shape_for
from workbook_tools.language.model import Field, Result, Shape
from workbook_tools.layout.layout import layout
from workbook_tools.layout.plan import address
from workbook_tools.read.entries import read_choice
from workbook_tools.read.workbook import read_workbook

#: Functions that Excel 2010, LibreOffice 7 and Gnumeric all have (from memory).
KNOWN_FUNCTIONS = (
    "ABS AND AVERAGE CHOOSE COS COUNT COUNTA COUNTIF COUNTIFS EXP FALSE FIND HYPERLINK IF INDEX INT ISNUMBER ISTEXT "
    "LARGE LEFT LEN LN LOOKUP LOWER MATCH MAX MEDIAN MID MIN MOD NOT OR PI POWER RADIANS RIGHT REPT ROUND "
    "ROUNDDOWN ROUNDUP SEARCH SIGN SIN SMALL SQRT SUBSTITUTE SUM SUMIF SUMPRODUCT TEXT TRIM TRUE UPPER"
)
SHAPE = shape_for(4, None, "us")


@pytest.fixture(scope="module")
def form(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A blank form of four cylinders in US units."""
    return new_workbook(tmp_path_factory.mktemp("form") / "form.xlsx", cylinders=4)


@pytest.fixture(scope="module")
def book(form: Path) -> Workbook:
    """That form as openpyxl reads it, formulas and not results."""
    return openpyxl.load_workbook(form)


def test_every_name_points_to_its_cell(book: Workbook) -> None:
    """Each cell and column of the layout has a name of the whole workbook that points to it."""
    plan = layout(SHAPE)
    for name, place in plan.cells.items():
        cell = cell_of(book, name)
        assert (cell.parent.title, cell.coordinate) == (place.sheet, address(place.row, place.column))
    for name, (first, last) in plan.ranges.items():
        ((sheet, where),) = book.defined_names[name].destinations
        corners = f"{address(first.row, first.column)}:{address(last.row, last.column)}"
        assert (sheet, where.replace("$", "")) == (first.sheet, corners)


def test_formulas_use_only_functions_that_all_programs_know(book: Workbook) -> None:
    """No formula on any sheet uses a function outside the list, or one that is volatile."""
    used = set()
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    used |= set(re.findall(r"([A-Z][A-Z0-9.]*)\(", re.sub(r'"[^"]*"', "", cell.value)))
    assert used and used <= set(KNOWN_FUNCTIONS.split())


@pytest.mark.parametrize("units", ["us", "metric"])
def test_stored_results_are_those_of_the_blank_form(tmp_path: Path, units: Any) -> None:
    """A viewer that does not calculate sees what the blank form gives, and no zero where a blank belongs."""
    shape = shape_for(2, None, units)
    read = openpyxl.load_workbook(new_workbook(tmp_path / "f.xlsx", cylinders=2, units=units), data_only=True)
    defaults = {name: entry for name, entry in entries_for(shape, {}).items()}
    computed = the_form.compute(shape, defaults).values  # type: ignore[arg-type]
    for name, cell in the_form.cells(shape).items():
        if isinstance(cell.item, Result):
            wanted = computed[name] or (None if computed[name] in (None, "") else computed[name])
            stored = cell_of(read, name).value
            assert stored == (pytest.approx(wanted) if isinstance(wanted, float) else wanted), name


def test_inputs_hold_their_defaults(book: Workbook) -> None:
    """Input cells hold the form's defaults, numeric choices as numbers, and are empty otherwise."""
    for name, cell in the_form.cells(SHAPE).items():
        if isinstance(cell.item, Field):
            wanted = default_for(cell.item, SHAPE, cell.number)
            wanted = float(wanted) if is_numeric_choice(cell.item) and wanted else wanted
            assert cell_of(book, name).value == wanted, name


@pytest.mark.parametrize("cylinders", [1, 4])
def test_blank_form_calculates_to_what_is_stored(office: Office, tmp_path: Path, cylinders: int) -> None:
    """LibreOffice shows no error value on a blank form, and no result that differs from the stored one."""
    blank = new_workbook(tmp_path / "blank.xlsx", cylinders=cylinders)
    filled = tmp_path / "filled.xlsx"
    office.fill(blank, {"technician": "invented"}, filled)
    shown = office.read_names(filled)
    stored = openpyxl.load_workbook(blank, data_only=True)
    shape = shape_for(cylinders, None, "us")
    for name, cell in the_form.cells(shape).items():
        if isinstance(cell.item, Result):
            assert not isinstance(shown[name], CellError), name
            wanted = cell_of(stored, name).value
            assert shown[name] in (None, "") if wanted is None else shown[name] == pytest.approx(wanted), name


@pytest.mark.parametrize(("cylinders", "units"), [(1, "us"), (4, "metric"), (16, "us")])
def test_validator_finds_nothing(tmp_path: Path, cylinders: int, units: Any) -> None:
    """The package validator of openxml-audit finds no fault in a new form."""
    out = new_workbook(tmp_path / "f.xlsx", cylinders=cylinders, units=units)
    assert [str(error) for error in OpenXmlValidator().validate(out).errors] == []


def test_same_request_gives_same_bytes(form: Path, tmp_path: Path) -> None:
    """Two forms made alike are the same file to the byte."""
    assert new_workbook(tmp_path / "again.xlsx", cylinders=4).read_bytes() == form.read_bytes()


def test_form_says_what_it_was_made_for(tmp_path: Path) -> None:
    """Version, units, cylinders, banks and currency stand in named cells and in the file's properties."""
    out = new_workbook(
        tmp_path / "f.xlsx", cylinders=8, units="metric", currency="€", banks="1-2-3-4|5-6-7-8"
    )
    read = openpyxl.load_workbook(out)
    wanted = {
        "form_version": the_form.FORM_VERSION,
        "unit_system": "metric",
        "form_cylinders": 8,
        "form_banks": "1-2-3-4 | 5-6-7-8",
        "form_currency": "€",
        "form_sheets": ", ".join(sheet.name for sheet in SHOWN),
    }
    assert {name: cell_of(read, name).value for name in wanted} == wanted
    assert {name: read.custom_doc_props[name].value for name in wanted} == wanted
    assert read.properties.title == "Engine check" and not read.properties.creator


def test_sheets_left_out_are_hidden(tmp_path: Path) -> None:
    """Only the sheets asked for are shown; the rest stay in the book for the formulas that rest on them."""
    read = openpyxl.load_workbook(new_workbook(tmp_path / "f.xlsx", sheets=["vacuum", "Job"]))
    assert [sheet.title for sheet in read if sheet.sheet_state == "visible"] == ["Job", "Vacuum"]
    assert len(read.sheetnames) == len(SHEETS)
    assert read.active.title == "Job"


def test_causes_are_listed_and_filled_in_words(form: Path, tmp_path: Path) -> None:
    """The list of causes and a filled cell say `leaking valve`; it reads back as the cause, as an older form's id does."""
    fill_workbook(
        form,
        {"concluded_cause_1": "leaking_valve", "work_cause_1": "leaking valve"},
        tmp_path / "filled.xlsx",
    )
    cells = read_workbook(tmp_path / "filled.xlsx").cells
    assert [cells[name].raw for name in ("concluded_cause_1", "work_cause_1")] == ["leaking valve"] * 2
    assert {
        read_choice(raw, tuple(CAUSES)).value for raw in ("leaking valve", "leaking_valve", "Leaking Valve")
    } == {"leaking_valve"}


def test_prefilled_entries(tmp_path: Path) -> None:
    """Entries given beforehand stand in their cells by kind, over the defaults; None leaves a cell blank."""
    prefill = {
        "engine_name": 454.0,
        "date_in": dt.datetime(2024, 5, 31, 8, 0),
        "system_voltage": "6",
        "spec_compression_min": 120,
        "spec_advance_speed_2": 1500,
        "spec_timing_tolerance": None,
        "vehicle": "=HYPERLINK(1)",
    }
    read = openpyxl.load_workbook(new_workbook(tmp_path / "f.xlsx", prefill=prefill))
    shown = {name: cell_of(read, name).value for name in prefill}
    assert shown == prefill | {"engine_name": "454", "date_in": dt.datetime(2024, 5, 31), "system_voltage": 6}
    assert cell_of(read, "vehicle").data_type == "s"
    results = openpyxl.load_workbook(tmp_path / "f.xlsx", data_only=True)
    assert cell_of(results, "site_compression_min").value == pytest.approx(120)


@pytest.mark.parametrize(
    ("request_", "words"),
    [
        ({"cylinders": 0}, "1 to 16 cylinders, not 0"),
        ({"cylinders": 17}, "1 to 16 cylinders, not 17"),
        ({"units": "imperial"}, "us or metric"),
        ({"banks": "1-2-3"}, "Banks: .*has 4"),
        ({"firing_order": "1-3-4-4"}, "Firing order: .*cylinder 4 twice"),
        ({"currency": '"'}, "currency sign"),
        ({"sheets": ["Gearbox"]}, "no sheet Gearbox"),
        ({"sheets": []}, "at least one sheet"),
        ({"prefill": {"compression_dry_5": 1}}, "compression_dry_5 is no entry"),
        ({"prefill": {"cylinder_count": 5}}, "cylinder_count is no entry"),
        ({"prefill": {"station_pressure": 30}}, "station_pressure is no entry"),
        ({"prefill": {"barometer": [30]}}, "barometer can't be filled"),
        ({"prefill": {"vehicle": "x" * 40_000}}, "vehicle: a cell holds"),
    ],
)
def test_what_can_not_be_made_is_said_plainly(tmp_path: Path, request_: dict[str, Any], words: str) -> None:
    """A request that no form can be made for is refused in words, and no file is written."""
    with pytest.raises(BadRequest, match=words):
        new_workbook(tmp_path / "f.xlsx", **request_)
    assert list(tmp_path.iterdir()) == []


def test_writer_does_not_go_on_after_a_refused_write() -> None:
    """A return code by which the xlsx library says that it left something out is an error."""
    checked(0, "a cell")
    checked(None, "a cell")
    with pytest.raises(RuntimeError, match="could not write a cell"):
        checked(-2, "a cell")


def test_shape_keeps_banks() -> None:
    """Banks are read front to rear, by default one line up to six cylinders."""
    assert shape_for(4, "1-3 | 2-4", "us") == Shape(4, ((1, 3), (2, 4)), "us", "$")
    assert shape_for(3, None, "metric").banks == ((1, 2, 3),)
