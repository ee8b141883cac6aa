"""The library's opinion of every sheet that the tests have read.

Falling back to the library is a failure in any test, and with ENGINE_CHECK_TWO_READERS=1 each sheet that is read,
wherever in the tests, is read by both and compared cell by cell:

    ENGINE_CHECK_TWO_READERS=1 python -m pytest -n auto
"""

from __future__ import annotations

import os
import zipfile

import pytest

from workbook_tools.package.cells import Content, SheetCells
from workbook_tools.read import other_reader, workbook
from workbook_tools.specs import book

by_library = other_reader.contents_by_library
ours = other_reader.contents_of


def alike(one: dict[str, Content], other: dict[str, Content]) -> None:
    """Every cell is there in both, and holds the same; a number as it is written, not merely as large."""
    differ = {
        a: (one.get(a), other.get(a))
        for a in one.keys() | other.keys()
        if repr(one.get(a)) != repr(other.get(a))
    }
    assert not differ


def both(sheets: SheetCells, title: str, last_row: int, last_column: int) -> dict[str, Content]:
    """What our reader finds, when the library finds the same or can't read it."""
    found = ours(sheets, title, last_row, last_column)
    if sheets.package.find("xl/styles.xml") is None:
        return found  # the library looks nowhere else, and takes days for numbers
    try:
        theirs = by_library(sheets.package, title, last_row, last_column)
    except (ValueError, KeyError, AttributeError, TypeError, IndexError, OSError, zipfile.BadZipFile):
        return found
    alike(found, theirs)
    return found


def no_fallback(*_: object) -> dict[str, Content]:
    pytest.fail("a sheet was left to the library")


def watch_both_readers() -> None:
    """Have it failed wherever the library is needed, and compared where that is asked for."""
    other_reader.contents_by_library = no_fallback
    if os.environ.get("ENGINE_CHECK_TWO_READERS"):
        workbook.contents_of = book.contents_of = both
