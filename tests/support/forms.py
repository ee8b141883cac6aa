"""Finding the cells of a form in a workbook that openpyxl has read."""

from __future__ import annotations

from typing import Any

from openpyxl.workbook import Workbook


def cell_of(book: Workbook, name: str) -> Any:
    """The cell that a defined name of the workbook points to."""
    ((sheet, where),) = book.defined_names[name].destinations
    return book[sheet][where]
