"""Cells as they stand in a workbook's sheets: elements by sheet part and address, and what is stored in them."""

from __future__ import annotations

import re

from lxml import etree

from workbook_tools.package import OFFICE_RELS, Package, q

REFERENCE = re.compile(r"^=?'?((?:[^'!]|'')+)'?!\$?([A-Z]{1,3})\$?([0-9]{1,7})$")


def split_reference(text: str | None) -> tuple[str, str] | None:
    """Sheet title and address of a reference to one cell (`'Fuel and air'!$B$7`), None for anything else."""
    match = REFERENCE.match(text or "")
    return (match.group(1).replace("''", "'"), match.group(2) + match.group(3)) if match else None


class SheetCells:
    """The cells of a workbook's sheets, each sheet's XML looked through once, when it is first asked for."""

    def __init__(self, package: Package) -> None:
        self.package = package
        parts = {relation.id: relation.target for relation in package.relations(package.workbook)}
        known = set(package.names())
        root = package.xml(package.workbook)
        self.hidden = tuple(
            sheet.get("name", "")
            for sheet in root.iter(q("sheet"))
            if sheet.get("state", "visible") != "visible"
        )
        named = {
            sheet.get("name", ""): parts.get(sheet.get(f"{{{OFFICE_RELS}}}id", ""), "")
            for sheet in root.iter(q("sheet"))
        }
        self.parts = {title: part for title, part in named.items() if part in known}
        self._cells: dict[str, dict[str, etree._Element]] = {}
        self._strings: list[str] | None = None

    def cells(self, title: str) -> dict[str, etree._Element]:
        """The `c` elements of a sheet by address."""
        part = self.parts[title]
        if part not in self._cells:
            self._cells[part] = {cell.get("r", ""): cell for cell in self.package.xml(part).iter(q("c"))}
        return self._cells[part]

    def stored(self, title: str, address: str) -> float | bool | str | None:
        """What a cell holds, or the stored result of its formula: a number, truth value or text, None for nothing.

        A formula whose stored result is empty text gives ''. Spreadsheet errors come as their text.
        """
        cell = self.cells(title).get(address)
        if cell is None:
            return None
        kind = cell.get("t", "n")
        if kind == "inlineStr":
            return "".join(text.text or "" for text in cell.iter(q("t")))
        text = cell.findtext(q("v"))
        if text is None:
            return "" if kind == "str" else None
        if kind == "n":
            return float(text) if text else None
        if kind == "b":
            return text.strip() in ("1", "true")
        return self._shared(int(text)) if kind == "s" else text

    def _shared(self, number: int) -> str:
        if self._strings is None:
            part = self.package.first_related(self.package.workbook, "sharedStrings")
            items = self.package.xml(part).iter(q("si")) if part else ()
            self._strings = ["".join(text.text or "" for text in item.iter(q("t"))) for item in items]
        return self._strings[number]
