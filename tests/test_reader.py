"""The reader of cells against openpyxl 3.1 (an independent library): the same workbooks read both ways, cell by cell."""

from __future__ import annotations

import datetime as dt
import io
import math
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook
from openpyxl.styles import numbers
from openpyxl.utils import datetime as their_days
from openpyxl.worksheet.formula import ArrayFormula
from xlsxwriter import Workbook as Writer

from tests.support.two_readers import alike, by_library, ours
from workbook_tools.errors import UnusableFile
from workbook_tools.package import days
from workbook_tools.package.cells import NO_SUCH_DAY, Formula, NotTaken, SheetCells, column_of, letters_of
from workbook_tools.package.parts import MAIN, Package
from workbook_tools.package.properties import custom_properties
from workbook_tools.read import other_reader
from workbook_tools.read.workbook import reading

#: Some of them: the others are of the same kinds, and the library takes its time.
SAMPLES = sorted((Path(__file__).parent.parent / "sample_workbooks").rglob("*.xlsx"))[::4]
FORMATS = [
    "General",
    "0.00",
    "yyyy-mm-dd",
    "d/m/yy h:mm",
    "[h]:mm",
    "[Red]0.0",
    '"day" 0',
    "mm:ss.0",
    "#,##0\\d",
    "[$-409]d mmm",
]
TEXTS = st.text(st.characters(codec="utf-8", exclude_characters="\x0b\x0c", min_codepoint=32), max_size=40)
FINITE = st.floats(allow_nan=False, allow_infinity=False)


def cells_of(data: bytes) -> SheetCells:
    return SheetCells(Package(data, "book.xlsx"))


def both_ways(data: bytes, title: str) -> dict[str, object]:
    sheets = cells_of(data)
    found = ours(sheets, title, 2000, 200)
    alike(found, by_library(sheets.package, title, 2000, 200))
    return dict(found)


def with_sheet(rows: str, head: str = "", strings: str | None = None) -> bytes:
    """A workbook whose one sheet, Sheet1, has these rows, as XML."""
    buffer = io.BytesIO()
    Workbook().save(buffer)
    package = Package(buffer.getvalue(), "book.xlsx")
    part = package.relations(package.workbook)[0].target
    text = f'<?xml version="1.0"?>{head}<worksheet xmlns="{MAIN}"><sheetData>{rows}</sheetData></worksheet>'
    package._parts[part] = text.encode()
    package.touch(part)
    return package.to_bytes()


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_the_samples(path: Path) -> None:
    package = Package(path.read_bytes(), str(path))
    for title in SheetCells(package).parts:
        both_ways(path.read_bytes(), title)


def test_names_properties_and_epoch_of_a_sample() -> None:
    from openpyxl import load_workbook

    for path in SAMPLES:
        theirs = load_workbook(path, read_only=True)
        sheets = cells_of(path.read_bytes())
        assert {name: name in sheets.names for name in theirs.defined_names} == {
            name: name in theirs.defined_names for name in sheets.names
        } | {name: False for name in theirs.defined_names.keys() - sheets.names.keys()}
        told = {prop.name: str(prop.value).removesuffix(".0") for prop in theirs.custom_doc_props.props}
        assert custom_properties(sheets.package) == told
        assert sheets.epoch == theirs.epoch


