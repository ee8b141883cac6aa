"""Drive one headless LibreOffice; run by an interpreter that has LibreOffice's `uno` module, not by ours.

    stdin   one JSON request a line     {"op": "fill", "src": ..., ...}
    stdout  one JSON answer a line      {"ok": result}  or  {"failed": "one line"}

The first line written is {"ok": "ready"}, or the reason why the program did not start. LibreOffice ends with
this process: when stdin closes, the program is asked to close, and then killed by its id if it has not.
Standard library and `uno` only, so that the interpreter which the system supplies is enough.
"""

import json
import os
import re
import shutil
import subprocess
import sys
import time

import uno
from com.sun.star.beans import PropertyValue
from com.sun.star.connection import NoConnectException
from com.sun.star.container import NoSuchElementException
from com.sun.star.lang import DisposedException

EXPORT_FILTERS = {
    "xlsx": "Calc MS Excel 2007 XML",
    "ods": "calc8",
    "xls": "MS Excel 97",
    "csv": "Text - txt - csv (StarCalc)",
    "pdf": "calc_pdf_Export",
}
CONTENTS = (
    1 | 2 | 4 | 16
)  # com.sun.star.sheet.CellFlags: VALUE, DATETIME, STRING, FORMULA; formats and notes stay
START_SECONDS = 60
ONE_CELL = re.compile(
    r"=\$?(?:'(?P<quoted>(?:[^']|'')*)'|(?P<plain>[^'.]+))\.\$?(?P<column>[A-Z]+)\$?(?P<row>\d+)"
)
NOT_ONE_CELL = "defined name %r does not refer to one single cell"


def prop(name, value):
    """One PropertyValue."""
    item = PropertyValue()
    item.Name, item.Value = name, value
    return item


def url(path):
    """File URL of a path."""
    return uno.systemPathToFileUrl(os.path.abspath(path))


