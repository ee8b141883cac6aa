"""The extension's part in LibreOffice: the menu entry leads here, and what came of it is shown or said.

A dispatch of COMMAND checks the workbook of its window. Where it goes wrong a box says why; with the option Quiet there
is no box. Either way the sentence is the result of the dispatch.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
import traceback

import unohelper
from com.sun.star.awt.MessageBoxType import ERRORBOX
from com.sun.star.frame import DispatchResultEvent, XDispatchProvider, XNotifyingDispatch
from com.sun.star.frame.DispatchResultState import FAILURE, SUCCESS
from com.sun.star.lang import XInitialization, XServiceInfo
from engine_check_office.installed_check import CheckFailed, run_check
from engine_check_office.open_document import bring_in, load_hidden, refuse_unusable, store_copy

COMMAND = "vnd.engine-check:check"
IMPLEMENTATION = "engine_check.office.Check"
SERVICES = ("com.sun.star.frame.ProtocolHandler",)
TITLE = "Engine check"
BUTTONS_OK = 1  # com.sun.star.awt.MessageBoxButtons.BUTTONS_OK
UNFINISHED = (
    "The check could not be finished, by a fault of this extension ({fault}); save the workbook, close it and use "
    "engine-check check, and please report it."
)


class Check(unohelper.Base, XServiceInfo, XInitialization, XDispatchProvider, XNotifyingDispatch):
    """What a window asks when the menu entry is chosen in it."""

    def __init__(self, context):
        self.context = context
        self.frame = None

    # XInitialization
    def initialize(self, arguments):
        """The window comes first."""
        if arguments:
            self.frame = arguments[0]

    # XDispatchProvider
    def queryDispatch(self, url, target, flags):
        """Itself for its one command."""
        return self if url.Complete == COMMAND else None

    def queryDispatches(self, requests):
        """Itself for each of several."""
        return tuple(
            self.queryDispatch(each.FeatureURL, each.FrameName, each.SearchFlags) for each in requests
        )

    # XDispatch, XNotifyingDispatch
    def dispatch(self, url, arguments):
        """Check, and say so where it went wrong."""
        self._act(arguments)

    def dispatchWithNotification(self, url, arguments, listener):
        """The same, with the sentence for who asked."""
        done, sentence = self._act(arguments)
        event = DispatchResultEvent()
        event.Source, event.State, event.Result = self, SUCCESS if done else FAILURE, sentence
        if listener is not None:
            listener.dispatchFinished(event)

    def addStatusListener(self, listener, url):
        """The entry is always there to be chosen; nothing is to be told of it."""

    def removeStatusListener(self, listener, url):
        """Nothing was kept."""

    def _act(self, arguments):
        """Whether it was done, and what to say of it."""
        try:
            return True, self._check()
        except CheckFailed as problem:
            sentence = str(problem)
        except Exception as problem:
            traceback.print_exc(file=sys.stderr)
            sentence = UNFINISHED.format(fault=type(problem).__name__)
        if not any(each.Name == "Quiet" and each.Value for each in arguments):
            self._say(sentence)
        return False, sentence

    def _check(self):
        controller = self.frame.getController() if self.frame else None
        document = controller.getModel() if controller else None
        refuse_unusable(document)
        progress = self.frame.createStatusIndicator()
        progress.start("Checking this workbook…", 2)
        # Readable by its owner alone; gone at the end, whatever happens.
        folder = os.path.realpath(tempfile.mkdtemp(prefix="engine-check-"))
        try:
            copy, findings = (os.path.join(folder, name) for name in ("workbook.xlsx", "findings.xlsx"))
            run_check(copy, findings, "This workbook", meanwhile=lambda: store_copy(document, copy))
            progress.setValue(1)
            checked = load_hidden(self._service("com.sun.star.frame.Desktop"), findings)
            try:
                sheet = bring_in(document, checked)
            finally:
                checked.close(True)
        finally:
            shutil.rmtree(folder, ignore_errors=True)
            progress.end()
        return f"What was found is on sheet {sheet}; save the workbook to keep it."

    def _say(self, sentence):
        toolkit = self._service("com.sun.star.awt.Toolkit")
        window = self.frame.getContainerWindow() if self.frame else None
        box = toolkit.createMessageBox(window, ERRORBOX, BUTTONS_OK, TITLE, sentence)
        try:
            box.execute()
        finally:
            box.dispose()

    def _service(self, name):
        return self.context.ServiceManager.createInstanceWithContext(name, self.context)

    # XServiceInfo
    def getImplementationName(self):
        """Its own name."""
        return IMPLEMENTATION

    def getSupportedServiceNames(self):
        """What it is to LibreOffice."""
        return SERVICES

    def supportsService(self, name):
        """Whether it is that."""
        return name in SERVICES


g_ImplementationHelper = unohelper.ImplementationHelper()
g_ImplementationHelper.addImplementation(Check, IMPLEMENTATION, SERVICES)
