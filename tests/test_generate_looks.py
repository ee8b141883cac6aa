"""What a technician meets in a new form: protection, validation, highlights, charts, print, legibility."""

from __future__ import annotations

import re
import zipfile
from itertools import pairwise
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.workbook import Workbook
from openpyxl.worksheet.worksheet import Worksheet
from PIL import Image, ImageChops, ImageFont, ImageStat

from tests.support.forms import cell_of
from tests.support.needle_dials import dial
from tests.support.office import Office
from tests.support.one_sheet import sheet_in
from workbook_tools.form import the_form
from workbook_tools.form.all_sheets import SHOWN
from workbook_tools.form.ranges import choice_in_words, is_cause_list, plausible_range
from workbook_tools.generate import styles
from workbook_tools.generate.chart_helpers import point_value
from workbook_tools.generate.fill import fill_workbook
from workbook_tools.generate.pictures import file_of
from workbook_tools.generate.workbook import new_workbook, shape_for
from workbook_tools.language.model import OUT_OF_LIMITS, Field, Result
from workbook_tools.language.prose import help_of
from workbook_tools.layout.grid import LAST_COLUMN, ROW_HEIGHT
from workbook_tools.layout.layout import layout, sheet_of
from workbook_tools.layout.plan import absolute, address
from workbook_tools.sheets.vacuum import NEEDLE

LEAST_CONTRAST = 4.5
SHAPE = shape_for(4, None, "us")


