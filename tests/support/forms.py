"""Blank forms for tests, and the cells of a form in a workbook that openpyxl has read."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from openpyxl.workbook import Workbook

from workbook_tools import new_workbook
from workbook_tools.language.model import Shape
from workbook_tools.science.engine_geometry import banks_text


def blank_form(path: Path, shape: Shape) -> Path:
    """A blank form put at `path`; that of each shape is made once and copied."""
    path.write_bytes(_blank(shape))
    return path


@cache
def _blank(shape: Shape) -> bytes:
    with TemporaryDirectory() as folder:
        form, banks = Path(folder, "form.xlsx"), banks_text(shape.banks)
        return new_workbook(form, cylinders=shape.cylinders, banks=banks, units=shape.units).read_bytes()


def cell_of(book: Workbook, name: str) -> Any:
    """The cell that a defined name of the workbook points to."""
    ((sheet, where),) = book.defined_names[name].destinations
    return book[sheet][where]
