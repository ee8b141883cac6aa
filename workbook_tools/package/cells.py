"""Cells as they stand in a workbook's sheets: elements by sheet part and address, and what is stored in them."""

from __future__ import annotations

import re

from lxml import etree

from workbook_tools.errors import UnusableFile
from workbook_tools.package.intake import too_much
from workbook_tools.package.parts import OFFICE_RELS, Package, q

#: No cell that anybody asks for is further down, and no workbook that is read holds more.
LAST_ROW, MOST_CELLS = 20_000, 200_000
#: The last row and column that a sheet can have (ECMA-376's programs, from memory).
_SHEET_ROWS, _LAST_COLUMN = 1_048_576, "XFD"
_CELLS = {q("c"), q("row"), q("sheetData")}
_IN_CELLS = {q("v"), q("is"), q("t"), q("r"), q("rPh")}
#: Type of a cell and the text of its value.
_Held = tuple[str, str | None]
ESCAPED = re.compile("_x([0-9A-Fa-f]{4})_")
_READS_AS_ESCAPE = re.compile("_(?=x[0-9A-Fa-f]{4}_)")
REFERENCE = re.compile(r"^=?'?((?:[^'!]|'')+)'?!\$?([A-Z]{1,3})\$?([0-9]{1,7})$")


def split_reference(text: str | None) -> tuple[str, str] | None:
    """Sheet title and address of a reference to one cell (`'Fuel and air'!$B$7`), None for anything else.

    A cell beyond the end of any sheet is none.
    """
    match = REFERENCE.match(text or "")
    if match is None:
        return None
    title, letters, row = match.groups()
    if not (0 < int(row) <= _SHEET_ROWS and (len(letters) < 3 or letters <= _LAST_COLUMN)):
        return None
    return title.replace("''", "'"), f"{letters}{int(row)}"


def _is_far_down(row: str) -> bool:
    return row.isdecimal() and (len(row) > 7 or int(row) > LAST_ROW)


def _content_of(cell: etree._Element) -> _Held:
    kind = cell.get("t", "n")
    if kind == "inlineStr":
        item = cell.find(q("is"))
        return kind, None if item is None else text_of(item)
    return kind, cell.findtext(q("v"))


def text_of(item: etree._Element) -> str:
    """The text of a string item, its formatted runs joined; phonetic hints are no part of it."""
    pieces = item.findall(q("t")) + item.findall(f"{q('r')}/{q('t')}")
    return unescaped("".join(piece.text or "" for piece in pieces))


def unescaped(text: str) -> str:
    """Text with the file format's escapes undone: `_x000D_` is the end of a line, `_x005F_` an underscore.

    Characters that no sheet can show (control characters, halves of a pair) stay written out: they would be lost in
    the store, and a terminal would obey them.
    """
    return ESCAPED.sub(_character, text).replace("\r\n", "\n").replace("\r", "\n")


def escaped(text: str) -> str:
    """Text as the file format holds it: `written_out`, and what would be read as an escape told apart from one."""
    return _READS_AS_ESCAPE.sub("_x005F_", written_out(text))


def written_out(text: str) -> str:
    """Text with one end of a line, and each character that no sheet can show in the form of an escape (`_x001B_`)."""
    one_end = text.replace("\r\n", "\n").replace("\r", "\n")
    return "".join(each if _can_be_shown(each) else f"_x{ord(each):04X}_" for each in one_end)


def _character(match: re.Match[str]) -> str:
    character = chr(int(match[1], 16))
    return character if character == "\r" or _can_be_shown(character) else match[0]


def _can_be_shown(character: str) -> bool:
    """Whether XML 1.0 can hold the character (section 2.2); a carriage return is only another end of a line."""
    code = ord(character)
    return character in "\t\n" or (
        code >= 32 and not 0xD800 <= code <= 0xDFFF and code not in (0xFFFE, 0xFFFF)
    )


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
        self._held: dict[str, dict[str, _Held]] = {}
        self._count = 0
        self._strings: list[str] | None = None

    def cells(self, title: str) -> dict[str, etree._Element]:
        """The `c` elements of a sheet by address, to be changed."""
        part = self.parts[title]
        if part not in self._cells:
            self._cells[part] = {cell.get("r", ""): cell for cell in self.package.xml(part).iter(q("c"))}
        return self._cells[part]

    def stored(self, title: str, address: str) -> float | bool | str | None:
        """What a cell holds, or the stored result of its formula: a number, truth value or text, None for nothing.

        A formula whose stored result is empty text gives ''. Spreadsheet errors come as their text. Raises UnusableFile
        where a number is none, or a text is not in the list of texts.
        """
        part = self.parts[title]
        if part in self._cells:
            cell = self._cells[part].get(address)
            held = None if cell is None else _content_of(cell)
        else:
            held = self._held_in(part).get(address)
        if held is None:
            return None
        kind, text = held
        if kind == "inlineStr":
            return text or ""
        if text is None:
            return "" if kind == "str" else None
        if kind == "b":
            return text.strip() in ("1", "true")
        try:
            if kind == "n":
                return float(text) if text else None
            return self._shared(int(text)) if kind == "s" else unescaped(text)
        except (ValueError, IndexError) as problem:
            raise UnusableFile(
                f"{self.package.label} is damaged: what {title}!{address} holds can't be read; take it from a backup."
            ) from problem

    def _held_in(self, part: str) -> dict[str, _Held]:
        """What the cells of a sheet hold, those with nothing in them left out."""
        if part not in self._held:
            found = self._held[part] = {}
            for element in self.package.elements(part, _CELLS, _IN_CELLS):
                if element.tag == q("sheetData") or (
                    element.tag == q("row") and _is_far_down(element.get("r", ""))
                ):
                    break
                if element.tag == q("c") and (len(element) or element.get("t")):
                    found[element.get("r", "")] = _content_of(element)
                    self._count_one(part)
        return self._held[part]

    def _count_one(self, part: str) -> None:
        self._count += 1
        if self._count > MOST_CELLS:
            raise too_much(self.package.label, part)

    def _shared(self, number: int) -> str:
        if self._strings is None:
            part = self.package.first_related(self.package.workbook, "sharedStrings")
            items = self.package.xml(part).iter(q("si")) if part else ()
            self._strings = [text_of(item) for item in items]
        if number < 0:
            raise IndexError(number)
        return self._strings[number]
