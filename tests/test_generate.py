"""The written workbook: named, protected, validated, valid, quiet when blank, alike for the same request."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.workbook import Workbook
from openxml_audit import OpenXmlValidator
from workbook_tools.form.sheets import SHEETS

from tests.support.office import CellError, Office
from workbook_tools.errors import BadRequest
from workbook_tools.form import whole
from workbook_tools.form.model import Field, Result, Shape
from workbook_tools.form.ranges import default_for, is_numeric_choice, plausible_range
from workbook_tools.generate import styles
from workbook_tools.generate.layout import layout
from workbook_tools.generate.plan import address
from workbook_tools.generate.sheet_writer import checked
from workbook_tools.generate.workbook import entries_for, new_workbook, shape_for

#: Functions that Excel 2010, LibreOffice 7 and Gnumeric all have (from memory).
KNOWN_FUNCTIONS = {
    *("ABS", "AND", "AVERAGE", "COS", "COUNT", "COUNTA", "COUNTIF", "COUNTIFS", "EXP", "FALSE", "FIND", "IF"),
    *("INDEX", "INT", "ISNUMBER", "ISTEXT", "LARGE", "LEFT", "LEN", "LN", "LOOKUP", "LOWER", "MATCH", "MAX"),
    *("MEDIAN", "MID", "MIN", "MOD", "NOT", "OR", "PI", "POWER", "RADIANS", "RIGHT", "ROUND", "ROUNDDOWN"),
    *(
        "ROUNDUP",
        "SEARCH",
        "SIGN",
        "SIN",
        "SMALL",
        "SQRT",
        "SUBSTITUTE",
        "SUM",
        "SUMIF",
        "SUMPRODUCT",
        "TEXT",
    ),
    *("TRIM", "TRUE", "UPPER"),
}
LEAST_CONTRAST = 4.5


@pytest.fixture(scope="module")
def form(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A blank form of four cylinders in US units."""
    return new_workbook(tmp_path_factory.mktemp("form") / "form.xlsx", cylinders=4)


@pytest.fixture(scope="module")
def book(form: Path) -> Workbook:
    """That form as openpyxl reads it, formulas and not results."""
    return openpyxl.load_workbook(form)


def cell_of(book: Workbook, name: str) -> Any:
    """The cell that a defined name points to."""
    ((sheet, where),) = book.defined_names[name].destinations
    return book[sheet][where]


SHAPE = shape_for(4, None, "us")


# --- names, cells, formulas --------------------------------------------------------------------------------


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
    assert used and used <= KNOWN_FUNCTIONS


@pytest.mark.parametrize("units", ["us", "metric"])
def test_stored_results_are_those_of_the_blank_form(tmp_path: Path, units: Any) -> None:
    """A viewer that does not calculate sees what the blank form gives, and no zero where a blank belongs."""
    shape = shape_for(2, None, units)
    read = openpyxl.load_workbook(new_workbook(tmp_path / "f.xlsx", cylinders=2, units=units), data_only=True)
    defaults = {name: entry for name, entry in entries_for(shape, {}).items()}
    computed = whole.compute(shape, defaults).values  # type: ignore[arg-type]
    for name, cell in whole.cells(shape).items():
        if isinstance(cell.item, Result):
            wanted = computed[name] or (None if computed[name] in (None, "") else computed[name])
            stored = cell_of(read, name).value
            assert stored == (pytest.approx(wanted) if isinstance(wanted, float) else wanted), name


def test_inputs_hold_their_defaults(book: Workbook) -> None:
    """Input cells hold the form's defaults, numeric choices as numbers, and are empty otherwise."""
    for name, cell in whole.cells(SHAPE).items():
        if isinstance(cell.item, Field):
            wanted = default_for(cell.item, SHAPE)
            wanted = float(wanted) if is_numeric_choice(cell.item) and wanted else wanted
            assert cell_of(book, name).value == wanted, name


@pytest.mark.parametrize("cylinders", [1, 4])
def test_blank_form_calculates_to_what_is_stored(office: Office, tmp_path: Path, cylinders: int) -> None:
    """LibreOffice shows no error value on a blank form, and no result that differs from the stored one."""
    blank = new_workbook(tmp_path / "blank.xlsx", cylinders=cylinders)
    filled = tmp_path / "filled.xlsx"
    office.fill(blank, {"vehicle": "invented"}, filled)
    shown = office.read_names(filled)
    stored = openpyxl.load_workbook(blank, data_only=True)
    shape = shape_for(cylinders, None, "us")
    for name, cell in whole.cells(shape).items():
        if isinstance(cell.item, Result):
            assert not isinstance(shown[name], CellError), name
            wanted = cell_of(stored, name).value
            assert shown[name] in (None, "") if wanted is None else shown[name] == pytest.approx(wanted), name


# --- what a technician meets -------------------------------------------------------------------------------


def test_only_inputs_can_be_typed_into(book: Workbook) -> None:
    """Every sheet is protected without a password; inputs are unlocked and nothing else is."""
    inputs = {
        (place.sheet, address(place.row, place.column))
        for place in layout(SHAPE).cells.values()
        if isinstance(place.item, Field) and not place.item.locked
    }
    unlocked = set()
    for sheet in book:
        assert sheet.protection.sheet and not sheet.protection.password
        assert not sheet.protection.formatColumns and not sheet.protection.formatRows
        unlocked |= {
            (sheet.title, cell.coordinate)
            for row in sheet.iter_rows()
            for cell in row
            if not cell.protection.locked
        }
    assert unlocked == inputs