class Program:
    """One running soffice with its own profile folder."""

    def __init__(self, soffice, folder):
        pipe = "engine-check-%d" % os.getpid()
        self.process = subprocess.Popen(
            [
                soffice,
                "--headless",
                "--invisible",
                "--norestore",
                "--nologo",
                "--nodefault",
                "--nolockcheck",
                "--nofirststartwizard",
                "-env:UserInstallation=" + url(os.path.join(folder, "profile")),
                "--accept=pipe,name=%s;urp;" % pipe,
            ],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        context = self.context = self._connect("uno:pipe,name=%s;urp;StarOffice.ComponentContext" % pipe)
        self.desktop = context.ServiceManager.createInstanceWithContext("com.sun.star.frame.Desktop", context)

    def _connect(self, address):
        local = uno.getComponentContext()
        resolver = local.ServiceManager.createInstanceWithContext("com.sun.star.bridge.UnoUrlResolver", local)
        deadline = time.monotonic() + START_SECONDS
        while True:
            try:
                return resolver.resolve(address)
            except (NoConnectException, DisposedException):  # while it starts, it may let go of a first call
                if self.process.poll() is not None:
                    raise RuntimeError(
                        "LibreOffice ended with code %s while starting" % self.process.returncode
                    ) from None
                if time.monotonic() > deadline:
                    raise RuntimeError(
                        "LibreOffice did not answer within %d seconds" % START_SECONDS
                    ) from None
                time.sleep(0.05)

    def open(self, path, seen=False, reading=""):
        """The document; macros and links are not followed.

        Only one that is `seen` keeps what its window shows: frozen rows, hidden grid lines, the cell to begin at.
        `reading`: how a text file is to be read (separators, quotes and so on).
        """
        if not os.path.exists(path):
            raise RuntimeError("no such file: " + path)
        how = [prop("Hidden", not seen), prop("MacroExecutionMode", 0), prop("UpdateDocMode", 0)]
        if reading:
            how += [prop("FilterName", EXPORT_FILTERS["csv"]), prop("FilterOptions", reading)]
        document = self.desktop.loadComponentFromURL(url(path), "_blank", 0, tuple(how))
        if document is None or not document.supportsService("com.sun.star.sheet.SpreadsheetDocument"):
            raise RuntimeError("LibreOffice cannot open it as a spreadsheet: " + path)
        return document

    def close(self):
        """End the program."""
        try:
            self.desktop.terminate()
        except Exception:  # the bridge drops while the program goes: that is what was asked for
            pass
        try:
            self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.process.kill()


class Book:
    """An open document seen through its workbook-level defined names."""

    def __init__(self, document):
        self.document = document
        self.names = document.NamedRanges
        self._cells = {}
        self._first_contents = {}
        #: The names of cells that hold what was written here, of those that were empty.
        self._filled = set()
        self._listed = None
        # Otherwise each cell that is written works out all that follows from it; what is asked for is calculated at the end.
        document.enableAutomaticCalculation(False)

    def cell(self, name):
        """The single cell that a defined name refers to."""
        if name not in self._cells:
            self._cells[name] = self._listed_cell(name) if self._listed else self._named_cell(name)
        return self._cells[name]

    def _listed_cell(self, name):
        sheet, row, column = self._chosen([name])[name]
        return self.document.Sheets.getByName(sheet).getCellByPosition(column, row)

    def _named_cell(self, name):
        try:
            found = self.names.getByName(name).getReferredCells()
        except NoSuchElementException:
            raise RuntimeError("no defined name %r" % name) from None
        if found is None or not found.supportsService("com.sun.star.sheet.SheetCell"):
            raise RuntimeError(NOT_ONE_CELL % name)
        return found

    def write(self, values, typed):
        """Put each value into the cell of its name, as typing would."""
        for name, value in values.items():
            cell = self.cell(name)
            if name not in self._first_contents:
                self._first_contents[name] = (
                    cell.getFormula() if cell.getType().value != "TEXT" else [cell.getString()]
                )
            was_empty = self._first_contents[name] == "" and name not in self._filled
            if value is None and was_empty:
                continue
            put(cell, value, typed)
            (self._filled.discard if value is None else self._filled.add)(name)

    def restore(self, names):
        """Put back what stood in the cells of these names before the first write."""
        for name in names:
            cell, was = self._cells[name], self._first_contents[name]
            self._filled.discard(name)
            if isinstance(was, list):
                cell.setString(was[0])
            elif was:
                cell.setFormula(was)
            else:
                cell.clearContents(CONTENTS)

    def plan(self, names):
        """Where to read: a list of (block of cells, [(name, row, column, is formula)]), one block a sheet."""
        places = {}
        for name, (sheet, row, column) in self._chosen(names).items():
            places.setdefault(sheet, []).append((name, row, column))
        blocks = []
        for sheet, cells in places.items():
            top, left = min(c[1] for c in cells), min(c[2] for c in cells)
            block = self.document.Sheets.getByName(sheet).getCellRangeByPosition(
                left, top, max(c[2] for c in cells), max(c[1] for c in cells)
            )
            formulas = block.getFormulaArray()
            blocks.append(
                (
                    block,
                    [
                        (name, row - top, column - left, formulas[row - top][column - left].startswith("="))
                        for name, row, column in cells
                    ],
                )
            )
        return blocks

    def _chosen(self, names):
        if self._listed is None:
            self._listed = self._list_names()
        listed = self._listed
        if names is None:
            return {name: place for name, place in listed.items() if place}
        for name in names:
            if name not in listed:
                raise RuntimeError("no defined name %r" % name) from None
            if listed[name] is None:
                raise RuntimeError(NOT_ONE_CELL % name)
        return {name: listed[name] for name in names}

    def _list_names(self):
        """{defined name: (sheet, row, column), or None where it is not one cell}.

        The program writes its own list of names onto a sheet that is removed again: one call instead of
        several for each name, which would take seconds.
        """
        sheets = self.document.Sheets
        spare, last = "names %d" % os.getpid(), sheets.getCount()
        sheets.insertNewByName(spare, last)
        corner = uno.createUnoStruct("com.sun.star.table.CellAddress")
        corner.Sheet = last
        self.names.outputList(corner)
        sheet = sheets.getByIndex(last)
        cursor = sheet.createCursor()
        cursor.gotoEndOfUsedArea(False)
        rows = sheet.getCellRangeByPosition(0, 0, 1, cursor.getRangeAddress().EndRow).getFormulaArray()
        sheets.removeByName(spare)
        return {name: place_of(content) for name, content in rows if name}


def place_of(content):
    """(sheet, row, column) of `=$Sheet.$B$3`, counted from 0; None for anything else."""
    match = ONE_CELL.fullmatch(content)
    if not match:
        return None
    column = 0
    for letter in match["column"]:
        column = column * 26 + ord(letter) - 64
    sheet = match["quoted"].replace("''", "'") if match["quoted"] is not None else match["plain"]
    return sheet, int(match["row"]) - 1, column - 1


def put(cell, value, typed):
    """Number, text, date or nothing into a cell; `typed` text is parsed as the program parses typing."""
    if value is None:
        cell.clearContents(CONTENTS)
    elif isinstance(value, dict):
        cell.setFormula(
            value["date"]
        )  # an ISO date is read as a date in every locale, and takes a date format
    elif isinstance(value, (bool, int, float)):
        cell.setValue(float(value))
    elif typed:
        cell.FormulaLocal = value
    else:
        cell.setString(value)


def read(blocks):
    """Calculated values by name: number, text, None for an empty cell, {"error": "#DIV/0!"}."""
    result = {}
    for block, cells in blocks:
        data = block.getDataArray()
        for name, row, column, is_formula in cells:
            value = data[row][column]
            if value is None:
                value = {"error": block.getCellByPosition(column, row).getString()}
            elif value == "" and not is_formula:
                value = None
            result[name] = value
    return result


def store(document, out, kind):
    """Save a copy in the given format; the document keeps its own place."""
    document.storeToURL(url(out), (prop("FilterName", EXPORT_FILTERS[kind]), prop("Overwrite", True)))


def take_sheets(document, other):
    """Copy every sheet of another book behind those that are there."""
    for name in other.Sheets.getElementNames():
        document.Sheets.importSheet(other, name, document.Sheets.getCount())
    other.close(True)


def rearrange(program, document, steps):
    """Change the layout as a user might, in the order given."""
    sheets = document.Sheets
    for verb, sheet, *rest in steps:
        if verb == "take_sheets":
            take_sheets(document, program.open(sheet))
            continue
        if verb.startswith("insert_") and sheets.getByName(sheet).isProtected():
            raise RuntimeError(
                "sheet %r is protected: nothing can be inserted before it is unprotected" % sheet
            )
        if verb == "add_sheet":
            sheets.insertNewByName(sheet, sheets.getCount())
        elif verb == "move_sheet":
            sheets.moveByName(sheet, rest[0])
        elif verb == "rename_sheet":
            sheets.getByName(sheet).setName(rest[0])
        elif verb == "copy_sheet":
            sheets.copyByName(sheet, rest[0], sheets.getCount())
        elif verb == "hide_sheet":
            sheets.getByName(sheet).IsVisible = False
        elif verb == "unprotect":
            sheets.getByName(sheet).unprotect("")
        elif verb == "insert_rows":
            sheets.getByName(sheet).Rows.insertByIndex(*rest)
        elif verb == "insert_columns":
            sheets.getByName(sheet).Columns.insertByIndex(*rest)
        elif verb == "write":
            put(sheets.getByName(sheet).getCellRangeByName(rest[0]), rest[1], True)
        else:
            raise RuntimeError("unknown step " + verb)


def walk(program, document):
    """Cells that the Tab key leads to on each sheet, from its first cell on until the key comes round again."""
    service = "com.sun.star.frame.DispatchHelper"
    dispatcher = program.context.ServiceManager.createInstanceWithContext(service, program.context)
    controller, way = document.getCurrentController(), {}
    for sheet in document.Sheets:
        controller.setActiveSheet(sheet)
        # A cell that was selected would hold the cursor back; one that it went to does not.
        dispatcher.executeDispatch(controller.Frame, ".uno:GoToCell", "", 0, (prop("ToPoint", "$A$1"),))
        visited = []
        while True:
            # What Tab does on a protected sheet.
            dispatcher.executeDispatch(controller.Frame, ".uno:JumpToNextUnprotected", "", 0, ())
            at = document.getCurrentSelection().getRangeAddress()
            place = [at.StartRow, at.StartColumn]
            if place in visited or place == [0, 0]:
                break
            visited.append(place)
        way[sheet.Name] = visited
    return way


def answer(program, request):
    """Result of one request; the document is closed whatever happens."""
    op = request["op"]
    document = program.open(
        request["src"], seen=request.get("seen", False), reading=request.get("reading", "")
    )
    try:
        if op == "evaluate_many":
            return evaluate_many(Book(document), request["values"], request["names"], request["typed"])
        if op == "walk":
            return walk(program, document)
        if op == "read_names":
            blocks = Book(document).plan(request["names"])
            document.calculateAll()
            return read(blocks)
        if op == "fill":
            book = Book(document)
            book.write(request["values"], request["typed"])
            document.calculateAll()
            document.enableAutomaticCalculation(True)
        elif op == "rearrange":
            rearrange(program, document, request["steps"])
            document.calculateAll()
        elif op == "resave" and request["recalculate"]:
            document.calculateAll()
        store(document, request["out"], request["kind"])
        return None
    finally:
        document.close(True)


def evaluate_many(book, value_sets, names, typed):
    """One result a value set, each from the workbook as it was opened."""
    blocks, results, written = book.plan(names), [], set()
    book.document.calculateAll()
    for values in value_sets:
        book.restore(written - set(values))
        book.write(values, typed)
        written = set(values)
        book.document.calculate()
        results.append(read(blocks))
    return results


def main(soffice, folder):
    """Answer requests until stdin closes."""

    def say(message):
        sys.stdout.write(json.dumps(message) + "\n")
        sys.stdout.flush()

    try:
        program = Program(soffice, folder)
    except Exception as error:
        say({"failed": str(error)})
        return
    try:
        say({"ok": "ready"})
        for line in sys.stdin:
            try:
                say({"ok": answer(program, json.loads(line))})
            except DisposedException:
                say({"failed": "LibreOffice went away"})
                return
            except Exception as error:
                say({"failed": "%s: %s" % (type(error).__name__, " ".join(str(error).split()))})
    finally:
        program.close()
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
