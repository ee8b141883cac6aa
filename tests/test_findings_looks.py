"""The look of the findings sheet: contrast, heights in which nothing is cut off, print, and a sound file."""

from __future__ import annotations

import re
import shutil
import zipfile
from pathlib import Path

import pytest
from openxml_audit import OpenXmlValidator
from PIL import ImageFont

from tests.findings_samples import answer_cell, bare, burned_valve, form_of, many, sheet_bytes, sheet_of
from tests.test_generate_looks import breaks_of
from workbook_tools import check_workbook, fill_workbook, new_workbook
from workbook_tools.read.filled_form import FilledForm
from workbook_tools.read.workbook import read_workbook
from workbook_tools.report import place_sheet
from workbook_tools.report.findings_page import BADGES, COLUMN_WIDTH, HIGHEST_ROW, Box

VALVE = "finding:leaking_valve:3"
LONG = "The pump runs rough when it rains & pulls badly; =1+1 <b>bold</b> {nothing} &amp; more. " * 9


@pytest.fixture(scope="module")
def form(tmp_path_factory: pytest.TempPathFactory) -> FilledForm:
    return form_of(tmp_path_factory.mktemp("form") / "job.xlsx")


def luminance(colour: str) -> float:
    """Relative luminance by the formula of WCAG 2.1."""
    shares = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [share / 12.92 if share <= 0.03928 else ((share + 0.055) / 1.055) ** 2.4 for share in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("word", BADGES)
def test_contrast_of_every_fill(word: str) -> None:
    """Each word stands at least 4.5:1 against its fill (WCAG 2.1, 1.4.3)."""
    light, dark = sorted(map(luminance, BADGES[word]), reverse=True)
    assert (light + 0.05) / (dark + 0.05) >= 4.5


@pytest.mark.parametrize(
    "words",
    [
        ("confirmed", "indicated", "possible"),
        ("out of limits", "near limit", "in limits"),
        ("fault found", "proven", "not proven yet"),
    ],
)
def test_words_are_told_apart_in_grey(words: tuple[str, ...]) -> None:
    """In a grey print what weighs more is darker, and is read with ease all the same (7:1, WCAG 2.1, 1.4.6)."""
    fills = [luminance(BADGES[word][1]) for word in words]
    assert fills == sorted(fills) and fills[0] + 0.15 < fills[1]
    assert all(
        (fill + 0.05) / (luminance(BADGES[word][0]) + 0.05) >= 7
        for word, fill in zip(words, fills, strict=True)
    )


LIBERATION = Path("/usr/share/fonts/truetype/liberation")


@pytest.mark.skipif(not LIBERATION.exists(), reason="needs the Liberation fonts, which come with LibreOffice")
@pytest.mark.parametrize(
    "words", [LONG, "short", "line\n" * 12, "Donaudampfschifffahrt " * 40, "W" * 300], ids=range(5)
)
def test_no_text_is_cut_off(form: FilledForm, words: str) -> None:
    """Every wrapped text has the height it needs by the letters of Liberation Sans (as wide as Arial's)."""
    sheet = sheet_of(sheet_bytes(many(form, words), form, {VALVE: words * 4}))
    boxes = {str(merged).split(":")[0]: merged for merged in sheet.merged_cells.ranges}
    for row in sheet.iter_rows():
        for cell in row:
            if isinstance(cell.value, str) and cell.alignment.wrap_text:
                merged = boxes.get(cell.coordinate)
                last_row, last_column = (
                    (merged.max_row, merged.max_col) if merged else (cell.row, cell.column)
                )
                columns = last_column - cell.column + 1
                room = sum(sheet.row_dimensions[number].height for number in range(cell.row, last_row + 1))
                assert height_needed(cell, columns) <= room, f"{cell.coordinate}: {cell.value[:60]}"


def height_needed(cell: object, columns: int) -> float:
    """Points that a wrapped text takes: lines as the letters fill them, 1.15 of the letter size each."""
    font, indent = cell.font, cell.alignment.indent or 0  # type: ignore[attr-defined]
    file = LIBERATION / ("LiberationSans-Bold.ttf" if font.bold else "LiberationSans-Regular.ttf")
    letters = ImageFont.truetype(str(file), round(font.sz * 96 / 72 * 10))
    # Pixels of the columns at 96 dots an inch: a digit of Arial 11 for each character, and 5 for the gap
    # (ECMA-376 part 1, 18.3.1.13); an indent is three blanks wide.
    digit = round(ImageFont.truetype(str(LIBERATION / "LiberationSans-Regular.ttf"), 147).getlength("0") / 10)
    room = (columns * (COLUMN_WIDTH * digit + 5) - 5 - 9 * indent) * 10
    lines = 0
    for paragraph in cell.value.split("\n"):  # type: ignore[attr-defined]
        lines, used = lines + 1, 0.0
        for word in paragraph.split(" "):
            width = letters.getlength(word + " ")
            if used and used + letters.getlength(word) > room:
                lines, used = lines + 1, 0.0
            while width > room + letters.getlength(" "):
                lines, width = lines + 1, width - room
            used += width
    return lines * font.sz * 1.15


def test_rows_keep_to_what_programs_allow(form: FilledForm) -> None:
    """No row is higher than 409 points, however long the answer; a longer text gets several rows."""
    sheet = sheet_of(sheet_bytes(bare(form), form, {VALVE: LONG * 40}))
    assert max(each.height or 0 for each in sheet.row_dimensions.values()) <= HIGHEST_ROW
    cell = answer_cell(sheet, VALVE)
    assert any(
        str(merged).startswith(f"{cell}:G") and merged.max_row > merged.min_row
        for merged in sheet.merged_cells.ranges
    )


def test_it_prints_and_fits_a_laptop(form: FilledForm) -> None:
    """Portrait, letter for US units, one page wide, head repeated, job and page in the footer; within 1366 pixels."""
    sheet = sheet_of(sheet_bytes(burned_valve(form), form))
    assert (sheet.page_setup.orientation, int(sheet.page_setup.paperSize)) == ("portrait", 1)
    # One page wide is what a file says by saying nothing (ECMA-376 part 1, 18.3.1.63).
    assert not (sheet.sheet_properties.pageSetUpPr and sheet.sheet_properties.pageSetUpPr.fitToPage)
    assert sheet.print_title_rows == "$1:$3"
    assert "P-1041" in sheet.oddFooter.center.text and "&P" in sheet.oddFooter.right.text
    assert sheet.column_dimensions["H"].hidden
    assert 7 * (sheet.column_dimensions["A"].width * 8 + 5) < 1366 - 60
    fonts = {cell.font.name for row in sheet.iter_rows() for cell in row if cell.value is not None}
    assert fonts == {"Arial"}


@pytest.mark.parametrize("cylinders", [2, 4])
def test_names_in_the_chart_are_cells(cylinders: int, tmp_path: Path) -> None:
    """Other names get lost where LibreOffice brings the sheet into an open workbook: it says "Column D" in their place."""
    path = new_workbook(tmp_path / "form.xlsx", cylinders=cylinders)
    fill_workbook(
        path, {"spec_compression_min": 110, "spec_compression_max": 160, "compression_dry_1": 128}, path
    )
    check_workbook(path, apart=tmp_path / "apart.xlsx")
    with zipfile.ZipFile(tmp_path / "apart.xlsx") as book:
        (chart,) = (book.read(name) for name in book.namelist() if "charts/chart" in name)
    names = re.findall(rb"<c:ser>.*?<c:tx>(.*?)</c:tx>", chart)
    assert len(names) == 3 and all(each.startswith(b"<c:strRef>") for each in names)


def test_no_page_tears_a_card(form: FilledForm) -> None:
    """Pages end between cards, table rows and sections, and no page holds more than its paper (letter, in points)."""
    sheet = sheet_of(sheet_bytes(many(form, LONG), form))
    heights = {row: sheet.row_dimensions[row].height for row in range(1, sheet.max_row + 1)}
    breaks = breaks_of(sheet)
    assert len(breaks) > 2
    first_cells = {row: sheet.cell(row, 1) for row in heights}
    for above in breaks:
        below = first_cells[above + 1]
        assert below.value != "Answer" and below.font.color.rgb != "FF595959", (above, below.value)
        assert first_cells[above].font.color.rgb != "FF00476F", "a heading is the last of its page"
    scale, width = sheet.page_setup.scale / 100, 7 * (COLUMN_WIDTH * 8 + 5) * 0.75
    assert 0.9 * (612 - 72) < width * scale <= 612 - 72
    for first, last in zip([3, *breaks], [*breaks, sheet.max_row], strict=True):
        used = sum(heights[row] for row in (1, 2, 3)) + sum(
            heights[row] for row in range(first + 1, last + 1)
        )
        assert used * scale <= 792 - 90, (first, last)


def test_a_long_sheet_name_leaves_its_cell_readable() -> None:
    """Where sheet and cell don't fit into the column of links, the sheet's name is cut and the cell is whole."""
    box = Box(0, 0, "Readings of the engine, aft side!B117", "card link", ("Readings", "B117")).in_a_line()
    assert str(box.text).startswith("Readings") and str(box.text).endswith("…!B117") and box.fits_a_line
    assert box.link == ("Readings", "B117")
    short = Box(0, 0, "Job!B7", "card link")
    assert short.in_a_line() == short


def test_an_ampersand_in_the_job_number_is_no_footer_code(form: FilledForm) -> None:
    """A job number of `&D&D...` prints as such and never as dates, however long it is."""
    sheet = sheet_of(sheet_bytes(bare(form, job_number="&D" * 80), form))
    assert sheet.oddFooter.center.text == "Job " + "&&D" * 30


@pytest.mark.parametrize("words", ["words", LONG], ids=["short", "long"])
def test_the_validator_finds_nothing(form: FilledForm, words: str, tmp_path: Path) -> None:
    """openxml-audit finds nothing in a workbook with everything on its findings sheet, placed twice."""
    path = tmp_path / "checked.xlsx"
    shutil.copy(form.path, path)
    for _ in range(2):
        place_sheet(path, sheet_bytes(many(form, words), form, {VALVE: words}), path)
    assert not [str(error) for error in OpenXmlValidator().validate(str(path)).errors]
    assert read_workbook(path).digest == form.digest


def test_the_same_findings_give_the_same_bytes(form: FilledForm) -> None:
    """The sheet depends on what was found and on the time given, on nothing else."""
    assert sheet_bytes(burned_valve(form), form) == sheet_bytes(burned_valve(form), form)
