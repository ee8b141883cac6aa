"""Cells as they stand in a workbook's sheets, without any library of workbooks: reading is most of a check.

SheetCells(package)     .content(title, address)   what was typed: a number, text, truth value, day, or a formula
                        .stored(title, address)    the result that a formula had when the workbook was saved
                        .cells(title)              the elements, to be changed

A sheet is gone through once, row by row, and no further than somebody asks.
"""

from __future__ import annotations

import re
from functools import cached_property, lru_cache
from typing import NamedTuple

from lxml import etree

from workbook_tools.errors import UnusableFile
from workbook_tools.package.days import (
    BUILT_IN_DAYS,
    BUILT_IN_SPANS,
    MAC_EPOCH,
    WINDOWS_EPOCH,
    Moment,
    moment_of,
    moment_of_text,
    shows_day,
    shows_span,
    span_of,
)
from workbook_tools.package.index import names_of_book
from workbook_tools.package.intake import too_much
from workbook_tools.package.parts import OFFICE_RELS, Package, is_on, q

#: No cell that anybody asks for is further down, and no workbook that is read holds more.
LAST_ROW, MOST_CELLS = 20_000, 200_000
#: The last row and column that a sheet can have (ECMA-376's programs, from memory).
_SHEET_ROWS, _COLUMNS, _LAST_COLUMN = 1_048_576, 16_384, "XFD"
_C, _ROW, _DATA, _V, _F, _IS = (q(tag) for tag in ("c", "row", "sheetData", "v", "f", "is"))
_T, _RUN_T = q("t"), f"{q('r')}/{q('t')}"
_ADDRESS = re.compile("([A-Z]{1,3})([0-9]{1,7})")
#: Kinds of cell that there are (ECMA-376 part 1, 18.18.11).
_KINDS = frozenset({"b", "d", "e", "inlineStr", "n", "s", "str"})
#: Longer references than the titles of sheets make them are somebody's attack, and are not kept in memory.
LONGEST_KEPT = 100
#: What a number in a cell that is shown as a day reads as, where no calendar has that day.
NO_SUCH_DAY = "#VALUE!"
ESCAPED = re.compile("_x([0-9A-Fa-f]{4})_")
_READS_AS_ESCAPE = re.compile("_(?=x[0-9A-Fa-f]{4}_)")
REFERENCE = re.compile(r"^=?'?((?:[^'!]|'')+)'?!\$?([A-Z]{1,3})\$?([0-9]{1,7})$")


def split_reference(text: str | None) -> tuple[str, str] | None:
    """Sheet title and address of a reference to one cell (`'Fuel and air'!$B$7`), None for anything else.

    A cell beyond the end of any sheet is none.
    """
    text = text or ""
    return _kept_reference(text) if len(text) <= LONGEST_KEPT else _reference(text)


def _reference(text: str) -> tuple[str, str] | None:
    match = REFERENCE.match(text)
    if match is None:
        return None
    title, letters, row = match.groups()
    if not (0 < int(row) <= _SHEET_ROWS and (len(letters) < 3 or letters <= _LAST_COLUMN)):
        return None
    return title.replace("''", "'"), f"{letters}{int(row)}"


# The forms of a folder, which are checked one after the other, have the same names in the same places.
_kept_reference = lru_cache(maxsize=8192)(_reference)


class NotTaken(Exception):
    """A cell is of a kind that the file format does not know."""


# Named tuples, which take a third of the time to make: a check reads some thousand cells.
class _Held(NamedTuple):
    """What one cell holds, as its XML says it; of a formula that was filled down, the first cell and its formula."""

    kind: str
    text: str | None
    formula: str | None
    filled_from: str | None
    style: str | None


class Formula(NamedTuple):
    """A formula in a cell, told from a text that merely begins with an equals sign.

    `filled_from`: the address of the cell whose formula it is and from which it was filled into this one, '' where it is its own.
    """

    text: str
    filled_from: str = ""


Content = float | bool | str | Moment | Formula | None


def text_of(item: etree._Element) -> str:
    """The text of a string item, its formatted runs joined; phonetic hints are no part of it."""
    if len(item) == 1 and item[0].tag == _T:
        return unescaped(item[0].text or "")
    pieces = item.findall(_T) + item.findall(_RUN_T)
    return unescaped("".join(piece.text or "" for piece in pieces))


