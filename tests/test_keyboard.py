"""The form filled by keyboard alone: the Tab key leads from entry to entry in the order of the work, with no detour.

The way is walked by LibreOffice's own command for the Tab key on protected sheets.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.office import Office
from workbook_tools import new_workbook
from workbook_tools.form import the_form
from workbook_tools.language.model import Block, Field, Shape, Sheet, Table, cell_name
from workbook_tools.layout.layout import layout
from workbook_tools.science.engine_geometry import default_banks

ENGINES = (1, 8)


def order_of_work(sheet: Sheet, shape: Shape) -> Iterator[str]:
    """The entries of a sheet: step by step, in tables line by line."""
    for part in sheet.parts:
        if isinstance(part, Block):
            yield from (item.name for item in part.items if isinstance(item, Field) and not item.locked)
        elif isinstance(part, Table):
            columns = [item for item in part.columns if isinstance(item, Field) and not item.locked]
            for number in shape.rows(part.per):
                yield from (cell_name(item.name, number) for item in columns)


@pytest.mark.parametrize("cylinders", ENGINES)
def test_tab_leads_through_the_work(office: Office, tmp_path: Path, cylinders: int) -> None:
    """On every sheet, Tab visits each entry once, in the order of the form, and nothing else."""
    book = new_workbook(tmp_path / "form.xlsx", cylinders=cylinders)
    shape = Shape(cylinders, default_banks(cylinders))
    names = {(place.sheet, place.row, place.column): name for name, place in layout(shape).cells.items()}
    ways = office.walk(book)
    for sheet in the_form.SHEETS:
        visited = [
            names.get((sheet.name, row, column), "nothing to type") for row, column in ways[sheet.name]
        ]
        assert visited == list(order_of_work(sheet, shape)), sheet.name


@pytest.mark.parametrize("cylinders", ENGINES)
def test_enter_leads_down_a_column_of_readings(cylinders: int) -> None:
    """The cells of one column of a table stand right below each other: dry on all cylinders, then the next column."""
    shape = Shape(cylinders, default_banks(cylinders))
    cells = layout(shape).cells
    for sheet in the_form.SHEETS:
        for table in (part for part in sheet.parts if isinstance(part, Table)):
            for item in (column for column in table.columns if isinstance(column, Field)):
                column = [cells[cell_name(item.name, number)] for number in shape.rows(table.per)]
                assert len({place.column for place in column}) == 1, item.name
                assert [place.row - column[0].row for place in column] == list(range(len(column))), item.name
