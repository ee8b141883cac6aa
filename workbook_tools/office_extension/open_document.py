"""The open workbook: a copy of it for the check, and the findings sheet brought into it. Given LibreOffice's objects.

store_copy(document, path)          the document as it stands now, as .xlsx
bring_in(document, checked)         the findings that the check wrote, in the place of an earlier sheet of them
"""

from __future__ import annotations

from contextlib import contextmanager, suppress
from typing import Any, Dict, Iterator, Tuple

import uno
from com.sun.star.beans import PropertyValue

from .installed_check import CheckFailed

SHEET_NAME = "Findings"
#: The name, of the sheet itself, by which the check knows its sheet again.
MARK = "placed_findings_sheet"
XLSX = "Calc MS Excel 2007 XML"
READ_ONLY = 16  # com.sun.star.beans.PropertyAttribute.READONLY
FORMULA = 16  # com.sun.star.sheet.CellFlags.FORMULA

Formulas = Dict[Tuple[str, int, int], str]


def prop(name: str, value: Any) -> Any:
    """One named option, as LibreOffice takes them."""
    return PropertyValue(Name=name, Value=value)


def refuse_unusable(document: Any) -> None:
    """Raise CheckFailed for what is no spreadsheet, or can't be given another sheet."""
    if document is None or not document.supportsService("com.sun.star.sheet.SpreadsheetDocument"):
        raise CheckFailed("This is no spreadsheet; open the job workbook and check it from there.")
    if document.isReadonly():
        raise CheckFailed(
            "This workbook is open read-only, so it can't be given the findings; choose Edit > Edit Mode, or save it under another name."
        )
    if document.isProtected():
        raise CheckFailed(
            "The sheets of this workbook are protected against being added to; take that off with Tools > Protect Spreadsheet Structure."
        )


def store_copy(document: Any, path: str) -> None:
    """Write the document as it stands now, saved or not, to a path; it keeps its own place and format."""
    # This also takes in what is still being typed in a cell, which storing alone leaves out.
    document.calculate()
    document.storeToURL(uno.systemPathToFileUrl(path), (prop("FilterName", XLSX), prop("Overwrite", True)))


def load_hidden(desktop: Any, path: str) -> Any:
    """Open a workbook without a window; nothing in it runs and no link is followed. Raises CheckFailed where it can't be."""
    options = (
        prop("Hidden", True),
        prop("ReadOnly", True),
        prop("MacroExecutionMode", 0),
        prop("UpdateDocMode", 0),
    )
    loaded = desktop.loadComponentFromURL(uno.systemPathToFileUrl(path), "_blank", 0, options)
    if loaded is None:
        raise CheckFailed(
            "LibreOffice could not open what was found; save the workbook and use engine-check check."
        )
    return loaded


def findings_sheet(document: Any) -> Any:
    """The sheet that a check wrote, None where there is none.

    Somebody may have copied it, and the mark with it: the one of the usual name counts, else the first.
    """
    sheets = [document.Sheets.getByIndex(index) for index in range(document.Sheets.Count)]
    marked = [sheet for sheet in sheets if sheet.NamedRanges.hasByName(MARK)]
    return min(marked, key=lambda sheet: sheet.Name != SHEET_NAME, default=None)


def bring_in(document: Any, checked: Any) -> str:
    """Put the findings sheet of a workbook of its own into the document, show it, and return its name.

    An earlier one is replaced where it stands, and what refers to it keeps referring to it. Raises CheckFailed where there
    is no such sheet; the document is then as it was.
    """
    earlier = findings_sheet(document)
    source = findings_sheet(checked)
    if source is None:
        raise CheckFailed(
            "engine-check wrote no findings sheet; make the extension anew with engine-check extension."
        )
    with _one_quiet_step(document, replaces=earlier is not None):
        sheets = document.Sheets
        place, name = (
            (earlier.RangeAddress.Sheet, earlier.Name) if earlier else (sheets.Count, _free_name(document))
        )
        formulas, names = (_formulas(document), _names(document)) if earlier else ({}, {})
        # The new one first: whatever goes wrong, there is a findings sheet.
        new = sheets.getByIndex(sheets.importSheet(checked, source.Name, place))
        if earlier:
            sheets.removeByName(name)
        if new.Name != name:
            new.Name = name
        if earlier:
            _put_back(document, formulas, names)
        _print_alike(checked, source, document, new)
        _show(document, new, checked, source)
    return new.Name