@pytest.fixture(scope="module")
def form(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A blank form of four cylinders in US units."""
    return new_workbook(tmp_path_factory.mktemp("form") / "form.xlsx", cylinders=4)


@pytest.fixture(scope="module")
def book(form: Path) -> Workbook:
    """That form as openpyxl reads it, formulas and not results."""
    return openpyxl.load_workbook(form)


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
        help_line = help_of(field, units)
        assert not help_line or rule.prompt.startswith(help_line[:200])
        if field.choices:
            kept = ("information",) if is_cause_list(field) else (None, "stop")
            assert rule.type == "list" and rule.errorStyle in kept
            assert listed(book, rule.formula1) == [choice_in_words(choice) for choice in field.choices]
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


def test_the_customers_words_stand_in_lines_below_each_other(book: Workbook) -> None:
    """A long complaint is no line that runs out of its box and is cut at the edge of the paper."""
    cell = cell_of(book, "complaint_notes")
    box = next(each for each in book["Job"].merged_cells.ranges if cell.coordinate in each)
    assert box.size["rows"] == 1 and box.max_col == LAST_COLUMN + 1
    assert cell.alignment.wrap_text and not cell.protection.locked
    assert book["Job"].row_dimensions[cell.row].height >= 2 * ROW_HEIGHT


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
        typed = isinstance(place.item, Field)
        for cell, marks in ((place, 3 if typed else 2), (mark, 4)):
            where = address(cell.row, cell.column)
            rules = [
                rule for cells in sheet.conditional_formatting if where in cells.sqref for rule in cells.rules
            ]
            assert len(rules) == marks, (name, where)
            of_the_mark = [rule for rule in rules if "LEN" not in rule.formula[0]]
            assert len(of_the_mark) == (2 if cell is place else 4)
            assert all(f"${address(0, mark.column)[:-1]}" in rule.formula[0] for rule in of_the_mark)


def breaks_of(page: Worksheet) -> list[int]:
    """The last row of each area that is printed but of the last: a page ends with its area; between two nothing is left out."""
    rows = [tuple(map(int, re.findall(r"\$(\d+)", area))) for area in page.print_area.split(",")]
    for (_, above), (below, _) in pairwise(rows):
        assert below == above + 1, page.title
    assert rows[0][0] == 1
    return [last for _, last in rows[:-1]]


@pytest.mark.parametrize(("units", "paper", "sides"), [("us", 1, (612, 792)), ("metric", 9, (595, 842))])
@pytest.mark.parametrize("cylinders", [1, 4, 16])
def test_print_can_be_read(
    tmp_path: Path, cylinders: int, units: Any, paper: int, sides: tuple[float, float]
) -> None:
    """Each sheet prints one page wide on its paper (ECMA-376 part 1, 18.3.1.63), its letters at 6 points or more.

    It takes more pages than one only where it must, and each begins at the top of a part and can hold it.
    """
    path = new_workbook(tmp_path / "f.xlsx", cylinders=cylinders, units=units)
    plan = layout(shape_for(cylinders, None, units))
    for page in openpyxl.load_workbook(path):
        if page.sheet_state != "visible":
            continue
        sheet = sheet_of(plan, page.title)
        setup, breaks = page.page_setup, breaks_of(page)
        fitted = bool(page.sheet_properties.pageSetUpPr and page.sheet_properties.pageSetUpPr.fitToPage)
        assert setup.paperSize == paper and fitted == (not breaks)
        assert not page.row_breaks.brk, "Gnumeric takes them for breaks between columns"
        assert not fitted or (setup.fitToWidth or 1, setup.fitToHeight or 1) == (1, 1)
        short, long = sides
        across, down = (long, short) if setup.orientation == "landscape" else (short, long)
        width = sum(each * DIGIT + 5 for each in sheet.column_widths[: sheet.last_column + 1]) * 0.75
        heights = [sheet.row_heights[row] for row in range(sheet.last_row + 1)]
        scale = min((across - 72) / width, (down - 90) / sum(heights)) if fitted else setup.scale / 100
        assert scale * width <= across - 72, page.title
        assert 11 * scale >= 6, (page.title, scale)
        headings = {each.row for each in sheet.captions if each.style == "heading"}
        assert set(breaks) <= headings
        edges = [4, *breaks, len(heights)]
        for first, end in zip(edges, edges[1:], strict=False):
            used = (sum(heights[:4]) + sum(heights[first:end])) * scale
            assert used <= down - 90 + 1e-6, (page.title, first)
        assert page.print_title_rows == "$1:$4" and page.freeze_panes == "A4"
        assert page.oddFooter.left.text == "&A" and page.oddFooter.right.text == "Page &P of &N"


def test_laptop_shows_what_a_step_needs() -> None:
    """Texts, charts, job number and next step end where a screen of 1366 pixels does, however wide the tables."""
    for cylinders in (1, 4, 16):
        for sheet in layout(shape_for(cylinders, None, "us")).sheets:
            right = 0.0
            edges = [right := right + each * DIGIT + 5 for each in sheet.column_widths]
            texts = [
                each
                for each in sheet.captions
                if each.style in ("purpose", "cost", "caution", "note", "help")
            ]
            last = max(each.last_column for each in texts)
            columns = [last, sheet.job_number[1], *(chart.columns - 1 for chart in sheet.charts)]
            assert max(edges[column] for column in columns) < 1366 - 60, sheet.name
            assert sheet.next_step[1] < sheet.job_number[1]
            assert edges[sheet.last_column + 1] >= 1366 - 60, "workings are in sight"


def test_heads_of_a_filled_form_are_up_to_date(tmp_path: Path) -> None:
    """A viewer that does not calculate shows the job number and the next step of a form that was filled from a list."""
    form, filled = new_workbook(tmp_path / "form.xlsx"), tmp_path / "filled.xlsx"
    fill_workbook(form, {"job_number": "7 & \x1b<b>", "idle_speed": 600}, filled)
    read = openpyxl.load_workbook(filled, data_only=True)
    summary = cell_of(read, "next_test").value
    assert summary != cell_of(openpyxl.load_workbook(form, data_only=True), "next_test").value
    page, plan = read["Vacuum"], sheet_of(layout(SHAPE), "Vacuum")
    number, step = (page.cell(row + 1, column + 1).value for row, column in (plan.job_number, plan.next_step))
    assert (number, step) == (cell_of(read, "job_number").value, f"Next: {summary}")


def test_next_step_is_in_every_head(office: Office, tmp_path: Path) -> None:
    """The rows that stay on the screen say on every sheet what Start says is next, and keep up with it."""
    form = new_workbook(tmp_path / "form.xlsx")
    office.fill(form, {"idle_speed": 600}, tmp_path / "filled.xlsx")
    said = set()
    for path in (form, tmp_path / "filled.xlsx"):
        read = openpyxl.load_workbook(path, data_only=True)
        summary = cell_of(read, "next_test").value
        for plan in layout(SHAPE).sheets:
            row, column = plan.next_step
            shown = read[plan.name].cell(row + 1, column + 1).value
            assert row < 3 and shown == (None if plan.name in ("Recheck", "Customer") else f"Next: {summary}")
        said.add(summary)
    assert len(said) == 2 and None not in said


def test_job_number_is_in_head_and_footer(tmp_path: Path) -> None:
    """A job number given beforehand stands in its cell as text, in each head live, in each footer."""
    read = openpyxl.load_workbook(new_workbook(tmp_path / "f.xlsx", job_number="=7&B"))
    assert cell_of(read, "job_number").value == "=7&B" and cell_of(read, "job_number").data_type == "s"
    for plan in layout(SHAPE).sheets:
        head = read[plan.name].cell(plan.job_number[0] + 1, plan.job_number[1] + 1)
        assert head.value == '=job_number&""'
        assert read[plan.name].oddFooter.center.text == "Job =7&&B"


def test_curve_is_drawn_without_its_holes(office: Office, tmp_path: Path) -> None:
    """Points of the advance curve that were not read lie on a neighbour, in formulas as in Python."""
    readings = {
        "advance_speed_2": 900,
        "advance_reading_2": 8,
        "advance_speed_4": 1800,
        "advance_reading_4": 19,
    }
    out = tmp_path / "filled.xlsx"
    office.fill(new_workbook(tmp_path / "form.xlsx"), readings | {"advance_speed_5": 2400}, out)
    page = sheet_in(out, "Ignition", data_only=True)
    values = the_form.compute(SHAPE, {name: float(value) for name, value in readings.items()})
    sheet = sheet_of(layout(SHAPE), "Ignition")
    shown: dict[str, list[Any]] = {"number": [], "x": [], "y": []}
    for point in sheet.points:
        stored = page.cell(point.row + 1, point.column + 1).value
        assert stored == point_value(point, values)
        if point.y == "advance_corrected":
            shown[point.part].append(stored)
    assert shown["number"] == [None, 2, None, 4, None, None]
    assert shown["x"] == [900, 900, 900, 1800, 1800, 1800]
    assert shown["y"] == [8, 8, 8, 19, 19, 19]


def test_curves_are_a_scatter_over_their_helper_cells(book: Workbook) -> None:
    """The advance chart draws each curve over its own x and y cells."""
    (chart,) = book["Ignition"]._charts
    assert type(chart).__name__ == "ScatterChart"
    (place,) = sheet_of(layout(SHAPE), "Ignition").charts
    for series, line in zip(chart.series, place.chart.bars + place.chart.limits, strict=True):
        for reference, column in zip(
            (series.xVal, series.yVal), place.curve_columns[line.source], strict=True
        ):
            wanted = absolute("Ignition", place.row + 1, column, place.row + place.repeats)
            assert reference.numRef.f == wanted.replace("'", "")


def column_of(name: str, repeats: int) -> str:
    """The range of a repeated item as charts write it."""
    first, last = (layout(SHAPE).cells[f"{name}_{number}"] for number in (1, repeats))
    return absolute(first.sheet, first.row, first.column, last.row).replace("'", "")


def test_compression_chart_shows_readings_against_limits(book: Workbook) -> None:
    """Dry readings in limits and out of them, and wet ones, are columns from zero; each limit is a line from edge to edge."""
    (chart,) = book["Compression"]._charts
    (lines,) = (each for each in chart._charts if type(each).__name__ == "LineChart")
    inside, outside, wet = (each.val.numRef.f for each in chart.series)
    assert wet == column_of("compression_wet", 4)
    for series, formula in ((inside, 'IF(NOT({}),{},"")'), (outside, 'IF({},{},"")')):
        cells = book["Compression"][series.split("!")[1]]
        assert [row[0].value for row in cells] == [
            f'=IF(COUNT({name})=0,"",' + formula.format(f'mark_{name}="{OUT_OF_LIMITS}"', name) + ")"
            for name in (f"compression_dry_{n}" for n in range(1, 5))
        ]
    assert chart.y_axis.scaling.min == 0
    assert [(each.trendline.forward, each.trendline.backward) for each in lines.series] == [(0.5, 0.5)] * 2
    for series, limit in zip(lines.series, ("compression_low_line", "site_compression_max"), strict=True):
        cells = book["Compression"][series.val.numRef.f.split("!")[1]]
        assert [row[0].value for row in cells] == [f'=IF(COUNT({limit})=0,"",{limit})'] * 4


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


FONTS = Path("/usr/share/fonts/truetype/liberation")
PIXELS_PER_POINT = 96 / 72
#: Pixels that programs leave beside a text, and those of the digit that column widths count in.
SIDES, DIGIT = 6, 8


def text_pixels(text: str, points: float, bold: bool) -> float:
    """Width of a text in the metrics of Arial (Liberation Sans has the same)."""
    name = "LiberationSans-Bold.ttf" if bold else "LiberationSans-Regular.ttf"
    return ImageFont.truetype(str(FONTS / name), 100).getlength(text) * points * PIXELS_PER_POINT / 100


def lines_needed(text: str, width: float, points: float, bold: bool) -> int:
    """How many lines a wrapped text takes in a box of that many pixels."""
    lines, line = 1, ""
    for word in text.split():
        if line and text_pixels(f"{line} {word}", points, bold) > width:
            lines, line = lines + 1, word
        else:
            line = f"{line} {word}".strip()
    return lines


@pytest.mark.skipif(not FONTS.is_dir(), reason="needs the Liberation fonts, which come with LibreOffice")
@pytest.mark.parametrize("cylinders", [1, 4, 12])
def test_no_text_is_cut_off(cylinders: int) -> None:
    """Measured in the real typeface, every label, head, note, caution and help fits its box."""
    looks = {"title": (20, True), "heading": (12, True), "column head": (11, True), "row head": (11, True)}
    looks |= {style: (9, False) for style in ("head", "help", "cost", "column unit", "small label")}
    looks |= {style: (9, False) for style in ("caution", "below dial")}
    looks |= {style: (9, True) for style in ("small head", "short caution", "heading caution")}
    for sheet in layout(shape_for(cylinders, None, "us")).sheets:
        for caption in sheet.captions:
            points, bold = looks.get(caption.style, (11, False))
            columns = sheet.column_widths[caption.column : caption.last_column + 1]
            width = sum(characters * DIGIT + 5 for characters in columns) - SIDES
            text = f"Caution: {caption.text}" if caption.style == "caution" else caption.text
            # The list of a chart may go on below the last printed row, where a program's own height is.
            height = sheet.row_heights.get(caption.row, ROW_HEIGHT)
            room = max(1, int(height / (points * 1.2)))
            assert lines_needed(text, width, points, bold) <= room, (sheet.name, caption)


@pytest.mark.skipif(not FONTS.is_dir(), reason="needs the Liberation fonts, which come with LibreOffice")
@pytest.mark.parametrize("cylinders", [2, 4])
def test_no_word_of_the_form_is_cut_off(cylinders: int) -> None:
    """Each choice and each text that a printed formula holds fits its box; the next step ends before the job number."""
    shape = shape_for(cylinders, None, "metric")
    plan = layout(shape)
    shown = {sheet.name for sheet in SHOWN}
    for place in (each for each in plan.cells.values() if not each.working and each.sheet in shown):
        sheet = sheet_of(plan, place.sheet)
        boxed = sheet.column_widths[place.column : place.column + place.span]
        width = sum(characters * DIGIT + 5 for characters in boxed) - SIDES
        if isinstance(place.item, Field):
            texts = list(place.item.choices)
        else:
            formula = the_form.formula_of(place.item, shape, place.number)
            # What is only compared with is never shown.
            texts = [text for compared, text in re.findall('([=>]?)"([^"]*)"', formula) if not compared]
        bold = place.item.is_mark if not isinstance(place.item, Field) else False
        points = 9 if isinstance(place.item, Result) and place.item.small else 11
        room = int(sheet.row_heights[place.row] / (points * 1.2)) if place.wraps else 1
        for text in texts:
            assert lines_needed(text, width, points, bold) <= room, (place.name, text)
            assert all(text_pixels(word, points, bold) <= width for word in text.split()), (place.name, text)
        if place.name.startswith("next_"):
            head = sheet.column_widths[sheet.next_step[1] : sheet.job_number[1] - 1]
            head_width = sum(characters * DIGIT + 5 for characters in head)
            assert all(text_pixels(f"Next: {text}", 11, bold=True) <= head_width for text in texts), (
                place.name
            )


# --- drawn dials -----------------------------------------------------------------------------------------------------


def test_each_needle_has_its_dial(book: Workbook) -> None:
    """A picture beside each choice of what the needle does, read out by its words; drawn as the script draws it today."""
    pictures = book["Vacuum"]._images
    assert len(pictures) == len(NEEDLE)
    for choice in NEEDLE:
        shipped = Image.open(file_of(choice)).convert("L")
        drawn = dial(choice).convert("L")
        assert shipped.size == drawn.size
        apart = ImageStat.Stat(ImageChops.difference(shipped, drawn)).mean[0]
        assert apart < 4, choice
    ways = [file_of(choice).read_bytes() for choice in NEEDLE]
    assert len(set(ways)) == len(NEEDLE)


def test_dials_say_what_they_show(tmp_path: Path) -> None:
    """Each picture has the words that stand for it where it is not seen."""
    with zipfile.ZipFile(new_workbook(tmp_path / "form.xlsx")) as archive:
        drawings = [archive.read(name).decode() for name in archive.namelist() if "drawings/drawing" in name]
    said = {
        text
        for drawing in drawings
        for text in re.findall('descr="Dial of a vacuum gauge: ([^"]*)"', drawing)
    }
    assert said == set(NEEDLE)
