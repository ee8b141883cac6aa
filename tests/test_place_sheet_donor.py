"""What a donor's sheet brings along arrives unharmed, whatever program made the donor."""

from __future__ import annotations

import datetime as dt
import io
import re
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.cell import MergedCell
from openpyxl.chart import BarChart, Reference
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side

from tests.place_sheet_samples import book, donor, edited, parts, rich_host, saved_by_office, small_host
from tests.test_place_sheet import opened, titles, written
from workbook_tools.errors import UnusableFile
from workbook_tools.package.names import Renaming, free_sheet_name
from workbook_tools.package.styles import shows_a_day
from workbook_tools.report import place_sheet


def from_openpyxl(_: Path) -> bytes:
    """A donor that openpyxl wrote, with theme colours and a chart of its own making."""
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    sheet.title = "Mechanic's findings"
    sheet["A1"], sheet["A2"], sheet["A3"] = "weak", 1.5, "='Mechanic''s findings'!A2*2"
    sheet["A1"].font = Font(name="Arial", size=16, bold=True, color="FF0072B2")
    sheet["A1"].fill = PatternFill("solid", fgColor="FFE69F00")
    sheet["A2"].border = Border(left=Side("thin"), bottom=Side("double", color="FF000000"))
    sheet["A2"].number_format = '0.00" in"'
    sheet["A2"].alignment = Alignment(horizontal="center", vertical="top", wrap_text=True)
    sheet["A2"].protection = Protection(locked=False, hidden=True)
    sheet.merge_cells("B1:C1")
    chart = BarChart()
    chart.add_data(Reference(sheet, min_col=1, min_row=2, max_row=3))
    sheet.add_chart(chart, "E1")
    data = io.BytesIO()
    workbook.save(data)
    return data.getvalue()


def from_office(folder: Path) -> bytes:
    """The full donor as LibreOffice saves it."""
    return saved_by_office(written(folder, donor(), "donor.xlsx"), folder).read_bytes()


DONORS = {"XlsxWriter": lambda _: donor(), "openpyxl": from_openpyxl, "LibreOffice": from_office}
HOSTS = {"rich": rich_host, "taken": lambda: small_host("Readings", "Findings", "Mechanic's findings")}


@pytest.mark.parametrize("host", HOSTS)
@pytest.mark.parametrize("maker", DONORS)
def test_the_sheet_arrives_as_it_was(maker: str, host: str, tmp_path: Path) -> None:
    """Cells, formats and set-up of the sheet read the same in the host as in the donor alone (openpyxl)."""
    data = DONORS[maker](tmp_path)
    alone = opened(written(tmp_path, data, "alone.xlsx")).worksheets[0]
    path = written(tmp_path, HOSTS[host]())
    name = place_sheet(path, data, path)
    cells = re.findall(r'<c r="(\w+)" s="(\d+)"', parts(data)["xl/worksheets/sheet1.xml"].decode())
    formatted = {place for place, number in cells if number != "0"}  # the plain format 0 becomes the host's
    assert {"A1", "A2"} <= formatted
    placed = opened(path)[name]
    old, new = ("'" + title.replace("'", "''") + "'!" for title in (alone.title, name))

    def renamed(value: Any) -> Any:
        """The donor's own references under the new name."""
        text = value if not isinstance(value, str) else value.replace(f"{alone.title}!", old)
        return text if not isinstance(text, str) else text.replace(old, new)

    def same_quotes(value: Any) -> Any:
        """The placed reference with quotes wherever they are optional, and the donor's name of its table."""
        value = value.replace("Evidence_2[", "Evidence[") if isinstance(value, str) else value
        return renamed(value) if name == alone.title else value

    assert placed.dimensions == alone.dimensions
    for cell in (cell for row in alone.iter_rows() for cell in row):
        other = placed[cell.coordinate]
        assert same_quotes(other.value) == renamed(cell.value), cell.coordinate
        # openpyxl gives the inner cells of a merged range formats of its own.
        if cell.coordinate in formatted and not isinstance(cell, MergedCell):
            for part in ("font", "fill", "border", "number_format", "alignment", "protection"):
                assert repr(getattr(other, part)) == repr(getattr(cell, part)), (cell.coordinate, part)
        assert (other.comment and other.comment.text) == (cell.comment and cell.comment.text)
        if cell.hyperlink:
            assert other.hyperlink.target == cell.hyperlink.target
            assert same_quotes(other.hyperlink.location) == renamed(cell.hyperlink.location)
    assert placed.merged_cells.ranges == alone.merged_cells.ranges
    assert {k: d.width for k, d in placed.column_dimensions.items()} == {
        k: d.width for k, d in alone.column_dimensions.items()
    }
    assert placed.freeze_panes == alone.freeze_panes
    for part in ("page_setup", "page_margins", "protection", "sheet_properties"):
        assert repr(getattr(placed, part)) == repr(getattr(alone, part)), part
    assert placed.oddHeader.left.text == alone.oddHeader.left.text
    assert placed.oddFooter.center.text == alone.oddFooter.center.text
    assert same_quotes(placed.print_area) == renamed(alone.print_area)
    assert placed.print_title_rows == alone.print_title_rows
    assert [(r.sqref, [repr(rule.dxf) for rule in r.rules]) for r in placed.conditional_formatting] == [
        (r.sqref, [repr(rule.dxf) for rule in r.rules]) for r in alone.conditional_formatting
    ]
    assert len(placed._charts) == len(alone._charts) and len(placed._images) == len(alone._images)
    assert [(t.ref, repr(t.tableStyleInfo)) for t in placed.tables.values()] == [
        (t.ref, repr(t.tableStyleInfo)) for t in alone.tables.values()
    ]