def unescaped(text: str) -> str:
    """Text with the file format's escapes undone: `_x000D_` is the end of a line, `_x005F_` an underscore.

    Characters that no sheet can show (control characters, halves of a pair) stay written out: they would be lost in
    the store, and a terminal would obey them.
    """
    if "_x" in text:
        text = ESCAPED.sub(_character, text)
    return text.replace("\r\n", "\n").replace("\r", "\n") if "\r" in text else text


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
        properties = root.find(q("workbookPr"))
        from_1904 = properties is not None and is_on(properties.get("date1904"))
        self.epoch = MAC_EPOCH if from_1904 else WINDOWS_EPOCH
        self._cells: dict[str, dict[str, etree._Element]] = {}
        self._held: dict[str, dict[str, _Held]] = {}
        self._furthest: dict[str, tuple[int, int]] = {}
        self._count = 0

    @cached_property
    def names(self) -> dict[str, tuple[str, str]]:
        """Defined names of the whole workbook that lead to one cell: name, (sheet title, address)."""
        places = ((name, split_reference(text)) for name, text in names_of_book(self.package))
        return {name: place for name, place in places if place and place[0] in self.parts}

    def cells(self, title: str) -> dict[str, etree._Element]:
        """The `c` elements of a sheet by address, to be changed."""
        part = self.parts[title]
        if part not in self._cells:
            self._cells[part] = {cell.get("r", ""): cell for cell in self.package.xml(part).iter(_C)}
        return self._cells[part]

    def look_no_further(self, title: str, row: int, column: int) -> None:
        """Rows and columns, from 1, beyond which nothing is asked for; a sheet that was looked through before is again."""
        self._furthest[title] = (min(row, LAST_ROW), column)
        self._held.pop(self.parts[title], None)

    def contents(self, title: str) -> dict[str, Content]:
        """`content` of every cell of a sheet that holds anything, by address."""
        found: dict[str, Content] = {}
        for address, held in self._held_in(title).items():
            content = self._content(held, title, address)
            if content is not None:
                found[address] = content
        return found

    def content(self, title: str, address: str) -> Content:
        """What was typed into a cell, None for nothing; texts as they were typed, their escapes undone.

        Raises UnusableFile where a number, day or truth value is none, or a text is not in the list of texts; NotTaken
        where the kind of the cell is none that the file format has.
        """
        held = self._held_in(title).get(address)
        return None if held is None else self._content(held, title, address)

    def _content(self, held: _Held, title: str, address: str) -> Content:
        if held.formula is None:
            return self._typed(held, title, address)
        return Formula(held.formula, held.filled_from or "")

    def stored(self, title: str, address: str) -> float | bool | str | None:
        """What a cell holds, or the stored result of its formula: a number, truth value or text, None for nothing.

        A formula whose stored result is empty text gives ''. Spreadsheet errors come as their text. Raises UnusableFile
        where a number is none, or a text is not in the list of texts.
        """
        if self.parts[title] in self._cells:
            cell = self._cells[self.parts[title]].get(address)
            held = None if cell is None else _taken_apart(cell)
        else:
            held = self._held_in(title).get(address)
        if held is None:
            return None
        kind, text = held.kind, held.text
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
            raise self._damaged(title, address) from problem

    def _typed(self, held: _Held, title: str, address: str) -> Content:
        kind, text = held.kind, held.text
        if kind not in _KINDS:
            raise NotTaken(kind)
        if kind == "inlineStr" or not text:
            return text if kind == "inlineStr" else None
        try:
            if kind == "s":
                return self._shared(int(text))
            if kind == "n":
                return self._number(text, int(held.style or 0))
            if kind == "b":
                return {"1": True, "true": True, "0": False, "false": False}[text.strip()]
            return moment_of_text(text) if kind == "d" else unescaped(text)
        except (ValueError, LookupError, OverflowError) as problem:
            raise self._damaged(title, address) from problem

    def _number(self, text: str, style: int) -> Content:
        number = _number_of(text)
        if style not in self._day_styles:
            return number
        try:
            return span_of(number) if self._day_styles[style] else moment_of(number, self.epoch)
        except (ValueError, OverflowError):
            return NO_SUCH_DAY

    def _damaged(self, title: str, address: str) -> UnusableFile:
        return UnusableFile(
            f"{self.package.label} is damaged: what {title}!{address} holds can't be read; take it from a backup."
        )

    def _held_in(self, title: str) -> dict[str, _Held]:
        """What the cells of a sheet hold, those with nothing in them left out."""
        part = self.parts[title]
        if part not in self._held:
            self._held[part] = self._read(title, part, *self._furthest.get(title, (LAST_ROW, _COLUMNS)))
        return self._held[part]

    def _read(self, title: str, part: str, last_row: int, last_column: int) -> dict[str, _Held]:
        found: dict[str, _Held] = {}
        filled: dict[str | None, tuple[str, str]] = {}
        columns: dict[str, int] = {}
        row_number = 0
        for row in self.package.elements_until(part, _ROW, _DATA):
            told = row.get("r")
            row_number = row_number + 1 if told is None else _row_of(told)
            if row_number > last_row:
                break
            column = 0
            for cell in row.iterchildren(_C):
                address = cell.get("r")
                if address is None:
                    column += 1
                    address = f"{letters_of(column)}{row_number}"
                else:
                    letters = address.rstrip("0123456789")
                    if letters not in columns:
                        columns[letters] = self._column_of(address, title)
                    column = columns[letters]
                if column > last_column or not len(cell):
                    continue
                held = _taken_apart(cell)
                if held.filled_from is not None:
                    held = _first_of(filled, held, address)
                elif held.kind == "n" and held.text and held.formula is None:
                    # A number that is none is refused wherever it stands: no program opens such a workbook.
                    try:
                        _number_of(held.text)
                    except ValueError as problem:
                        raise self._damaged(title, address) from problem
                found[address] = held
                self._count += 1
            if self._count > MOST_CELLS:
                raise too_much(self.package.label, part)
        return found

    def _column_of(self, address: str, title: str) -> int:
        if _ADDRESS.fullmatch(address) is None:
            raise self._damaged(title, address)
        return column_of(address.rstrip("0123456789"))

    def _shared(self, number: int) -> str:
        if number < 0:
            raise IndexError(number)
        return self._strings[number]

    @cached_property
    def _strings(self) -> list[str]:
        part = self.package.of_workbook("sharedStrings")
        return [text_of(item) for item in (self.package.xml(part).iter(q("si")) if part else ())]

    @cached_property
    def _day_styles(self) -> dict[int, bool]:
        """Styles whose numbers are shown as a day or a time, and whether as a length of time."""
        part = self.package.of_workbook("styles")
        if part is None:
            return {}
        root = self.package.xml(part)
        codes = {
            int(each.get("numFmtId", "0")): each.get("formatCode", "")
            for each in root.iterfind(f"{q('numFmts')}/{q('numFmt')}")
        }
        days = {number for number, code in codes.items() if shows_day(code)} | (BUILT_IN_DAYS - codes.keys())
        spans = {number for number, code in codes.items() if shows_span(code)} | (
            BUILT_IN_SPANS - codes.keys()
        )
        formats = enumerate(
            int(each.get("numFmtId", "0")) for each in root.iterfind(f"{q('cellXfs')}/{q('xf')}")
        )
        return {style: number in spans for style, number in formats if number in days}


