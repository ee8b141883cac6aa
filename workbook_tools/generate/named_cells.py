"""The named cells of a form as elements of its sheets' XML, to be filled without touching anything else."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from lxml import etree

from workbook_tools.errors import BadRequest, NotOurWorkbook, UnusableFile
from workbook_tools.generate.workbook import shape_for
from workbook_tools.language.model import Shape, Value
from workbook_tools.package.cells import SheetCells
from workbook_tools.package.intake import read_file
from workbook_tools.package.parts import Package, q


def open_cells(path: str | Path) -> NamedCells:
    """The named cells of a form. Raises NotOurWorkbook or UnusableFile where there are none."""
    return NamedCells(Package(read_file(path), str(path)), str(path))


class NamedCells:
    """Cells of a workbook by defined name; elements that are changed are written by `to_bytes`."""

    def __init__(self, package: Package, label: str) -> None:
        self.package = package
        self.label = label
        self._sheets = SheetCells(package)
        self._places = self._sheets.names
        self.shape = self._read_shape()

    def __contains__(self, name: str) -> bool:
        return name in self._places

    def _read_shape(self) -> Shape:
        told = {
            name: self.value(name) if name in self else None
            for name in ("unit_system", "form_cylinders", "form_banks")
        }
        if not any(told.values()):
            raise NotOurWorkbook(f"{self.label} is no engine-check form; engine-check new makes one.")
        try:
            cylinders = int(float(str(told["form_cylinders"])))
            return shape_for(
                cylinders, str(told["form_banks"] or "") or None, str(told["unit_system"] or "us")
            )  # type: ignore[arg-type]
        except (ValueError, BadRequest) as problem:
            raise UnusableFile(
                f"{self.label}: what the form says of itself can't be read ({problem}); make a new form."
            ) from problem

    def element(self, name: str) -> etree._Element:
        """The cell's element, made where the sheet has none yet; its sheet counts as changed."""
        title, address = self._places[name]
        self.package.touch(self._sheets.parts[title])
        cell = self._sheets.cells(title).get(address)
        return cell if cell is not None else self._make(title, address)

    def with_formula(self, formula: str) -> Iterator[etree._Element]:
        """The cells of all sheets that hold this formula; their sheets count as changed."""
        for title, part in self._sheets.parts.items():
            for cell in self._sheets.cells(title).values():
                found = cell.find(q("f"))
                if found is not None and found.text == formula.removeprefix("="):
                    self.package.touch(part)
                    yield cell

    def value(self, name: str) -> Value:
        """A cell's stored value: a number, a text, or None."""
        stored = self._sheets.stored(*self._places[name])
        return None if stored == "" or isinstance(stored, bool) else stored

    def to_bytes(self) -> bytes:
        """The workbook with the changed cells."""
        return self.package.to_bytes()

    def _make(self, title: str, address: str) -> etree._Element:
        letters, number = re.match(r"([A-Z]+)(\d+)", address).groups()  # type: ignore[union-attr]
        data = self.package.xml(self._sheets.parts[title]).find(q("sheetData"))
        row = next((row for row in data if row.get("r") == number), None)
        if row is None:
            place = sum(int(row.get("r", 0)) < int(number) for row in data)
            row = etree.Element(q("row"), r=number)
            data.insert(place, row)
        place = sum(_column(cell.get("r", "")) < _column(letters) for cell in row)
        cell = etree.Element(q("c"), r=address)
        row.insert(place, cell)
        self._sheets.cells(title)[address] = cell
        return cell


def _column(address: str) -> int:
    number = 0
    for letter in re.sub(r"\d", "", address):
        number = 26 * number + ord(letter) - 64
    return number
