"""Where each cell goes: complete, without overlaps, in the order of the work, and as the golden text says.

python -m tests.test_layout     rewrite tests/golden/layout_4.txt after a wanted change; read its difference
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.formula_names import names_in
from workbook_tools.form import the_form
from workbook_tools.form.all_sheets import SHEETS
from workbook_tools.language.model import Block, Field, Result, Shape, UnitSystem, cell_name
from workbook_tools.layout.layout import layout
from workbook_tools.layout.plan import Layout, SheetPlan, address
from workbook_tools.science.engine_geometry import default_banks

GOLDEN = Path(__file__).with_name("golden") / "layout_4.txt"
#: Columns go to XFD: up to three letters and digits are a cell's address, and R1C1 is the other style.
LOOKS_LIKE_A_CELL = re.compile(r"(?i)^([a-z]{1,3}\d+|r\d*c?\d*|c\d*)$")
VALID_NAME = re.compile(r"^[a-z_][a-z0-9_]*$")


def shape(cylinders: int, units: UnitSystem = "us") -> Shape:
    """A shape with the usual banks."""
    return Shape(cylinders, default_banks(cylinders), units)


SHAPES = [shape(n) for n in (1, 2, 3, 4, 6, 8, 12, 16)] + [shape(4, "metric")]
SHAPE_IDS = [f"{each.cylinders}-{each.units}" for each in SHAPES]


def layout_text(plan: Layout) -> str:
    """Sheet, cell, name and label of every named cell, in the order of sheets, rows and columns."""
    lines = []
    for sheet in plan.sheets:
        orientation = "landscape" if sheet.pages.landscape else "portrait"
        area = f"A1:{address(sheet.last_row, sheet.last_column)}"
        lines.append(f"[{sheet.name}] prints {area}, {orientation}")
        for place in sorted(sheet.places, key=lambda place: (place.row, place.column)):
            beside = " (working)" if place.working else ""
            where = address(place.row, place.column)
            lines.append(f"{where:<6} {place.name:<36} {place.label} / {place.row_label}{beside}")
        lines += [
            f"{address(cell.row, cell.column):<6} {cell.name}"
            for cell in plan.meta
            if cell.sheet == sheet.name
        ]
    for name, (first, last) in plan.ranges.items():
        corner = f"{address(first.row, first.column)}:{address(last.row, last.column)}"
        lines.append(f"{name} = {first.sheet}!{corner}")
    lines += [f"{each.name} = {each.sheet}!{address(each.row, each.column)} down" for each in plan.lists]
    return "\n".join(lines) + "\n"


def test_golden_layout_of_four_cylinders() -> None:
    """A four-cylinder form in US units stands where the golden text says."""
    assert layout_text(layout(shape(4))) == GOLDEN.read_text(encoding="utf-8")


@pytest.mark.parametrize("each", SHAPES, ids=SHAPE_IDS)
def test_every_cell_of_the_form_has_its_place(each: Shape) -> None:
    """Each input and result of the form has exactly one place, on the sheet that the form says."""
    places = [place for sheet in layout(each).sheets for place in sheet.places]
    assert Counter(place.name for place in places) == Counter(the_form.cells(each).keys())
    assert all(the_form.cells(each)[place.name].sheet.name == place.sheet for place in places)


def cells_taken(plan: Layout, sheet: SheetPlan) -> Iterator[tuple[int, int]]:
    """Every row and column on a sheet that something stands on."""
    for place in sheet.places:
        yield from ((place.row, column) for column in range(place.column, place.column + place.span))
    for caption in sheet.captions:
        yield from ((caption.row, column) for column in range(caption.column, caption.last_column + 1))
    yield from ((level.row, level.column) for level in sheet.levels)
    yield from ((point.row, point.column) for point in sheet.points)
    yield sheet.job_number
    yield sheet.next_step
    for chart in sheet.charts:
        rows = range(chart.row, chart.row + chart.rows)
        yield from ((row, column) for row in rows for column in range(chart.columns))
    yield from ((cell.row, cell.column) for cell in plan.meta if cell.sheet == sheet.name)
    for each in plan.lists:
        if each.sheet == sheet.name:
            yield from ((each.row + offset, each.column) for offset in range(len(each.choices)))


@pytest.mark.parametrize("each", SHAPES, ids=SHAPE_IDS)
def test_nothing_covers_anything_else(each: Shape) -> None:
    """No two of cells, boxes, texts, charts and lists share a cell."""
    plan = layout(each)
    for sheet in plan.sheets:
        twice = [address(*cell) for cell, times in Counter(cells_taken(plan, sheet)).items() if times > 1]
        assert not twice, f"{sheet.name}: {twice[:5]}"


@pytest.mark.parametrize("each", SHAPES, ids=SHAPE_IDS)
def test_print_area_holds_what_is_printed(each: Shape) -> None:
    """Inputs and results are inside the print area, workings beside it, and no text or chart is cut by it."""
    for sheet in layout(each).sheets:
        for place in sheet.places:
            inside = place.row <= sheet.last_row and place.column + place.span - 1 <= sheet.last_column
            assert inside != place.working, place.name
        for caption in sheet.captions:
            assert caption.column > sheet.last_column or caption.last_column <= sheet.last_column, caption
        assert all(chart.row + chart.rows - 1 <= sheet.last_row for chart in sheet.charts)


@pytest.mark.parametrize("each", SHAPES, ids=SHAPE_IDS)
def test_names_are_names_everywhere(each: Shape) -> None:
    """Names are valid, unlike any cell's address, and differ by more than capital letters."""
    plan = layout(each)
    names = [*plan.cells, *plan.ranges, *(cell.name for cell in plan.meta), *(ls.name for ls in plan.lists)]
    assert all(VALID_NAME.match(name) and not LOOKS_LIKE_A_CELL.match(name) for name in names)
    assert len({name.lower() for name in names}) == len(names)