def _free_name(document: Any) -> str:
    """The usual name, or with a number behind it where somebody's own sheet has that; capitals make no difference."""
    taken = {name.casefold() for name in document.Sheets.ElementNames}
    name, number = SHEET_NAME, 1
    while name.casefold() in taken:
        number += 1
        name = f"{SHEET_NAME} ({number})"
    return name


@contextmanager
def _one_quiet_step(document: Any, replaces: bool) -> Iterator[None]:
    """No drawing in between, and no step of it to be undone on its own: half of it would be neither old nor new.

    What was done before can still be undone, and takes what is done here to a new sheet's print settings with it. Where a sheet
    is replaced undo starts afresh: it would put what was typed on the old one into whatever stands in that place now.
    """
    undo = document.UndoManager
    within = undo.isUndoPossible() and not replaces
    document.lockControllers()
    if within:
        undo.enterHiddenUndoContext()
    try:
        yield
    finally:
        if within:
            undo.leaveUndoContext()
        else:
            undo.clear()
        document.unlockControllers()


# --- what refers to an earlier sheet ---------------------------------------------------------------------------------


def _formulas(document: Any) -> Formulas:
    """Every formula by its place."""
    found = {}
    for sheet in map(document.Sheets.getByIndex, range(document.Sheets.Count)):
        for area in sheet.queryContentCells(FORMULA).RangeAddresses:
            block = sheet.getCellRangeByPosition(area.StartColumn, area.StartRow, area.EndColumn, area.EndRow)
            for row, formulas in enumerate(block.getFormulaArray(), area.StartRow):
                for column, formula in enumerate(formulas, area.StartColumn):
                    found[sheet.Name, row, column] = formula
    return found


def _names(document: Any) -> Dict[str, str]:
    names = document.NamedRanges
    return {name: names.getByName(name).Content for name in names.ElementNames}


def _put_back(document: Any, formulas: Formulas, names: Dict[str, str]) -> None:
    """Formulas and names as they were: removing a sheet spoils those that refer to it, and one of its name is there again."""
    for name, content in _names(document).items():
        if names.get(name, content) != content:
            document.NamedRanges.getByName(name).Content = names[name]
    now = _formulas(document)
    for (sheet, row, column), formula in formulas.items():
        # Formulas over several cells stand in braces and can't be written one by one.
        if now.get((sheet, row, column), formula) != formula and formula.startswith("="):
            document.Sheets.getByName(sheet).getCellByPosition(column, row).setFormula(formula)


# --- what does not come with a sheet ---------------------------------------------------------------------------------


def _print_alike(checked: Any, source: Any, document: Any, new: Any) -> None:
    """Paper, margins, head and foot, what is printed and which rows are repeated, as in the checked copy."""
    name = source.PageStyle
    styles = document.StyleFamilies.getByName("PageStyles")
    if not styles.hasByName(name):
        styles.insertByName(name, document.createInstance("com.sun.star.style.PageStyle"))
    was, style = checked.StyleFamilies.getByName("PageStyles").getByName(name), styles.getByName(name)
    for each in was.PropertySetInfo.Properties:
        if not each.Attributes & READ_ONLY:
            with suppress(Exception):  # a property may not be there in every build
                style.setPropertyValue(each.Name, was.getPropertyValue(each.Name))
    new.PageStyle = name
    areas = source.PrintAreas
    for area in areas:
        area.Sheet = new.RangeAddress.Sheet
    new.PrintAreas = areas
    new.TitleRows = source.TitleRows
    new.PrintTitleRows = source.PrintTitleRows


def _show(document: Any, new: Any, checked: Any, source: Any) -> None:
    """The sheet is the one that is seen, with its head fixed as in the checked copy and its grid hidden as ours always is."""
    controller, copied = document.CurrentController, checked.CurrentController
    new.IsVisible = True
    controller.setActiveSheet(new)
    if copied is None:
        return
    copied.setActiveSheet(source)
    if copied.hasFrozenPanes() and not controller.hasFrozenPanes():
        # Of a workbook just loaded the split is told one row too low; what is below it begins right behind the fixed rows.
        controller.freezeAtPosition(copied.FirstVisibleColumn, copied.FirstVisibleRow)
    # The property of the view is that of all sheets; the command is that of this one, which comes with its grid shown.
    context = uno.getComponentContext()
    helper = context.ServiceManager.createInstanceWithContext("com.sun.star.frame.DispatchHelper", context)
    helper.executeDispatch(controller.Frame, ".uno:ToggleSheetGrid", "", 0, ())