@given(
    st.lists(
        st.one_of(
            FINITE,
            st.integers(-(2**53), 2**53),
            st.booleans(),
            TEXTS,
            st.datetimes(dt.datetime(1950, 1, 1), dt.datetime(2099, 12, 31)),
            st.dates(dt.date(1950, 1, 1), dt.date(2099, 12, 31)),
            st.times(),
            st.builds(Formula, st.sampled_from(["=A1+1", '="a"&B2', "=SUM(A1:B2)", "=1"])),
        ),
        min_size=1,
        max_size=30,
    ),
    st.lists(st.sampled_from(FORMATS), min_size=1, max_size=5),
    st.booleans(),
)
def test_whatever_a_library_writes(values: list[object], formats: list[str], from_1904: bool) -> None:
    book, buffer = Workbook(), io.BytesIO()
    book.epoch = their_days.CALENDAR_MAC_1904 if from_1904 else their_days.CALENDAR_WINDOWS_1900
    page = book.active
    assert page is not None
    for place, value in enumerate(values):
        cell = page.cell(place // 4 + 1, place % 4 + 1)
        if isinstance(value, Formula):
            cell.value = value.text
        elif isinstance(value, str):
            cell.value, cell.data_type = value, "s"
        else:
            cell.value = value  # type: ignore[assignment]
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            cell.number_format = formats[place % len(formats)]
    book.save(buffer)
    both_ways(buffer.getvalue(), "Sheet")


@given(st.lists(TEXTS, min_size=1, max_size=20), st.booleans())
def test_texts_come_back_as_they_were_written(texts: list[str], in_memory: bool) -> None:
    """XlsxWriter writes them shared, or in the cells where it may not keep them; escapes are its own, and right."""
    buffer = io.BytesIO()
    book = Writer(buffer, {"constant_memory": in_memory, "strings_to_urls": False})
    page = book.add_worksheet("Sheet")
    for row, text in enumerate(texts):
        page.write_string(row, 0, text)
    book.close()
    sheets = cells_of(buffer.getvalue())
    ends = [text.replace("\r\n", "\n").replace("\r", "\n") for text in texts]
    assert [sheets.content("Sheet", f"A{row + 1}") or "" for row in range(len(texts))] == ends


NUMBER = '<c r="A1" s="{style}"><v>{text}</v></c>'
ODD_ROWS = {
    "no addresses": "<row><c><v>1</v></c><c/><c><v>3</v></c></row><row><c><v>4</v></c></row>",
    "some addresses": '<row r="3"><c r="C3"><v>1</v></c><c><v>2</v></c></row><row><c><v>4</v></c></row>',
    "rows as decimals": '<row r="2.0"><c r="A2"><v>1</v></c></row>',
    "empty values": '<row r="1"><c r="A1"><v></v></c><c r="B1" t="str"><v></v></c><c r="C1" t="inlineStr"/></row>',
    "texts in the cells": '<row r="1"><c r="A1" t="inlineStr"><is><t>ab</t></is></c><c r="B1" t="inlineStr"><is><r><t>a</t></r>'
    "<r><t>b</t></r><rPh sb='0' eb='1'><t>x</t></rPh></is></c></row>",
    "days as texts": '<row r="1"><c r="A1" t="d"><v>2026-03-31</v></c><c r="B1" t="d"><v>2026-03-31T10:20:30.5</v></c>'
    '<c r="C1" t="d"><v>10:20</v></c><c r="D1" t="d"><v>PT2H30M</v></c></row>',
    "errors and truths": '<row r="1"><c r="A1" t="e"><v>#DIV/0!</v></c><c r="B1" t="b"><v>1</v></c><c r="C1" t="b"><v>0</v></c></row>',
    "a formula filled down": '<row r="1"><c r="A1"><f t="shared" ref="A1:A3" si="0">B1+$C$1</f><v>1</v></c></row>'
    '<row r="2"><c r="A2"><f t="shared" si="0"/><v>1</v></c></row><row r="3"><c r="A3"><f t="shared" si="0"/></c></row>',
    "a formula filled from nowhere": '<row r="1"><c r="A1"><f t="shared" si="7"/><v>1</v></c></row>',
    "numbers with spaces": '<row r="1"><c r="A1"><v> 12 </v></c><c r="B1"><v>1.5E+3</v></c><c r="C1"><v>-0</v></c></row>',
}


@pytest.mark.parametrize("name", ODD_ROWS)
def test_odd_rows(name: str) -> None:
    both_ways(with_sheet(ODD_ROWS[name]), "Sheet")


def test_what_formulas_filled_down_come_to() -> None:
    found = both_ways(with_sheet(ODD_ROWS["a formula filled down"]), "Sheet")
    assert found["A3"] == Formula("=B3+$C$1")


def test_what_is_no_cell_is_none() -> None:
    """The library takes every element in a row for a cell."""
    rows = '<row r="1"><x:c xmlns:x="urn:x" r="A1"><v>1</v></x:c><c r="B1"><v>2</v></c></row>'
    assert cells_of(with_sheet(rows)).contents("Sheet") == {"B1": 2}


def test_array_formulas() -> None:
    book, buffer = Workbook(), io.BytesIO()
    assert book.active is not None
    book.active["A1"] = ArrayFormula("A1:A2", "=B1:B2*2")
    book.save(buffer)
    assert both_ways(buffer.getvalue(), "Sheet")["A1"] == Formula("=B1:B2*2")


@pytest.mark.parametrize("text", ["NaN", "INF", "1,5", "0x10", "1 2", "--1"])
def test_a_number_that_is_none_is_refused_wherever_it_stands(text: str) -> None:
    """No library opens such a workbook, so a result beside it would be lost."""
    data = with_sheet(f'<row r="1"><c r="A1"><v>1</v></c><c r="D1"><v>{text}</v></c></row>')
    with pytest.raises(UnusableFile, match="Sheet!D1"):
        cells_of(data).content("Sheet", "A1")


@pytest.mark.parametrize(
    "cell",
    ['<c r="A1" t="s"><v>5</v></c>', '<c r="A1" t="s"><v>-1</v></c>', '<c r="A1" t="b"><v>maybe</v></c>',
     '<c r="A1" t="d"><v>yesterday</v></c>', '<c r="A0A"><v>1</v></c>', '<c r="A1" t="d"><v>2026-02-31</v></c>'],
)  # fmt: skip
def test_other_damage_is_said(cell: str) -> None:
    data = with_sheet(f'<row r="1">{cell}</row>')
    with pytest.raises(UnusableFile, match="damaged"):
        cells_of(data).content("Sheet", "A1")


@pytest.mark.parametrize("number", ["inf", "1e999", "nan", "2.5", "x"])
def test_a_row_without_a_number_is_said(tmp_path: Path, number: str) -> None:
    path = tmp_path / "book.xlsx"
    path.write_bytes(with_sheet(f'<row r="{number}"><c r="A1"><v>1</v></c></row>'))
    with pytest.raises(UnusableFile, match="damaged"), reading(path):
        cells_of(path.read_bytes()).content("Sheet", "A1")


def test_nothing_is_read_behind_what_is_asked_for() -> None:
    sheets = cells_of(
        with_sheet('<row r="1"><c r="A1"><v>1</v></c></row><row r="9"><c r="A9"><v>NaN</v></c></row>')
    )
    sheets.look_no_further("Sheet", 5, 5)
    assert sheets.contents("Sheet") == {"A1": 1}


def test_a_day_that_no_calendar_has() -> None:
    book, buffer = Workbook(), io.BytesIO()
    page = book.active
    assert page is not None
    for address, number in (("A1", 1e9), ("A2", -1e9), ("A3", 46112)):
        page[address] = number
        page[address].number_format = "yyyy-mm-dd"
    book.save(buffer)
    found = both_ways(buffer.getvalue(), "Sheet")
    assert (found["A1"], found["A2"], found["A3"]) == (NO_SUCH_DAY, NO_SUCH_DAY, dt.datetime(2026, 3, 31))


def test_a_kind_of_cell_that_does_not_exist_is_left_to_the_library(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(other_reader, "contents_by_library", by_library)
    sheets = cells_of(
        with_sheet('<row r="1"><c r="A1" t="neu"><v>x</v></c><c r="B1"><f>1+1</f><v>2</v></c></row>')
    )
    with pytest.raises(NotTaken):
        sheets.contents("Sheet")
    assert other_reader.contents_of(sheets, "Sheet", 10, 10) == {"A1": "x", "B1": Formula("=1+1")}
    assert sheets.stored("Sheet", "B1") == 2


@given(st.floats(-1, 2958465.9), st.sampled_from([days.WINDOWS_EPOCH, days.MAC_EPOCH]))
def test_days_of_numbers(number: float, epoch: dt.datetime) -> None:
    try:
        theirs = their_days.from_excel(number, epoch)
    except OverflowError:
        with pytest.raises(OverflowError):
            days.moment_of(number, epoch)
        return
    assert days.moment_of(number, epoch) == theirs


@given(st.floats(-1e6, 1e6).filter(math.isfinite))
def test_lengths_of_time(number: float) -> None:
    assert days.span_of(number) == their_days.from_excel(number, timedelta=True)


@given(
    st.one_of(st.datetimes(), st.dates(), st.times(), st.from_regex(their_days.ISO_DURATION, fullmatch=True))
)
def test_days_of_texts(day: dt.datetime | dt.date | dt.time | str) -> None:
    text = day if isinstance(day, str) else their_days.to_ISO8601(day)
    try:
        theirs = their_days.from_ISO8601(text)
    except (ValueError, OverflowError):
        with pytest.raises((ValueError, OverflowError)):
            days.moment_of_text(text)
        return
    if theirs is None:
        return
    assert days.moment_of_text(text) == theirs


@pytest.mark.parametrize("code", [*FORMATS, *numbers.BUILTIN_FORMATS.values()])
def test_formats_that_show_days(code: str) -> None:
    assert days.shows_day(code) == numbers.is_date_format(code)
    assert days.shows_span(code) == numbers.is_timedelta_format(code)


@pytest.mark.parametrize("number", numbers.BUILTIN_FORMATS)
def test_formats_known_by_number(number: int) -> None:
    code = numbers.builtin_format_code(number)
    assert (number in days.BUILT_IN_DAYS) == numbers.is_date_format(code)
    assert (number in days.BUILT_IN_SPANS) == numbers.is_timedelta_format(code)


@given(st.integers(1, 16384))
def test_columns(column: int) -> None:
    from openpyxl.utils import get_column_letter

    assert letters_of(column) == get_column_letter(column)
    assert column_of(letters_of(column)) == column


def test_a_check_needs_no_library_of_workbooks_to_read(tmp_path: Path) -> None:
    """What a command does not need, it does not wait for: a whole check, from the command to the written sheet."""
    job = tmp_path / "job.xlsx"
    job.write_bytes(SAMPLES[0].read_bytes())
    script = (
        "import sys\nfrom workbook_tools.commands.program import main\n"
        f"status = main(['check', {str(job)!r}])\n"
        "print(status, sorted({'openpyxl', 'numpy', 'pandas', 'sqlalchemy'} & sys.modules.keys()))"
    )
    told = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "0 []"
