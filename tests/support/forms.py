"""Blank forms for tests, and the cells of a form in a workbook that openpyxl has read."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from openpyxl.workbook import Workbook

from workbook_tools import new_workbook
from workbook_tools.language.model import UnitSystem
from workbook_tools.science.engine_geometry import banks_text, default_banks


def blank_form(path: Path, cylinders: int = 4, banks: str = "", units: UnitSystem = "us") -> Path:
    """A blank form put at `path`; each kind is made once and copied."""
    path.write_bytes(_blank(cylinders, banks or banks_text(default_banks(cylinders)), units))
    return path


@cache
def _blank(cylinders: int, banks: str, units: UnitSystem) -> bytes:
    with TemporaryDirectory() as folder:
        made = new_workbook(Path(folder, "form.xlsx"), cylinders=cylinders, banks=banks, units=units)
        return made.read_bytes()


def cell_of(book: Workbook, name: str) -> Any:
    """The cell that a defined name of the workbook points to."""
    ((sheet, where),) = book.defined_names[name].destinations
    return book[sheet][where]