def _taken_apart(cell: etree._Element) -> _Held:
    kind, style = cell.get("t", "n"), cell.get("s")
    if len(cell) == 1 and kind != "inlineStr" and cell[0].tag == _V:
        # By far the most: a number, or a text of the list.
        return _Held(kind, cell[0].text, None, None, style)
    text, formula, filled_from = None, None, None
    for child in cell:
        tag = child.tag
        if tag == _V:
            text = child.text if kind != "inlineStr" else text
        elif tag == _F:
            formula = "=" + (child.text or "")
            filled_from = child.get("si") if child.get("t") == "shared" else None
        elif tag == _IS and kind == "inlineStr":
            text = text_of(child)
    return _Held(kind, text, formula, filled_from, style)


def _first_of(filled: dict[str | None, tuple[str, str]], held: _Held, address: str) -> _Held:
    """A cell of a formula that was filled down, with the first cell of it and what stands there."""
    if held.filled_from in filled:
        formula, first = filled[held.filled_from]
        return held._replace(formula=formula, filled_from=first)
    if held.formula not in (None, "="):
        filled[held.filled_from] = held.formula, address
    return held._replace(filled_from=None)


def _number_of(text: str) -> float:
    return float(text) if "." in text or "E" in text or "e" in text else int(text)


def _row_of(text: str) -> int:
    """The number of a row; a program in a thousand writes it as 3.0."""
    number = float(text)
    if not number.is_integer():  # nor is what is not finite
        raise ValueError(text)
    return int(number)


@lru_cache(maxsize=None)
def letters_of(column: int) -> str:
    """The letters of a column, counted from 1."""
    text = ""
    while column:
        column, rest = divmod(column - 1, 26)
        text = chr(65 + rest) + text
    return text


def column_of(letters: str) -> int:
    """The column of its letters, counted from 1."""
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number