def validations(book: Workbook) -> dict[tuple[str, str], Any]:
    """Every validated cell's validation."""
    found = {}
    for sheet in book:
        for each in sheet.data_validations.dataValidation:
            for cells in each.sqref.ranges:
                for row, column in cells.cells:
                    found[sheet.title, address(row - 1, column - 1)] = each
    return found


@pytest.mark.parametrize("units", ["us", "metric"])
def test_inputs_are_validated_by_their_kind(tmp_path: Path, units: Any) -> None:
    """Choices are lists that refuse, plausible ranges and dates warn, and the help is the input message."""
    shape = shape_for(4, None, units)
    book = openpyxl.load_workbook(new_workbook(tmp_path / "f.xlsx", units=units))
    found = validations(book)
    for place in layout(shape).cells.values():
        field = place.item
        if not isinstance(field, Field) or field.locked:
            continue
        rule = found.get((place.sheet, address(place.row, place.column)))
        if field.kind == "text" and not field.help:
            assert rule is None
            continue
        assert rule is not None, place.name
        assert not field.help or rule.prompt.startswith(field.help[:200])
        if field.choices:
            assert rule.type == "list" and rule.errorStyle in (None, "stop")
            assert listed(book, rule.formula1) == list(field.choices)
        elif field.kind == "date":
            assert (rule.type, rule.errorStyle) == ("date", "warning")
        elif field.kind != "text":
            assert (rule.type, rule.errorStyle) == (
                "whole" if field.kind == "whole" else "decimal",
                "warning",
            )
            low, high = plausible_range(field, units)
            if low is not None and high is not None:
                assert (float(rule.formula1), float(rule.formula2)) == pytest.approx((low, high))


def listed(book: Workbook, formula: str) -> list[str]:
    """The choices of a list validation, written in it or taken from a named range."""
    if formula.startswith('"'):
        return formula.strip('"').split(",")
    ((sheet, where),) = book.defined_names[formula].destinations
    return [row[0].value for row in book[sheet][where]]


def test_readings_and_marks_are_highlighted(book: Workbook) -> None:
    """A reading with limits and its mark are filled by the mark's words, each mark in its own way."""
    plan = layout(SHAPE)
    for name, place in plan.cells.items():
        if not place.item.limits:
            continue
        mark = (
            plan.cells[f"mark_{name}"]
            if place.number is None
            else plan.cells[f"mark_{place.item.name}_{place.number}"]
        )
        sheet = book[place.sheet]
        for cell, marks in ((place, 2), (mark, 3)):
            where = address(cell.row, cell.column)
            rules = [
                rule for cells in sheet.conditional_formatting if where in cells.sqref for rule in cells.rules
            ]
            assert len(rules) == marks, (name, where)
            assert all(f"${address(0, mark.column)[:-1]}" in rule.formula[0] for rule in rules)


def test_each_sheet_prints_on_one_page_of_a4(book: Workbook) -> None:
    """Every sheet fits one A4 page, with its name and page number in the footer and panes frozen."""
    for sheet in book:
        assert sheet.page_setup.paperSize == 9
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        assert (sheet.page_setup.fitToWidth or 1, sheet.page_setup.fitToHeight or 1) == (1, 1)
        assert sheet.oddFooter.left.text == "&A" and sheet.oddFooter.right.text == "Page &P of &N"
        assert sheet.print_area and sheet.freeze_panes == "A4"


def test_job_number_is_in_head_and_footer(tmp_path: Path) -> None:
    """A job number given beforehand stands in its cell as text, in each head live, in each footer."""
    read = openpyxl.load_workbook(new_workbook(tmp_path / "f.xlsx", job_number="=7&B"))
    assert cell_of(read, "job_number").value == "=7&B" and cell_of(read, "job_number").data_type == "s"
    for plan in layout(SHAPE).sheets:
        head = read[plan.name].cell(plan.job_number[0] + 1, plan.job_number[1] + 1)
        assert head.value == '=job_number&""'
        assert read[plan.name].oddFooter.center.text == "Job =7&&B"


def relative_luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.1 defines it."""
    channels = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("use", styles.TEXT_ON_FILL)
def test_text_can_be_read_on_its_fill(use: str) -> None:
    """Text contrasts with its fill by 4.5 to 1 or more (WCAG 2.1, success criterion 1.4.3)."""
    text, fill = (relative_luminance(colour) for colour in styles.TEXT_ON_FILL[use])
    assert (max(text, fill) + 0.05) / (min(text, fill) + 0.05) >= LEAST_CONTRAST


# --- the file ----------------------------------------------------------------------------------------------


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
        "form_version": whole.FORM_VERSION,
        "unit_system": "metric",
        "form_cylinders": 8,
        "form_banks": "1-2-3-4 | 5-6-7-8",
        "form_currency": "€",
        "form_sheets": ", ".join(sheet.name for sheet in SHEETS),
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