def test_the_full_donor_has_what_the_comparison_is_about(tmp_path: Path) -> None:
    """The donor of the comparison does have each of the features, so that their survival means something."""
    sheet = opened(written(tmp_path, donor())).worksheets[0]
    assert sheet.merged_cells.ranges and sheet.freeze_panes and sheet.protection.sheet and sheet.print_area
    assert sheet.conditional_formatting and sheet.data_validations.dataValidation and sheet.tables
    assert sheet._charts and sheet._images and sheet["C2"].comment and sheet["B4"].hyperlink.target
    assert sheet.oddHeader.left.text == "Job 4711" and sheet.print_title_rows


def test_tables_get_names_and_numbers_of_their_own(tmp_path: Path) -> None:
    """A table name that the host uses is changed, in formulas as well; ids are unique in the book."""
    path = written(tmp_path, rich_host())
    place_sheet(path, donor(), path)
    content = parts(path)
    tables = [content[name] for name in content if name.startswith("xl/tables/")]
    assert sorted(re.search(rb'displayName="(\w+)"', table)[1] for table in tables) == [
        b"Evidence",
        b"Evidence_2",
    ]
    assert len({re.search(rb' id="(\d+)"', table)[1] for table in tables}) == 2
    assert opened(path)["Findings"]["E5"].value == "=ROWS(Evidence_2[Field])"


def test_names_of_the_donor_become_names_of_the_sheet(tmp_path: Path) -> None:
    """A name of the donor comes along as one of the sheet; the host's own of the same name stays."""

    def write(workbook: Any) -> None:
        sheet = workbook.add_worksheet("Findings")
        sheet.write_formula("A1", "=limit*2", None, 10)
        workbook.define_name("limit", "=Findings!$B$1")

    def write_host(workbook: Any) -> None:
        workbook.add_worksheet("Findings")
        workbook.define_name("limit", "=Findings!$C$9")

    path = written(tmp_path, book(write_host))
    for _ in range(2):
        name = place_sheet(path, book(write), path)
        workbook = opened(path)
        assert {n: d.attr_text for n, d in workbook.defined_names.items()} == {"limit": "Findings!$C$9"}
        assert workbook[name].defined_names["limit"].attr_text == "'Findings (2)'!$B$1"
        assert workbook[name].defined_names["placed_findings_sheet"].hidden


