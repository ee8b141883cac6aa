"""Take steps in a LibreOffice, such as one that has the extension; run by an interpreter that has LibreOffice's `uno` module, not by ours.

    python3 office_steps_session.py SOFFICE FOLDER < steps.json > results.json

Each step is [verb, argument, ...], each result what it gave. The profile in FOLDER is used as it is found.
"""

import json
import os
import shutil
import sys
import threading
import time

import uno
import unohelper
from com.sun.star.awt import KeyEvent, XCallback
from office_session import Program, prop, store, url

COMMAND = "vnd.engine-check:check"
SECONDS = 120
KEY_A = 512  # com.sun.star.awt.Key.A
NOT_COUNTED = ("Findings",)


class InMainThread(unohelper.Base, XCallback):
    """Something done where the program itself handles a chosen menu entry; other threads' steps fall in between its own."""

    def __init__(self, act):
        self.act, self.result, self.failed, self.done = act, None, None, threading.Event()

    def notify(self, _):
        """Called by the program when it is idle."""
        try:
            self.result = self.act()
        except Exception as problem:
            self.failed = problem
        self.done.set()


class Steps:
    """One program, and the document that was opened last."""

    def __init__(self, program, profile):
        self.profile = profile
        self.program, self.document, self.open_documents, self.seen = program, None, [], {}
        self.context = program.context

    def service(self, name):
        """A service of the program."""
        return self.context.ServiceManager.createInstanceWithContext(name, self.context)

    def in_main_thread(self, act):
        """What it gave."""
        waiting = InMainThread(act)
        self.service("com.sun.star.awt.AsyncCallback").addCallback(waiting, None)
        if not waiting.done.wait(SECONDS):
            raise RuntimeError("no answer within %d seconds" % SECONDS)
        if waiting.failed:
            raise waiting.failed
        return waiting.result

    def dispatch(self, command, *options):
        """The result of a command given to the document's window."""
        helper, frame = (
            self.service("com.sun.star.frame.DispatchHelper"),
            self.document.CurrentController.Frame,
        )
        return self.in_main_thread(lambda: helper.executeDispatch(frame, command, "_self", 0, options))

    # --- steps ---

    def open(self, path, *options):
        """Open a workbook, or a new document of a kind, and stay in it; without a window if asked for so ("Hidden")."""
        where = path if path.startswith("private:") else url(path)
        self.document = self.program.desktop.loadComponentFromURL(
            where, "_blank", 0, tuple(prop(name, True) for name in options)
        )
        self.open_documents.append(self.document)
        return self.document is not None

    def check(self, quiet=True):
        """Choose the extension's entry; whether it was done, and its sentence."""
        told = self.dispatch(COMMAND, *((prop("Quiet", True),) if quiet else ()))
        return [told.State == 1, told.Result]

    def sheets(self):
        """The sheets in order, and the one that is shown."""
        return [list(self.document.Sheets.ElementNames), self.document.CurrentController.ActiveSheet.Name]

    def write(self, sheet, cell, text):
        """Type into a cell: a formula, or text that stays text."""
        where = self.document.Sheets.getByName(sheet).getCellRangeByName(cell)
        if text.startswith("="):
            where.setFormula(text)
        else:
            where.setString(text)

    def held(self, sheet, cell):
        """The text that a cell shows."""
        return self.document.Sheets.getByName(sheet).getCellRangeByName(cell).String

    def undo(self):
        """Take the last step back, if there is one that can be; whether there was."""
        manager = self.document.UndoManager
        possible = manager.isUndoPossible()
        if possible:
            manager.undo()
        return possible

    def enter(self, name, number):
        """A number into the cell of a name."""
        self.document.NamedRanges.getByName(name).getReferredCells().setValue(number)

    def save(self):
        """Save the document where it came from."""
        self.document.store()

    def close(self):
        """Close the document."""
        self.open_documents.pop().close(True)

    def wait_for(self, path):
        """Wait until a file is there that was not when it was last waited for; whether it came."""
        deadline = time.monotonic() + SECONDS
        while time.monotonic() < deadline:
            written = os.stat(path).st_mtime_ns if os.path.exists(path) else 0
            if written != self.seen.get(path, 0):
                self.seen[path] = written
                return True
            time.sleep(0.05)
        return False

    def rest(self, seconds):
        """Let some time go by."""
        time.sleep(seconds)

    def press(self, sheet, keys):
        """Type with the keys into the first place for an answer, and leave it at that: nothing is entered yet."""
        controller, toolkit = self.document.CurrentController, self.service("com.sun.star.awt.Toolkit")
        self.show(sheet)
        controller.select(self.answer_place(sheet)[0])
        controller.Frame.ComponentWindow.setFocus()
        for key in keys:
            event = KeyEvent()
            event.KeyChar, event.KeyCode, event.Source = (
                uno.Char(key),
                KEY_A + ord(key) - ord("a"),
                controller.Frame.ComponentWindow,
            )
            toolkit.keyPress(event)
            toolkit.keyRelease(event)
        self.in_main_thread(lambda: None)

    def answers(self, sheet):
        """What stands in the places for answers, and as what kind, by the hidden key of each."""
        page = self.document.Sheets.getByName(sheet)
        rows = [
            row
            for row in range(self.used(page).EndRow + 1)
            if page.getCellByPosition(0, row).String == "Answer"
        ]
        cells = {page.getCellByPosition(7, row).String: page.getCellByPosition(1, row) for row in rows}
        return {key: [cell.String, cell.Type.value] for key, cell in cells.items()}

    def answer_place(self, sheet):
        """The first place for an answer, and its key."""
        page = self.document.Sheets.getByName(sheet)
        row = next(
            row
            for row in range(self.used(page).EndRow + 1)
            if page.getCellByPosition(0, row).String == "Answer"
        )
        return page.getCellByPosition(1, row), page.getCellByPosition(7, row).String

    def answer(self, sheet, text):
        """Answer the first finding; its key."""
        cell, key = self.answer_place(sheet)
        cell.setString(text)
        return key

    def fixed(self):
        """Whether the head of the shown sheet stays when it is rolled."""
        return self.document.CurrentController.hasFrozenPanes()

    def name(self, name, content):
        """Give a name to a place."""
        self.document.NamedRanges.addNewByName(
            name, content, uno.createUnoStruct("com.sun.star.table.CellAddress"), 0
        )

    def names(self):
        """The workbook's names, and what they mean."""
        names = self.document.NamedRanges
        return {name: names.getByName(name).Content for name in names.ElementNames}

    def calculate(self):
        """Calculate everything anew."""
        self.document.calculateAll()

    def formulas(self):
        """All that was typed or calculated on every sheet but the findings."""
        found = {}
        for name in self.document.Sheets.ElementNames:
            if name not in NOT_COUNTED:
                sheet = self.document.Sheets.getByName(name)
                end = self.used(sheet)
                block = sheet.getCellRangeByPosition(0, 0, end.EndColumn, end.EndRow)
                found[name] = [block.getFormulaArray(), block.getDataArray()]
        return found

    def move(self, sheet, place):
        """Move a sheet's tab."""
        self.document.Sheets.moveByName(sheet, place)

    def show(self, sheet):
        """Turn to a sheet."""
        controller = self.document.CurrentController
        self.in_main_thread(lambda: controller.setActiveSheet(self.document.Sheets.getByName(sheet)))

    def protect(self, password):
        """Protect the order of the sheets."""
        self.document.protect(password)

    def links(self):
        """How many links lead out of the document, of every kind; and whether there is something to undo."""
        document = self.document
        kinds = (document.ExternalDocLinks, document.SheetLinks, document.AreaLinks, document.DDELinks)
        return [sum(kind.Count for kind in kinds), document.UndoManager.isUndoPossible()]

    def open_count(self):
        """How many documents the program has open."""
        return sum(1 for _ in self.program.desktop.Components)

    def used(self, sheet):
        """The range of a sheet that holds something."""
        cursor = sheet.createCursor()
        cursor.gotoEndOfUsedArea(False)
        return cursor.RangeAddress

    def store(self, out, kind):
        """Save a copy."""
        store(self.document, out, kind)

    def replace_files(self, name, content):
        """Put another content into all files of a name in the profile."""
        for folder, _, names in os.walk(self.profile):
            if name in names:
                with open(os.path.join(folder, name), "w", encoding="utf-8") as file:
                    file.write(content)

    def menus(self):
        """What extensions put into the menu bar: each menu with its titles and commands, and for which documents."""
        provider = self.service("com.sun.star.configuration.ConfigurationProvider")
        path = prop("nodepath", "/org.openoffice.Office.Addons/AddonUI/OfficeMenuBar")
        bar = provider.createInstanceWithArguments("com.sun.star.configuration.ConfigurationAccess", (path,))
        found = []
        for menu in map(bar.getByName, bar.ElementNames):
            entries = [menu.Submenu.getByName(name) for name in menu.Submenu.ElementNames]
            found.append([menu.Title, menu.Context, [[entry.Title, entry.URL] for entry in entries]])
        return found

    def left_in(self, folder):
        """What lies in a folder of the extension's own making."""
        return sorted(name for name in os.listdir(folder) if name.startswith("engine-check-"))


def main(soffice, folder):
    """Take all steps, and write what each gave; a step that failed ends it."""
    program = Program(soffice, folder)
    results = []
    try:
        steps = Steps(program, folder)
        for verb, *arguments in json.load(sys.stdin):
            results.append(getattr(steps, verb)(*arguments))
        for document in steps.open_documents:
            if document is not None:
                document.close(True)
    finally:
        program.close()
        shutil.rmtree(folder, ignore_errors=True)
    json.dump(results, sys.stdout)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
