"""The named cells of a form as elements of its sheets' XML, to be filled without touching anything else."""

from __future__ import annotations

import re
from pathlib import Path

from lxml import etree

from workbook_tools.errors import BadRequest, NotOurWorkbook, UnusableFile
from workbook_tools.form.model import Shape, Value
from workbook_tools.generate.workbook import shape_for
from workbook_tools.package import OFFICE_RELS, Package, q
from workbook_tools.package_intake import read_file

REFERENCE = re.compile(r"^'?((?:[^'!]|'')+)'?!\$?([A-Z]{1,3})\$?([0-9]{1,7})$")


def open_cells(path: str | Path) -> NamedCells:
    """The named cells of a form. Raises NotOurWorkbook or UnusableFile where there are none."""
    return NamedCells(Package(read_file(path), str(path)), str(path))


class NamedCells:
    """Cells of a workbook by defined name; elements that are changed are written by `to_bytes`."""

    def __init__(self, package: Package, label: str) -> None:
        self.package = package
        self.label = label
        self._places = self._read_names()
        self._cells: dict[str, dict[str, etree._Element]] = {}
        self._strings: list[str] | None = None
        self.shape = self._read_shape()

    def __contains__(self, name: str) -> bool:
        return name in self._places

    def _read_names(self) -> dict[str, tuple[str, str]]:
        """Defined names that lead to one cell: name, (sheet part, address)."""
        root = self.package.xml(self.package.workbook)
        parts = {relation.id: relation.target for relation in self.package.relations(self.package.workbook)}
        sheets = {
            sheet.get("name", ""): parts.get(sheet.get(f"{{{OFFICE_RELS}}}id", ""), "") for sheet in root.iter(q("sheet"))
        }
        found = {}
        for defined in root.iter(q("definedName")):
            match = REFERENCE.match(defined.text or "")
            if match and defined.get("localSheetId") is None:
                part = sheets.get(match.group(1).replace("''", "'"), "")
                if part in self.package.names():
                    found[defined.get("name", "")] = (part, match.group(2) + match.group(3))
        return found

    def _read_shape(self) -> Shape:
        told = {name: self.value(name) if name in self else None for name in ("unit_system", "form_cylinders", "form_banks")}
        if not any(told.values()):
            raise NotOurWorkbook(f"{self.label} is no engine-check form; make one with: engine-check new")
        try:
            cylinders = int(float(str(told["form_cylinders"])))
            return shape_for(cylinders, str(told["form_banks"] or "") or None, str(told["unit_system"] or "us"))  # type: ignore[arg-type]
        except (ValueError, BadRequest) as problem:
            raise UnusableFile(f"{self.label}: what the form says of itself can't be read ({problem}); make a new form.") from problem

    def element(self, name: str) -> etree._Element:
        """The cell's element, made where the sheet has none yet; its sheet counts as changed."""
        part, address = self._places[name]
        self.package.touch(part)
        cell = self._sheet(part).get(address)
        return cell if cell is not None else self._make(part, address)

    def value(self, name: str) -> Value:
        """A cell's stored value: a number, a text, or None."""
        part, address = self._places[name]
        cell = self._sheet(part).get(address)
        if cell is None:
            return None
        kind = cell.get("t", "n")
        if kind == "inlineStr":
            return "".join(text.text or "" for text in cell.iter(q("t"))) or None
        stored = cell.findtext(q("v"))
        if stored is None or stored == "":
            return None
        if kind == "s":
            return self._shared(int(stored)) or None
        return float(stored) if kind == "n" else stored

    def to_bytes(self) -> bytes:
        """The workbook with the changed cells."""
        return self.package.to_bytes()

    def _sheet(self, part: str) -> dict[str, etree._Element]:
        if part not in self._cells:
            self._cells[part] = {cell.get("r", ""): cell for cell in self.package.xml(part).iter(q("c"))}
        return self._cells[part]

    def _make(self, part: str, address: str) -> etree._Element:
        letters, number = re.match(r"([A-Z]+)(\d+)", address).groups()  # type: ignore[union-attr]
        data = self.package.xml(part).find(q("sheetData"))
        row = next((row for row in data if row.get("r") == number), None)
        if row is None:
            place = sum(int(row.get("r", 0)) < int(number) for row in data)
            row = etree.Element(q("row"), r=number)
            data.insert(place, row)
        place = sum(_column(cell.get("r", "")) < _column(letters) for cell in row)
        cell = etree.Element(q("c"), r=address)
        row.insert(place, cell)
        self._cells[part][address] = cell
        return cell

    def _shared(self, number: int) -> str:
        if self._strings is None:
            part = self.package.first_related(self.package.workbook, "sharedStrings")
            items = self.package.xml(part).iter(q("si")) if part else ()
            self._strings = ["".join(text.text or "" for text in item.iter(q("t"))) for item in items]
        return self._strings[number]


def _column(address: str) -> int:
    number = 0
    for letter in re.sub(r"\d", "", address):
        number = 26 * number + ord(letter) - 64
    return number