def test_texts_stay_texts(tmp_path: Path) -> None:
    """A text that looks like a formula or like markup arrives as text, spaces and line breaks with it."""
    texts = ["=1+1", "<b>&amp;</b>", "  two\nlines ", "'quoted", "Findings!A1", "@SUM(A1)"]
    data = book(lambda w: _write_texts(w.add_worksheet("Findings"), texts))
    path = written(tmp_path, small_host("Findings"))
    name = place_sheet(path, data, path)
    row = next(opened(path)[name].iter_rows())
    assert [cell.value for cell in row] == texts and {cell.data_type for cell in row} == {"s"}


def _write_texts(sheet: Any, texts: list[str]) -> None:
    for column, text in enumerate(texts):
        sheet.write_string(0, column, text)


def test_dates_are_counted_anew_for_a_book_of_1904(tmp_path: Path) -> None:
    """Days are moved by 1462 (ECMA-376 part 1, 18.17.4.1); numbers, times of day and durations are not."""

    def write(workbook: Any) -> None:
        sheet = workbook.add_worksheet("Findings")
        for row, (value, code) in enumerate(
            [
                (45000, "yyyy-mm-dd"),
                (45000.5, "d mmm hh:mm"),
                (45000, "0.0"),
                (0.25, "dd hh:mm"),
                (1.5, "[h]:mm"),
                (45000, '0" days"'),
            ]
        ):
            sheet.write_number(row, 0, value, workbook.add_format({"num_format": code}))

    path = written(tmp_path, small_host("A", date_1904=True))
    place_sheet(path, book(write), path)
    stored = [float(v) for v in re.findall(rb"<v>([^<]+)</v>", parts(path)["xl/worksheets/sheet2.xml"])]
    assert stored == [43538, 43538.5, 45000, 0.25, 1.5, 45000]
    assert opened(path)["Findings"]["A1"].value == dt.datetime(2023, 3, 15)


def test_a_date_before_1904_is_refused_by_a_book_of_1904(tmp_path: Path) -> None:
    """A day that the host cannot count is said, not shown wrong."""

    def write(workbook: Any) -> None:
        day = workbook.add_format({"num_format": "yyyy-mm-dd"})
        workbook.add_worksheet("Findings").write_number("B2", 700, day)

    path = written(tmp_path, small_host("A", date_1904=True))
    before = path.read_bytes()
    with pytest.raises(UnusableFile, match="B2 lies before 1904"):
        place_sheet(path, book(write), path)
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("code", "day"),
    [
        ("yyyy-mm-dd", True),
        ("[$-409]d mmm", True),
        ("mmmm", True),
        ("General", False),
        ("0.00", False),
        ("[Red]0.0", False),
        ("hh:mm:ss", False),
        ("[h]:mm", False),
        ("mm:ss", False),
        ('0 "days"', False),
        ("0\\d", False),
        ("#,##0_d", False),
        ("dd/mm/yy hh:mm", True),
    ],
)
def test_which_formats_show_a_day(code: str, day: bool) -> None:
    """A format shows a day by its y, d or a month; texts, colours and durations in it do not count."""
    assert shows_a_day(code) is day


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        ("Findings!A1+1", "'Old (2)'!A1+1"),
        ("'Findings'!A1", "'Old (2)'!A1"),
        ("findings!$A$1:$B$2,Findings!C3", "'Old (2)'!$A$1:$B$2,'Old (2)'!C3"),
        ('"Findings!A1"&Findings!A1', "\"Findings!A1\"&'Old (2)'!A1"),
        ("MyFindings!A1", "MyFindings!A1"),
        ("My.Findings!A1", "My.Findings!A1"),
        ("[1]Findings!A1", "[1]Findings!A1"),
        ("'[1]Findings'!A1", "'[1]Findings'!A1"),
        ("'My Findings'!A1", "'My Findings'!A1"),
        ("SUM(Evidence[Value])+Evidence!A1", "SUM(Evidence_2[Value])+Evidence!A1"),
        ("MyEvidence[Value]", "MyEvidence[Value]"),
        ("Findings+1", "Findings+1"),
    ],
)
def test_renaming_in_formulas(formula: str, expected: str) -> None:
    """Only references to the donor's sheet and tables change."""
    renaming = Renaming("Findings", "Old (2)")
    renaming.add_table("Evidence", "Evidence_2")
    assert renaming.formula(formula) == expected


