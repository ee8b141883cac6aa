"""How much of a workbook openpyxl may be given to read: it takes its time for every element, wherever that leads.

refuse_too_long_lists(package, sheets)   before the workbook is opened: texts, names, styles, sheets
SheetAllowance(package).use(part)        before a sheet is read: its elements, all sheets together
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from workbook_tools.errors import UnusableFile
from workbook_tools.package.cells import SheetCells
from workbook_tools.package.intake import CONTENT_TYPES, too_much
from workbook_tools.package.parts import Package

#: Elements that take ten seconds at most to read: of names and styles, and of texts, which are read faster.
MOST_ELEMENTS, TEXTS_FOR_ONE = 150_000, 5
#: Elements of the form's sheets, where one of 16 cylinders has 11,000; rows, which may all be styled, are no matter beside them.
MOST_IN_SHEETS, MOST_ROWS = 600_000, 1_150_000
_ROW = re.compile(rb"<(?:[^\s<>/]+:)?row[\s/>]")
#: Where openpyxl looks, whatever leads there, and the kinds of part that it reads wherever they are.
_READ_ANYWAY = ("xl/styles.xml", "docProps/core.xml", "docProps/custom.xml", CONTENT_TYPES)
_READ_KINDS = ("sharedStrings", "chartsheet", "drawing+xml", "chart+xml")


def refuse_too_long_lists(package: Package, sheets: SheetCells) -> None:
    """Raises UnusableFile where the parts that are read whole hold far more than a form, or two sheets are one part."""
    if len(set(sheets.parts.values())) < len(sheets.parts):
        raise UnusableFile(
            f"{package.label} is damaged: two of its sheets are the same part; take it from a backup."
        )
    weight = 0.0
    for part in sorted(set(_read_whole(package))):
        elements = package.weigh(part)
        weight += elements / TEXTS_FOR_ONE if "sharedStrings" in package.content_type(part) else elements
        if weight > MOST_ELEMENTS:
            raise too_much(package.label, part)


class SheetAllowance:
    """What the sheets that are read may hold together."""

    def __init__(self, package: Package) -> None:
        self._package = package
        self._elements = 0
        self._parts: list[str] = []

    def use(self, part: str) -> None:
        """Take a sheet from the allowance. Raises UnusableFile where it is used up."""
        self._parts.append(part)
        self._elements += self._package.weigh(part)
        if self._elements > MOST_IN_SHEETS and self._is_used_up():
            raise too_much(self._package.label, part)

    def _is_used_up(self) -> bool:
        # Rows are counted only where all elements together are too many.
        contents = map(self._package.bytes_of, self._parts)
        rows = sum(sum(1 for _ in _ROW.finditer(content)) for content in contents)
        return self._elements - rows > MOST_IN_SHEETS or rows > MOST_ROWS


def _read_whole(package: Package) -> Iterator[str]:
    yield package.workbook
    rels = package.rels_of(package.workbook)
    if rels:
        yield rels
    yield from (found for name in _READ_ANYWAY if (found := package.find(name)))
    yield from (
        name for name in package.names() if any(kind in package.content_type(name) for kind in _READ_KINDS)
    )
