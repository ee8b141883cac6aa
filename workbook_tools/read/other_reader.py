"""What the cells of a sheet hold: by our own reader, by the library where a cell is of a kind that we don't know."""

from __future__ import annotations

import io
import warnings
from itertools import islice

from workbook_tools.package.cells import Content, Formula, NotTaken, SheetCells, unescaped
from workbook_tools.package.parts import Package


def contents_of(sheets: SheetCells, title: str, last_row: int, last_column: int) -> dict[str, Content]:
    """All cells of a sheet that hold anything, by address; none further down or right than the last row and column."""
    sheets.look_no_further(title, last_row, last_column)
    try:
        found = sheets.contents(title)
        for address, content in found.items():
            if isinstance(content, Formula) and content.filled_from:
                found[address] = filled_in(content, address)
        return found
    except NotTaken:
        return contents_by_library(sheets.package, title, last_row, last_column)


def filled_in(formula: Formula, address: str) -> Formula:
    """A formula that was filled down from another cell, as it is in this one."""
    # Some programs alone write such formulas; without them a check does not wait for the library.
    from openpyxl.formula.translate import Translator

    return Formula(Translator(formula.text, formula.filled_from).translate_formula(address))


def contents_by_library(package: Package, title: str, last_row: int, last_column: int) -> dict[str, Content]:
    """All cells of a sheet that hold anything, by address, as openpyxl reads them."""
    # It takes half a second to import, and is needed in one workbook of very many.
    from openpyxl import load_workbook

    # openpyxl shows a strict workbook as having no sheets.
    data = package.usual_twin() if package.strict else package.data
    with warnings.catch_warnings():
        # Parts that openpyxl would lose on saving don't concern a reader.
        warnings.simplefilter("ignore")
        book = load_workbook(io.BytesIO(data), read_only=True, keep_links=False)
        # The last row is not waited for: behind it openpyxl would build every validation and highlight.
        rows = islice(book[title].iter_rows(max_row=last_row, max_col=last_column), last_row)
        return {
            cell.coordinate: Formula(str(getattr(cell.value, "text", cell.value)))
            if cell.data_type == "f"
            else unescaped(cell.value)
            if isinstance(cell.value, str)
            else cell.value
            for row in rows
            for cell in row
            if cell.value is not None
        }