@pytest.mark.parametrize(
    ("location", "expected"),
    [
        ("Findings!A1", "'New'!A1"),
        ("'Findings'!A1", "'New'!A1"),
        ("#Findings!A1", "#'New'!A1"),
        ("Other!A1", "Other!A1"),
        ("a_name", "a_name"),
    ],
)
def test_renaming_in_links(location: str, expected: str) -> None:
    """A link inside the book follows the new name, one to another sheet stays."""
    assert Renaming("Findings", "New").location(location) == expected


def test_a_free_name_keeps_to_the_longest_allowed() -> None:
    """A numbered name is cut to no more than 31 characters (common practice: the limit of Excel)."""
    long = "F" * 31
    assert free_sheet_name(long, [long.lower()]) == "F" * 27 + " (2)"
    assert free_sheet_name("Findings", ["FINDINGS", "Findings (2)"]) == "Findings (3)"


def test_the_hosts_styles_stay_in_their_places(tmp_path: Path) -> None:
    """What the host's cells point to is still there under the same number; new formats only follow."""
    path = written(tmp_path, rich_host())
    before = opened(path)["Readings"]
    place_sheet(path, donor(), path)
    after = opened(path)["Readings"]
    for cell in (cell for row in before.iter_rows() for cell in row):
        other = after[cell.coordinate]
        for part in ("font", "fill", "border", "number_format"):
            assert repr(getattr(other, part)) == repr(getattr(cell, part))


BAD_DONORS = {
    "two sheets": (lambda: small_host("A", "B"), "has 2 sheets"),
    "a chart sheet": (lambda: book(lambda w: (w.add_worksheet("A"), w.add_chartsheet("C"))), "has 2 sheets"),
    "another book": (
        lambda: edited(
            small_host("A"),
            {"xl/workbook.xml": lambda x: x.replace(b"</sheets>", b"</sheets><externalReferences/>")},
        ),
        "refers to other workbooks",
    ),
    "a picture in a cell": (
        lambda: edited(
            small_host("A"),
            {"xl/worksheets/sheet1.xml": lambda x: x.replace(b'<c r="A1"', b'<c r="A1" vm="1"')},
        ),
        "A1 holds a picture",
    ),
    "a pivot table": (
        lambda: edited(
            small_host("A"),
            {
                "xl/pivotTables/pivotTable1.xml": b"<pivotTableDefinition/>",
                "xl/worksheets/_rels/sheet1.xml.rels": (
                    b'<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
                    b'<Relationship Id="rId1"'
                    b' Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/pivotTable"'
                    b' Target="../pivotTables/pivotTable1.xml"/></Relationships>'
                ),
            },
        ),
        "pivotTable, which cannot be placed",
    ),
    "a text that is not there": (
        lambda: edited(
            small_host("A"), {"xl/worksheets/sheet1.xml": lambda x: x.replace(b"<v>0</v>", b"<v>99</v>")}
        ),
        "is damaged inside",
    ),
    "no workbook": (lambda: b"hello", "is not an .xlsx workbook"),
}


@pytest.mark.parametrize("case", BAD_DONORS)
def test_a_donor_that_cannot_be_placed_whole_is_refused(case: str, tmp_path: Path) -> None:
    """Rather than placed in part; the host is not touched."""
    make, message = BAD_DONORS[case]
    path = written(tmp_path, small_host("H"))
    before = path.read_bytes()
    with pytest.raises(UnusableFile, match=message):
        place_sheet(path, make(), path)
    assert path.read_bytes() == before and titles(path) == ["H"]