def test_cell_addresses_are_told_from_names() -> None:
    """The pattern that this file holds names against knows addresses in both styles."""
    assert all(LOOKS_LIKE_A_CELL.match(text) for text in ("a1", "xfd7", "r1c1", "r", "c", "co2"))
    assert not any(LOOKS_LIKE_A_CELL.match(text) for text in ("gas_co2_1", "lambda_1", "dwell"))


@pytest.mark.parametrize("each", SHAPES, ids=SHAPE_IDS)
def test_columns_of_ranges_are_unbroken(each: Shape) -> None:
    """The cells of a repeated item stand directly below each other, and its range holds just these."""
    plan = layout(each)
    for name, (first, last) in plan.ranges.items():
        base = name.removeprefix("all_")
        column = [plan.cells[f"{base}_{number}"] for number in each.rows(the_form.repeats()[base])]
        assert (column[0], column[-1]) == (first, last)
        assert [place.row for place in column] == list(range(first.row, last.row + 1))
        assert {place.column for place in column} == {first.column}


def test_cylinders_stand_bank_by_bank() -> None:
    """In a table the cylinders of one bank stand below each other from front to rear, as on the engine, then those of the next."""
    engine = Shape(8, ((1, 3, 5, 7), (2, 4, 6, 8)))
    plan = layout(engine)
    for item in ("compression_dry", "compression_wet", "plug_look", "after_compression"):
        by_row = sorted(engine.numbers("cylinder"), key=lambda n: plan.cells[cell_name(item, n)].row)
        assert by_row == [1, 3, 5, 7, 2, 4, 6, 8]
        rows = [plan.cells[cell_name(item, n)].row for n in by_row]
        labels = {
            caption.row: caption.number
            for sheet in plan.sheets
            if sheet.name == plan.cells[f"{item}_1"].sheet
            for caption in sheet.captions
            if caption.style == "row number"
        }
        assert [labels[row] for row in rows] == by_row


@pytest.mark.parametrize("each", SHAPES, ids=SHAPE_IDS)
def test_every_name_in_a_formula_is_defined(each: Shape) -> None:
    """Formulas refer only to names that the layout has."""
    plan = layout(each)
    known = plan.cells.keys() | plan.ranges.keys()
    for cell in the_form.cells(each).values():
        if isinstance(cell.item, Result):
            lacking = names_in(the_form.formula_of(cell.item, each, cell.number)) - known
            assert not lacking, f"{cell.name}: {lacking}"


def test_tab_follows_the_work() -> None:
    """Going row by row over a sheet meets the inputs of its blocks in the order of the form."""
    plan = layout(shape(4))
    for sheet in SHEETS:
        wanted = [
            item.name
            for part in sheet.parts
            if isinstance(part, Block)
            for item in part.items
            if isinstance(item, Field)
        ]
        places = sorted((plan.cells[name] for name in wanted), key=lambda place: (place.row, place.column))
        assert [place.name for place in places] == wanted


@pytest.mark.parametrize("each", SHAPES, ids=SHAPE_IDS)
def test_inputs_can_be_found_by_their_labels(each: Shape) -> None:
    """Sheet, label and row label together name one input, so that a lost name can be made up for."""
    inputs = [place for place in layout(each).cells.values() if isinstance(place.item, Field)]
    labels = Counter((place.sheet, place.label, place.row_label) for place in inputs)
    assert [found for found, times in labels.items() if times > 1] == []


if __name__ == "__main__":
    GOLDEN.parent.mkdir(exist_ok=True)
    GOLDEN.write_text(layout_text(layout(shape(4))), encoding="utf-8")
    print(f"wrote {GOLDEN}")
