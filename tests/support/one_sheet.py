"""One sheet of a workbook as openpyxl reads it, in a fraction of the time that all of them take.

    sheet_in(path, "Findings")["B4"].value

The other sheets are there, by their names and in their order, and empty.
"""

from __future__ import annotations

import io
from pathlib import Path
from unittest import mock

from openpyxl import load_workbook
from openpyxl.worksheet._reader import WorksheetReader
from openpyxl.worksheet.worksheet import Worksheet


def sheet_in(source: bytes | Path, title: str, *, data_only: bool = False) -> Worksheet:
    """A sheet of a workbook, given by its path or its bytes. Raises KeyError where there is none of that title."""

    class ThatOne(WorksheetReader):
        def bind_all(self) -> None:
            if self.ws.title == title:
                super().bind_all()

    with mock.patch("openpyxl.reader.excel.WorksheetReader", ThatOne):
        book = load_workbook(io.BytesIO(source) if isinstance(source, bytes) else source, data_only=data_only)
    return book[title]
